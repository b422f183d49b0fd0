"""Block apertures and step and repeat, expanded into the features that they stand for."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
from numpy.typing import NDArray

from fencepost.frozen import dataclass
from fencepost.limits import Limits
from fencepost.readers.gerber.features import Features, joined
from fencepost.readers.gerber.interpreter import IMAGE, Program, Repeat
from fencepost.source import SourceFile


@dataclass(frozen=True, eq=False)
class _Content:
    """What a container holds: rows of the features, the block that each one flashes or 0, and repeats, each with the
    number of rows before it. `features`, `points` and `nesting` are what it comes to when expanded."""

    rows: NDArray[np.int64]
    flashed: NDArray[np.int64]
    repeats: list[tuple[int, Repeat]]
    features: int
    points: int
    nesting: int


def expand(
    source: SourceFile,
    program: Program,
    features: Features,
    run: NDArray[np.int64],
    container: NDArray[np.int64],
    limits: Limits,
) -> Features:
    """The features of the image, with those of blocks and repeats in the place of their flashes, in drawing order.

    A block's features are mirrored, rotated and scaled as its flash says, and change polarity where the flash is clear.
    They keep their own attributes and take the flash's where they have none. A flashed feature has the flash's offset,
    a repeated one that of its own operation. Raises InputError, before anything is expanded, where a limit is passed.
    """
    if not program.closed:
        return features
    contents = _contents(source, program, features, run, container, limits)
    needed = {IMAGE}
    for number in [IMAGE, *(number for number, _ in reversed(program.closed))]:
        if number in needed:
            content = contents[number]
            needed.update(np.unique(content.flashed[content.flashed > 0]).tolist())
            needed.update(repeat.child for _, repeat in content.repeats)
    opened = dict(program.closed)
    total = sum(contents[number].features for number in needed)
    if total > limits.features:
        largest = max(needed - {IMAGE}, key=lambda number: contents[number].features)
        message = f"expected at most {limits.features} features in all blocks, not {total} (limit features)"
        raise source.error(opened[largest], message)
    expanded: dict[int, Features] = {}
    for number in [*(number for number, _ in program.closed if number in needed), IMAGE]:
        expanded[number] = _expanded(source, program, contents[number], features, expanded, limits)
    return expanded[IMAGE]


def _contents(
    source: SourceFile,
    program: Program,
    features: Features,
    run: NDArray[np.int64],
    container: NDArray[np.int64],
    limits: Limits,
) -> dict[int, _Content]:
    """Every container's content, each after those that it uses. Raises InputError where one passes a limit."""
    block_of_tool = np.array([aperture.block or 0 for aperture, _ in program.tools.entries] + [0])
    order = np.argsort(container, kind="stable")
    bounds = np.searchsorted(container[order], np.arange(len(program.closed) + 2))
    repeats_in: dict[int, list[Repeat]] = defaultdict(list)
    for repeat in program.repeats:
        repeats_in[repeat.parent].append(repeat)
    contents: dict[int, _Content] = {}
    for number, offset in [*program.closed, (IMAGE, -1)]:
        rows = order[bounds[number] : bounds[number + 1]]
        flashed = block_of_tool[features.tool[rows]]
        repeats = [(int(np.searchsorted(run[rows], repeat.run)), repeat) for repeat in repeats_in[number]]
        plain = rows[flashed == 0]
        blocks, times = np.unique(flashed[flashed > 0], return_counts=True)
        used = [(contents[block], count) for block, count in zip(blocks.tolist(), times.tolist(), strict=True)]
        used += [(contents[repeat.child], repeat.columns * repeat.rows) for _, repeat in repeats]
        content = _Content(
            rows,
            flashed,
            repeats,
            features=len(plain) + sum(inner.features * count for inner, count in used),
            points=int(features.count[plain].sum()) + sum(inner.points * count for inner, count in used),
            nesting=1 + max((inner.nesting for inner, _ in used), default=0),
        )
        for value, most, name in (
            (content.features, limits.features, "features"),
            (content.points, limits.points, "points"),
            (content.nesting - 1, limits.nesting, "nesting"),
        ):
            if value > most:
                used_at = [*features.offset[rows[flashed > 0]].tolist(), *(repeat.offset for _, repeat in repeats)]
                place = offset if offset >= 0 else min(used_at, default=0)
                raise source.error(place, f"expected at most {most} {name} when expanded, not {value} (limit {name})")
        contents[number] = content
    return contents


def _expanded(
    source: SourceFile,
    program: Program,
    content: _Content,
    features: Features,
    expanded: dict[int, Features],
    limits: Limits,
) -> Features:
    """One container's features, given those of the containers that it uses."""
    # Sorting is stable, so that a repeat stays before the flash that it comes before.
    flashes = [(int(at), None) for at in np.flatnonzero(content.flashed)]
    steps = sorted([*content.repeats, *flashes], key=lambda step: step[0])
    pieces: list[Features] = []
    done = 0
    for at, repeat in steps:
        if at > done:
            pieces.append(features.take(content.rows[done:at]))
        if repeat is None:
            block = expanded[int(content.flashed[at])]
            pieces.append(_flashed(source, program, features, int(content.rows[at]), block))
            done = at + 1
        else:
            if len(expanded[repeat.child]):
                pieces.append(expanded[repeat.child].repeated(_steps(repeat)))
            done = at
    pieces.append(features.take(content.rows[done:]))
    whole = joined(pieces)
    if np.abs(whole.xy).max(initial=0.0) > limits.reach:
        feature = int(np.searchsorted(whole.first, np.argmax(np.abs(whole.xy).max(axis=1)), side="right")) - 1
        message = f"expected coordinates within {limits.reach:g} mm when expanded (limit reach)"
        raise source.error(int(whole.offset[feature]), message)
    return whole


def _steps(repeat: Repeat) -> NDArray[np.float64]:
    """The displacements of a repeat, first along y and then along x."""
    column, row = np.divmod(np.arange(repeat.columns * repeat.rows), repeat.rows)
    return np.stack([column * repeat.step[0], row * repeat.step[1]], axis=1)


def _flashed(source: SourceFile, program: Program, features: Features, row: int, block: Features) -> Features:
    """A block's features as one flash of it places them."""
    aperture, transform = program.tools.entries[features.tool[row]]
    renumbered = np.full(len(program.tools.entries) + 1, -1, np.int32)
    offset = int(features.offset[row])
    for index in np.unique(block.tool[block.tool >= 0]).tolist():
        inner, inner_transform = program.tools.entries[index]
        try:
            renumbered[index] = program.tools.index(inner, transform.after(inner_transform))
        except ValueError as error:
            raise source.error(offset, f"expected {error}") from None
    placed = block.placed(
        transform,
        at=features.xy[features.first[row]],
        toggled=not features.dark[row],
        tool=renumbered[block.tool],
        offset=offset,
    )
    function = program.values.get(aperture.function, -1) if aperture.function else -1
    return placed.labelled(
        net=int(features.net[row]),
        pin=int(features.pin[row]),
        component=int(features.component[row]),
        function=function,
    )
