"""What must hold of generated files. Each takes a case and fails with an AssertionError where it does not hold."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from typing import Protocol

import numpy as np
import shapely

from fencepost.board.from_ipc2581 import sources_from_ipc2581
from fencepost.board.parts import parts_of
from fencepost.board.sources import Sources
from fencepost.readers.artwork import Artwork, DrillHits, Kind
from fencepost.readers.drill.excellon import read_drill
from fencepost.readers.gerber import read_gerber
from fencepost.readers.testnet.netlist import Netlist
from fencepost.readers.testnet.reader import read_testnet
from fencepost.settings.model import Settings
from fencepost.source import SourceFile
from fuzz.drill_files import DrillCase
from fuzz.gerber_files import SQUARE_MM, GerberCase
from fuzz.ipc2581_files import Ipc2581Case
from fuzz.sound import check_artwork, check_hits, check_netlist, check_sources
from fuzz.targets import READ, REFUSED, Target, outcome
from fuzz.testnet_files import TestnetCase

AREA = 0.004
"""Relative: arcs are chords within 1 µm here, and circles drawn out to a width have 96 sides, 0.07 % less area."""

ROUNDING_MM2 = 1e-3
STEP_MM = 2e-6


class Case(Protocol):
    """A generated file."""

    @property
    def data(self) -> bytes: ...

    @property
    def broken(self) -> str: ...

    def without(self, number: int) -> bytes: ...


def is_read_or_refused(case: Case, read: Callable[[bytes], object], must: dict[str, bool]) -> str:
    """Nothing else happens, and what must be refused is."""
    ended = outcome(Target((), read), case.data)
    assert ended == REFUSED or not must[case.broken], f"{case.broken} was read"
    return ended


def loses_nothing_silently(case: Case, drawing: Collection[int], read: Callable[[bytes], object]) -> None:
    """Without one of the statements that draw, there is an error, or something else is read."""
    whole = read(case.data)
    for number in drawing:
        data = case.without(number)
        if outcome(Target((), read), data) == READ:
            assert not same(read(data), whole), f"statement {number} is not missed"


def same(one: object, other: object) -> bool:
    """Whether two results are equal in all but where things stand in their files."""
    if isinstance(one, Sources) and isinstance(other, Sources):
        return (
            len(one.copper) == len(other.copper)
            and len(one.drills) == len(other.drills)
            and all(map(same, one.copper, other.copper))
            and all(same(a.hits, b.hits) for a, b in zip(one.drills, other.drills, strict=True))
        )
    return type(one) is type(other) and said(one) == said(other)


def said(result: object) -> list[object]:
    """The columns of a result, names resolved, so that equal results are equal lists."""
    if isinstance(result, Artwork):
        tools = [(tool.width, tool.shape.wkb) for tool in result.tools]
        labels = (result.net, result.pin, result.component, result.function)
        return [
            result.kind.tolist(), result.dark.tolist(), result.first.tolist(), np.round(result.xy, 6).tolist(),
            [tools[tool] if tool >= 0 else None for tool in result.tool],
            *(_named(column, result.values) for column in labels),
        ]  # fmt: skip
    if isinstance(result, DrillHits):
        columns = (result.start, result.end, result.diameter)
        names = (_named(column, result.values) for column in (result.net, result.pin, result.function))
        return [*(np.round(column, 6).tolist() for column in columns), *names]
    assert isinstance(result, Netlist)
    columns = (result.kind, result.xy, result.size, result.hole, result.plated, result.access, result.span)
    return [_named(result.net, result.nets), result.part.tolist(), result.pin.tolist(), *(c.tolist() for c in columns)]


def _named(column: np.ndarray, values: Sequence[object]) -> list[object]:
    return [values[index] if index >= 0 else None for index in column]


# Readers, checked


def gerber(data: bytes) -> Artwork:
    """A layer."""
    artwork = read_gerber(SourceFile("a.gbr", data))
    check_artwork(artwork)
    return artwork


def drill(case: DrillCase) -> Callable[[bytes], DrillHits]:
    """A drill file, with what settings say of it."""

    def read(data: bytes) -> DrillHits:
        hits = read_drill(SourceFile("a.drl", data), case.claim)
        check_hits(hits)
        return hits

    return read


def testnet(data: bytes) -> Netlist:
    """A netlist."""
    netlist = read_testnet(SourceFile("a.ipc", data))
    check_netlist(netlist)
    return netlist


def ipc2581(data: bytes) -> Sources:
    """What a board is made of."""
    sources = sources_from_ipc2581("a", SourceFile("a.xml", data), Settings())
    check_sources(sources)
    return sources


# What is known of them


def check_gerber(case: GerberCase) -> None:
    """Area in each square, flashes and net names are those that were written."""
    artwork = gerber(case.data)
    assert artwork.attributes[".FileFunction"] == ("Copper", "L1", "Top")
    blocks = any("SRX" in statement or "%AB" in statement for statement in case.statements)
    assert blocks or (artwork.kind == Kind.FLASH).sum() == case.flashes
    assert {artwork.values[index][0] for index in artwork.net if index >= 0} == case.nets
    assert {artwork.values[index] for index in artwork.pin if index >= 0} == case.pins
    check_squares(artwork, case.squares)


def check_squares(artwork: Artwork, squares: Sequence[tuple[float, float, float]]) -> None:
    """The copper in each square has its area, and there is none elsewhere."""
    copper = shapely.union_all(parts_of(artwork).outlines)
    for x, y, area in squares:
        found = copper.intersection(shapely.box(x, y, x + SQUARE_MM, y + SQUARE_MM)).area
        assert abs(found - area) <= AREA * area + ROUNDING_MM2, (x, y, found, area)
    whole = sum(area for *_, area in squares)
    assert abs(copper.area - whole) <= AREA * whole + ROUNDING_MM2 * len(squares)


def check_drill(case: DrillCase) -> None:
    """Holes, slots and cuts in the order of the file, their diameters and nets."""
    hits = drill(case)(case.data)
    written = np.array(case.cuts)
    assert len(hits) == len(written)
    read = np.column_stack([hits.start, hits.end, hits.diameter])
    assert np.abs(read - written).max() <= STEP_MM
    assert [hits.values[net][0] if net >= 0 else "" for net in hits.net] == list(case.nets)


def check_testnet(case: TestnetCase) -> None:
    """Points, their nets, parts and sizes."""
    netlist = testnet(case.data)
    assert len(netlist) == len(case.spots)
    for number, spot in enumerate(case.spots):
        net = netlist.nets[netlist.net[number]] if netlist.net[number] >= 0 else ""
        assert (net, netlist.part[number], netlist.pin[number]) == (spot.net, spot.part, spot.pin)
        assert bool(netlist.plated[number]) == spot.plated
        figures = (*netlist.xy[number], netlist.hole[number], *netlist.size[number])
        known = (spot.x, spot.y, spot.hole, spot.width, spot.height)
        assert np.abs(np.subtract(figures, known)).max() <= STEP_MM


def check_ipc2581(case: Ipc2581Case) -> None:
    """Area in each square, net names, and the holes with their diameters."""
    sources = ipc2581(case.data)
    top, bottom = sources.copper
    assert len(bottom) == 0
    assert {top.values[index][0] for index in top.net if index >= 0} == case.nets
    check_squares(top, case.squares)
    (drilled,) = sources.drills
    assert (drilled.plated, drilled.first, drilled.last) == (True, 1, 2)
    read = np.column_stack([drilled.hits.start, drilled.hits.diameter])
    assert np.abs(read - np.array(case.holes)).max() <= STEP_MM
