"""What is fuzzed: a reader for each format and whole packages, with files to begin from, and what may come of it."""

from __future__ import annotations

import io
import tempfile
import warnings
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from fencepost.board.from_ipc2581 import sources_from_ipc2581
from fencepost.board.load import load_board
from fencepost.errors import FencepostError
from fencepost.intake import open_package, package_from
from fencepost.readers.drill import hits_from_artwork, read_drill
from fencepost.readers.gerber import read_gerber
from fencepost.readers.jobfile import read_job
from fencepost.readers.testnet import read_testnet
from fencepost.settings.load import load_settings
from fencepost.settings.model import Settings
from fencepost.source import SourceFile
from sketch import Path as Line
from sketch import Sketch

GERBER_OF_EVERYTHING = b"""%TF.FileFunction,Copper,L1,Top*%
%FSLAX46Y46*%
%MOMM*%
%AMThermal*7,0,0,$1,$2,0.1,$3*%
%AMMany*0 a note*1,1,$1,0,0*21,1,$1x2,1,0,0,30*4,1,3,0,0,1,0,0,1,0,0,15*
5,1,6,2,0,$1,0*20,1,0.1,0,0,1,1,0*$4=($1+1)/2*1,0,$4,1,1*%
%AMMoire*6,0,0,2,0.1,0.1,3,0.05,2.2,10*%
%ADD10C,0.15*%
%ADD11R,1X0.5X0.2*%
%ADD12O,1X0.5*%
%ADD13P,1X6X15*%
%ADD14Thermal,1X0.6X45*%
%ADD15Many,0.8*%
%ADD16Moire*%
%TO.N,GND*%
%TO.P,R1,1*%
G01*
G75*
D10*
X0Y0D02*
X1000000D01*
G02*
X2000000Y0I500000J0D01*
G03*
X0Y0I-1000000J1000000D01*
G01*
D11*
X3000000Y0D03*
%LMX*%
%LR30*%
%LS1.5*%
D12*
X4000000Y0D03*
D13*
Y1000000D03*
%LMN*%
%LR0*%
%LS1*%
D14*
X5000000D03*
D15*
X8000000D03*
D16*
X12000000D03*
G36*
X0Y5000000D02*
X2000000D01*
Y7000000D01*
G02*
X0Y5000000I-2000000J0D01*
G37*
%LPC*%
G36*
X500000Y5500000D02*
G01*
X700000D01*
Y5700000D01*
X500000Y5500000D01*
G37*
%LPD*%
%SRX3Y2I2J2*%
D10*
X20000000Y0D03*
%SR*%
%ABD20*%
D11*
X0Y0D03*
D10*
X0Y0D02*
X1000000Y1000000D01*
%AB*%
%TD*%
D20*
X30000000Y30000000D03*
G74*
D10*
X0Y0D02*
G03*
X1000000Y1000000I0J1000000D01*
M02*
"""


@dataclass(frozen=True)
class Target:
    """`read` takes the bytes of one input, starting from which `originals` are damaged."""

    originals: tuple[bytes, ...]
    read: Callable[[bytes], object]


def outcome(target: Target, data: bytes) -> str:
    """ "read", or "refused" where an error for the user says why. Whatever else is raised is a defect and goes on."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            target.read(data)
        except FencepostError as error:
            assert str(error).strip()
            return "refused"
    return "read"


def small_board() -> Sketch:
    """Four layers with a little of everything."""
    sketch = Sketch(layers=4, size=(12.0, 10.0), corner=1.0)
    for layer in (2, 3):
        sketch.pour("GND", layer)
    sketch.trace("SIG", 1, [(2, 5), (8, 5)])
    sketch.trace("SIG", 4, [(8, 5), (8, 2)])
    sketch.trace("ARC", 1, Line.arc((2, 8), (4, 8), (3, 8), clockwise=True))
    sketch.via("SIG", (8, 5))
    sketch.via("GND", (8.8, 5))
    sketch.via("GND", (10, 8), span=(1, 2))
    sketch.pad("R1", "1", "SIG", 1, (2, 5), (0.8, 0.5), angle=30.0)
    sketch.component("R1", "10k")
    sketch.through_pad("J1", "1", "GND", (3, 2.5))
    sketch.slot((5, 2), (6, 2), 0.6)
    sketch.hole((1.6, 1.6), 1.0)
    return sketch


@cache
def targets() -> dict[str, Target]:
    """By name."""
    board = small_board()
    mm, inch = board.gerber(drill_nets=True), board.gerber(units="inch", attributes="comments", drill="gerber")
    rout = board.gerber(units="inch", slots="rout")
    gerbers = [data for files in (mm, inch) for name, data in files.items() if name.endswith(".gbr")]
    drills = [data for files in (mm, rout) for name, data in files.items() if name.endswith(".drl")]
    job = next(data for name, data in mm.items() if name.endswith(".gbrjob"))
    return {
        "gerber": Target((GERBER_OF_EVERYTHING, GERBER_OF_EVERYTHING, *gerbers), _gerber),
        "drill": Target(tuple(drills), lambda data: read_drill(SourceFile("a.drl", data))),
        "testnet": Target((board.testnet(),), lambda data: read_testnet(SourceFile("a.ipc", data))),
        "job": Target((job,), lambda data: read_job(SourceFile("a.gbrjob", data))),
        "ipc2581": Target(
            (board.ipc2581(),), lambda data: sources_from_ipc2581("a", SourceFile("a.xml", data), Settings())
        ),
        "settings": Target((SETTINGS,), _settings),
        "archive": Target((archive_of(mm),), _archive),
        "board": Target((packed(mm), packed({**inch, "board.ipc": board.testnet()})), _board),
    }


SETTINGS = b"""[board]
thickness = "1.6 mm"
frequency = "868 MHz"
[nets]
ground = ["GND", "AGND*"]
[[class]]
name = "radio"
nets = ["RF_?"]
rise_time = "1 ns"
[rules.transition-return]
distance = "60 mil"
[[waive]]
rule = "rim-pitch"
reason = "indicator"
at = "31.2 mm, 18.45 mm"
radius = "1 mm"
until = 2027-03-01
"""

_BETWEEN = b"\n\x1d"


def packed(files: dict[str, bytes]) -> bytes:
    """A package as one run of bytes, so that any of it can be damaged."""
    return _BETWEEN.join(name.encode() + b"\n" + data for name, data in sorted(files.items()))


def unpacked(data: bytes) -> dict[str, bytes]:
    """The package again."""
    parts = [part.partition(b"\n") for part in data.split(_BETWEEN)]
    return {name.decode("utf-8", "replace"): content for name, _, content in parts}


def archive_of(files: dict[str, bytes]) -> bytes:
    """The same bytes whenever it is written."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as zipped:
        for name, data in files.items():
            zipped.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _gerber(data: bytes) -> None:
    artwork = read_gerber(SourceFile("a.gbr", data))
    if len(artwork):
        artwork.location(len(artwork) - 1)
    hits_from_artwork(artwork)


def _settings(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "fencepost.toml"
        file.write_bytes(data)
        load_settings(file)


def _archive(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "fab.zip"
        file.write_bytes(data)
        open_package(file)


def _board(data: bytes) -> None:
    load_board(package_from("board", unpacked(data)), Settings())
