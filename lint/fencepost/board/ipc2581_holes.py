"""The holes of an IPC-2581 board: which of its lists counts, between which layers they go, plated or not."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from fencepost.board.roles import drill_cure, whole_file
from fencepost.board.sources import Drilled
from fencepost.readers.artwork import DrillHits
from fencepost.readers.ipc2581 import Reading
from fencepost.readers.ipc2581.holes import Holes, Place
from fencepost.readers.ipc2581.labelling import unlisted
from fencepost.readers.ipc2581.layers import Layer
from fencepost.readers.ipc2581.order import Order
from fencepost.readers.ipc2581.reading import Step
from fencepost.settings.model import DrillClaim

_LAYERS_IN_NAME = re.compile(r"(?<!\d)([1-9]\d?) ?- ?([1-9]\d?)$")
"""How drill layers are called that go from one copper layer to another (common practice, no source)."""

_KEY_DIGITS = 4

USES = (("ViaDrill",), ("MechanicalDrill",))
"""Aperture functions of drill tools (The Gerber Layer Format Specification, Ucamco, 2024.05)."""

Spans = NDArray[np.int32]
"""First and last copper layer of each hole, (n, 2)."""


def holes_of(reading: Reading, step: Step, order: Order, claims: Mapping[str, DrillClaim]) -> tuple[Holes, Spans]:
    """All holes of the board, each once.

    Lists that say between which layers their holes go come before those that do not, and both before the holes that
    pad stacks have. Raises InputError for a layer that is unknown, and for drill layers that hold no holes.
    """
    _refuse_drawn(reading, step)
    listed, defined = step.holes.holes(), step.defined.holes()
    holes = listed.followed_by(defined)
    found = [_span(reading, order, place, claims) for place in holes.places]
    spans = np.array([span for span, _ in found], dtype=np.int32).reshape(-1, 2)[holes.place]
    told = np.array([said for _, said in found], dtype=bool)[holes.place]
    told[len(listed) :] = False
    implied = np.arange(len(holes)) >= len(listed)

    kept = told & _firsts(told, holes.start, holes.end, holes.diameter, holes.plating, spans)
    if told.sum() > kept.sum():
        reading.notes.add("a hole is listed twice", int(holes.offset[told & ~kept][0]), int(told.sum() - kept.sum()))
    for more, note in ((~told & ~implied, ""), (implied, "a hole is taken from the pad stack of its pads")):
        rows = np.flatnonzero(more)
        alone = np.zeros(len(holes), dtype=bool)
        alone[rows] = unlisted(holes.middle[rows], holes.middle[kept])
        fresh = _firsts(alone, holes.start, holes.end, holes.diameter)
        kept |= fresh
        if note and fresh.any():
            reading.notes.add(note, int(holes.offset[fresh][0]), int(fresh.sum()))
    widened = kept & (holes.plating == 0)
    widened[widened] = ~unlisted(holes.middle[widened], holes.middle[kept & (holes.plating == 1)])
    if widened.any():
        text = "a hole that is not plated, drilled where a plated one is, is left out: barrels are taken to be whole"
        reading.notes.add(text, int(holes.offset[widened][0]), int(widened.sum()))
    kept &= ~widened
    return holes.take(kept), spans[kept]


def _refuse_drawn(reading: Reading, step: Step) -> None:
    """A drill layer of shapes and no holes holds them in a form that is not read."""
    drilled = {place.layer for place in step.holes.places}
    for name, offset in step.drawn.items():
        layer = reading.layers[name]
        if name not in drilled and layer.function == "DRILL":
            raise reading.source.error(offset, f"the drill layer {name!r} holds shapes and no holes")
        reading.notes.add("a shape on a drill or rout layer is no hole and is left out", offset)


def _span(
    reading: Reading, order: Order, place: Place, claims: Mapping[str, DrillClaim]
) -> tuple[tuple[int, int], bool]:
    """First and last copper layer of the holes of a list, and whether anyone said so."""
    whole = (1, len(order.names))
    layer = reading.layers.get(place.layer)
    claim = claims.get(place.layer)
    if claim is not None and layer is not None:
        return claim.span or whole, True
    if layer is not None:
        _check_name(reading, layer, order)
    said = place.span or (layer.span if layer is not None else None)
    if said is None or said == ("", ""):
        if layer is not None:
            text = "a drill layer does not say between which layers it goes: it is taken to go through the board"
            reading.notes.add(text, layer.offset)
        return whole, False
    try:
        span = order.between(said, reading.layers)
    except KeyError as error:
        text = f"holes go to the layer {error.args[0]!r}, which is no copper layer of the file"
        cure = drill_cure(place.layer) if layer is not None else ""
        raise reading.source.error(layer.offset if layer else 0, text, cure) from None
    return span, True


def _check_name(reading: Reading, layer: Layer, order: Order) -> None:
    """Raise InputError where a drill layer's name counts more copper layers than the file holds."""
    match = _LAYERS_IN_NAME.search(layer.name)
    if match is None:
        return
    first, last = map(int, match.groups())
    if first < last and last > len(order.names):
        said = (
            f"the drill layer {layer.name!r} goes to copper layer {last} by its name, but the file holds "
            f"{len(order.names)} ({', '.join(order.names)}): inner layers were left out; export all copper layers"
        )
        raise reading.source.error(layer.offset, said, drill_cure(layer.name))


def _firsts(wanted: NDArray[np.bool_], *columns: NDArray[np.generic]) -> NDArray[np.bool_]:
    """Of the wanted rows, the first of each kind."""
    rows = np.flatnonzero(wanted)
    table = np.column_stack([np.asarray(column, dtype=np.float64)[rows] for column in columns])
    _, first = np.unique(np.round(table, _KEY_DIGITS), axis=0, return_index=True)
    kept = np.zeros(len(wanted), dtype=bool)
    kept[rows[first]] = True
    return kept


def uses_of(holes: Holes, pinned: NDArray[np.bool_], first: int) -> NDArray[np.int32]:
    """What each hole is for, as an index into a table that has USES from its row `first` on; -1 for what is open.

    Where a file calls some holes vias, the other plated ones are for pins, or for neither.
    """
    via, mechanical = first, first + 1
    other = mechanical if holes.via.any() else -1
    uses = np.select([holes.via, (holes.plating == 1) & ~pinned], [via, other], -1)
    return np.asarray(uses, dtype=np.int32)


def drilled(
    reading: Reading,
    holes: Holes,
    spans: Spans,
    uses: NDArray[np.int32],
    claims: Mapping[str, DrillClaim],
    values: tuple[tuple[str, ...], ...],
) -> Iterator[Drilled]:
    """The holes as lists of one plating and one span each. Raises InputError for a hole whose plating nobody says."""
    if not len(holes):
        raise whole_file(reading.source, "the file has no holes; without holes nothing can be said of the ground")
    claimed = np.array([_claimed_plating(place, claims) for place in holes.places], dtype=np.int8)[holes.place]
    plating = np.where(holes.plating < 0, claimed, holes.plating)
    if (plating < 0).any():
        row = int(np.argmax(plating < 0))
        name = holes.places[holes.place[row]].layer
        said = "the hole does not say whether it is plated"
        raise reading.source.error(int(holes.offset[row]), said, drill_cure(name) if name else "")
    groups, group = np.unique(np.column_stack([-plating, spans]), axis=0, return_inverse=True)
    for number, (plated, first, last) in enumerate(groups):
        rows = np.flatnonzero(group.ravel() == number)
        own = holes.take(rows)
        hits = DrillHits(
            source=reading.source,
            attributes={},
            start=own.start,
            end=own.end,
            diameter=own.diameter,
            function=uses[rows],
            net=own.net,
            pin=np.full(len(rows), -1, dtype=np.int32),
            offset=own.offset,
            values=values,
        )
        yield Drilled(hits, bool(plated), int(first), int(last))


def _claimed_plating(place: Place, claims: Mapping[str, DrillClaim]) -> int:
    return int(claims[place.layer].plated) if place.layer in claims else -1
