"""Boards, findings and results put together by hand, for tests of what does not look at copper."""

from __future__ import annotations

import numpy as np
import shapely

from fencepost.board.model import Board, Copper, Holes, Net, NetKind, Pieces
from fencepost.board.stackup import Gap, Stackup
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Suggestion, Unchecked
from fencepost.readers.artwork import Artwork, DrillHits
from fencepost.report.result import BoardSummary, Result
from fencepost.source import Location, SourceFile

FINDING = Finding(
    rule="transition-return",
    severity=Severity.WARNING,
    message="QSPI_IO2 goes from L1 over L2 to L4 over L3, and no ground via ties L2 to L3 within 1.50 mm",
    place=Place(Location("fab/tide-L1.gbr", 412, 1), 31.2, 18.45),
    layers=("L1", "L4"),
    nets=("QSPI_IO2",),
    measured=Figure("distance", 3.42, "mm"),
    limit=Figure("distance", 1.5, "mm"),
    remarks=(
        Remark(
            "the nearest tie is 3.42 mm away; the loop adds about 1.5 nH",
            Place(Location("fab/tide-PTH.drl", 88, 1), 34.6, 18.1),
        ),
    ),
    suggestion=Suggestion(31.95, 18.45, 0.25, 0.5, ("L1", "L4"), Location("fab/tide-PTH.drl", 31, 1)),
)
"""The finding that the design gives as its example, of the text report and of the JSON alike."""

RESULT = Result(
    package="fab",
    board=BoardSummary(copper_layers=4, holes=120, nets=31, size_mm=(60.0, 40.0)),
    assumptions=("ground nets by name: GND",),
    findings=(FINDING,),
    unchecked=(Unchecked("rim-pitch", "the package has no profile"),),
    warnings=('fencepost.toml: nets.power[0]: no net fits "VBUS"',),
    elapsed_s=0.84,
    version="0.1.0",
)


def place(line: int = 1, file: str = "fab/a.gbr") -> Place:
    """Somewhere."""
    return Place(Location(file, line, 1), 1.0, 2.0)


def board(nets: tuple[str, ...] = ("GND", "A"), package: str = "fab", layers: int = 2) -> Board:
    """A board of 60 x 40 mm with these nets and without copper or holes; the first net is ground."""
    none = np.zeros(0, dtype=np.int32)
    return Board(
        package=package,
        stackup=Stackup((Gap(1.5, 4.2),) * (layers - 1), (0.035,) * layers),
        copper=tuple(_bare(layer) for layer in range(1, layers + 1)),
        pieces=Pieces(none, none, none),
        holes=_no_holes(),
        drills=(DrillHits(_file("fab/a.drl"), {}, *_no_hits(), values=()),),
        touches=np.zeros((0, 2), dtype=np.int32),
        nets=tuple(Net(name, NetKind.SIGNAL if i else NetKind.GROUND) for i, name in enumerate(nets)),
        components=(),
        profile=shapely.box(0, 0, 60, 40),
        profile_given=True,
        conflicts=(),
        assumptions=("ground nets by name: GND",),
    )


def _file(name: str) -> SourceFile:
    return SourceFile(name, b"")


def _bare(layer: int) -> Copper:
    none = np.zeros(0, dtype=np.int32)
    artwork = Artwork(
        source=_file(f"fab/L{layer}.gbr"),
        attributes={},
        kind=np.zeros(0, dtype=np.uint8),
        dark=np.zeros(0, dtype=np.bool_),
        first=np.zeros(1, dtype=np.int64),
        xy=np.zeros((0, 2)),
        tool=none,
        net=none,
        pin=none,
        component=none,
        function=none,
        offset=np.zeros(0, dtype=np.int64),
        tools=(),
        values=(),
    )
    return Copper(layer, artwork, np.zeros(0, dtype=object), np.zeros(0), none, none, none, none)


def _no_holes() -> Holes:
    none = np.zeros(0, dtype=np.int32)
    ends = np.zeros((0, 2))
    return Holes(
        ends, ends, np.zeros(0), np.zeros(0, dtype=np.bool_), none, none, np.zeros(0, dtype=np.int8), none, none, none
    )


def _no_hits() -> tuple[np.ndarray, ...]:
    none = np.zeros(0, dtype=np.int32)
    return np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), none, none, none, np.zeros(0, dtype=np.int64)
