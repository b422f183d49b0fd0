"""What findings were judged by, as shapes for reports that draw."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.checking.evidence import Area, Circle, Heat, Line, Shape, Spot
from fencepost.names import tail
from fencepost.physics.cavity import Cavity
from fencepost.signals.fences import END, Gap
from fencepost.signals.leavings import LOOK_MM
from fencepost.signals.runs import Run
from fencepost.signals.ties import Ties
from fencepost.signals.traces import Traces, traces_of
from fencepost.signals.transitions import Reference, Stretch, Transition

AROUND_MM = 1.5
FARTHEST_MM = 4.0
"""Of reference copper that is shown around a via: beyond the nearest tie, within these bounds."""

STEP_MM = 0.02
"""By how much a drawn outline may be off."""

CELLS = 48
"""Of a field that is shown, along its longer side."""


def transition_shapes(
    board: Board, transition: Transition, references: Sequence[Reference], ties: Ties, nearest: tuple[int, float] | None
) -> tuple[Shape, ...]:
    """A layer change: the via, the traces, their references (the ones that are spoken of first), the nearest tie."""
    x, y = board.holes.centre[transition.hole].tolist()
    away = nearest[1] if nearest else 0.0
    radius = min(max(away + 0.5, AROUND_MM), FARTHEST_MM)
    shapes: list[Shape] = []
    for stretch, role in ((transition.before, "before"), (transition.after, "after")):
        # Those spoken of first; the others by their share.
        own = sorted(stretch.references, key=lambda one: one not in references)
        shapes += (
            Circle(x, y, radius, f"reference {role}", f"L{one.layer}", board.nets[board.pieces.net[one.piece]].name)
            for one in own
        )
        shapes += _trace(board, transition.hole, stretch, role)
    shapes.append(Spot(x, y, "signal via", label=tail(board.nets[transition.net].name)))
    if nearest is not None:
        to_x, to_y = ties.centre[nearest[0]].tolist()
        shapes.append(Line(((x, y), (to_x, to_y)), "distance", label=f"{nearest[1]:.2f} mm"))
        shapes.append(Spot(to_x, to_y, "tie", label="nearest tie"))
    return tuple(shapes)


def _trace(board: Board, hole: int, stretch: Stretch, role: str) -> Iterator[Line]:
    """The traces that leave a hole on a layer, over the stretch that references are looked for on."""
    traces = traces_of(board)
    for node in traces.nodes_of(hole, stretch.layer):
        segments = _within(traces, node, board.holes.diameter[hole] / 2 + LOOK_MM)
        if segments:
            ends = traces.xy[traces.ends[segments]]
            merged = shapely.line_merge(shapely.multilinestrings(shapely.linestrings(ends)))
            width = float(np.median(traces.width[segments]))
            for line in shapely.get_parts(shapely.simplify(merged, STEP_MM)):
                yield Line(_points(shapely.get_coordinates(line)), role, f"L{stretch.layer}", width=width)


def _within(traces: Traces, node: int, reach: float) -> list[int]:
    """The segments with copper that begin no farther than `reach` along the traces from a node."""
    away = {node: 0.0}
    queue, found = [node], dict[int, None]()
    for here in queue:
        for segment in traces.segments_at(here).tolist():
            if segment in found:
                continue
            other = traces.other_end(segment, here)
            if traces.feature[segment] >= 0:
                found[segment] = None
            onward = away[here] + float(traces.length[segment])
            if other not in away and onward < reach:
                away[other] = onward
                queue.append(other)
    return list(found)


def fence_shapes(
    path: Run, centre: NDArray[np.float64], gaps: Iterable[Gap], widest: Gap, endless: bool = False
) -> tuple[Shape, ...]:
    """Gaps along a path, each from post to post or from the path's own point where there is none.

    `centre` (p, 2) are the posts. `endless` is a round, on which stations may lie beyond its end.
    """
    own = list(gaps)
    begin = min(gap.begin for gap in own) - 3 * AROUND_MM
    end = max(gap.end for gap in own) + 3 * AROUND_MM
    if endless:
        stations = np.arange(begin, end, AROUND_MM / 3) % path.length
    else:
        stations = path.station[(path.station > begin) & (path.station < end)]
        stations = np.concatenate([[max(begin, 0.0)], stations, [min(end, path.length)]])
    shapes: list[Shape] = [Line(_points(path.at(stations)), "fence", f"L{path.layer}" if path.layer > 0 else "")]
    posts: set[int] = set()
    for gap in sorted(own, key=lambda one: one is widest):
        ends = [
            path.at(station % path.length if endless else station) if post == END else centre[post]
            for post, station in ((gap.before, gap.begin), (gap.after, gap.end))
        ]
        role = "widest" if gap is widest else "gap"
        shapes.append(Line(_points(np.array(ends)), role, label=f"{gap.width:.2f} mm"))
        posts |= {gap.before, gap.after} - {END}
    shapes += (Spot(float(centre[post, 0]), float(centre[post, 1]), "tie") for post in sorted(posts))
    return tuple(shapes)


def bare_shapes(
    centre: Iterable[float], radius: float, areas: Iterable[shapely.Polygon], tie: Iterable[float]
) -> tuple[Shape, ...]:
    """The largest circle without a tie, what is too far from any, and the tie that the circle touches."""
    (x, y), (to_x, to_y) = centre, tie
    return (
        *area_shapes(areas, "bare"),
        Circle(x, y, radius, "empty", label=f"no tie within {radius:.2f} mm"),
        Line(((x, y), (to_x, to_y)), "distance"),
        Spot(to_x, to_y, "tie"),
    )


def area_shapes(areas: Iterable[shapely.Geometry], role: str) -> Iterator[Area]:
    """Areas by their outlines."""
    for area in shapely.get_parts(shapely.simplify(list(areas), STEP_MM)):
        rings = tuple(_points(shapely.get_coordinates(ring)) for ring in shapely.get_rings(area))
        if rings:
            yield Area(rings, role)


def field_shape(cavity: Cavity) -> Heat:
    """The field of the first resonance, in coarse cells."""
    field = np.abs(cavity.fields[0])
    step = max(1, math.ceil(max(field.shape) / CELLS))
    rows, columns = (step * math.ceil(size / step) for size in field.shape)
    padded = np.zeros((rows, columns))
    padded[: field.shape[0], : field.shape[1]] = field
    coarse = padded.reshape(rows // step, step, columns // step, step).max(axis=(1, 3))
    cell = float(cavity.x[1] - cavity.x[0]) if len(cavity.x) > 1 else 1.0
    strengths = tuple(tuple(round(float(value), 3) for value in row) for row in coarse)
    corner = (float(cavity.x[0]) - cell / 2, float(cavity.y[0]) - cell / 2)
    return Heat(*corner, step * cell, strengths)


def _points(xy: NDArray[np.float64]) -> tuple[tuple[float, float], ...]:
    return tuple((x, y) for x, y in xy.tolist())
