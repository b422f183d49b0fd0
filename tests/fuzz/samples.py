"""Files to begin from: small, and with something of everything that their format has."""

from __future__ import annotations

import io
import zipfile
from functools import cache

from sketch import Path, Sketch

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

DRILL_OF_EVERYTHING = b"""; #@! TF.FileFunction,Plated,1,4,PTH
;FILE_FORMAT=3:3
M48
FMAT,2
METRIC,TZ
; #@! TA.AperFunction,Plated,PTH,ViaDrill
T1C0.300
T02C1.0F200S65
; #@! TA.AperFunction,Plated,PTH,ComponentDrill
T3C0.6
%
G90
G05
T1
; #@! TO.N,GND
X1.5Y2.0
X3.
Y4.5
R3X0.5Y0.25
; #@! TD
T2
X001000Y002000
X5.0Y5.0G85X7.0Y5.0
T3
G00X10.0Y10.0
M15
G01X12.0
G02X14.0Y12.0A2.0
G03X12.0Y14.0I-2.0J0.0
M16
G00X20.0Y20.0
M15
M16
G05
G93X0Y0
X22.0Y22.0
T0
M30
"""

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


def small_board() -> Sketch:
    """Four layers with a little of everything."""
    sketch = Sketch(layers=4, size=(12.0, 10.0), corner=1.0)
    for layer in (2, 3):
        sketch.pour("GND", layer)
    sketch.trace("SIG", 1, [(2, 5), (8, 5)])
    sketch.trace("SIG", 4, [(8, 5), (8, 2)])
    sketch.trace("ARC", 1, Path.arc((2, 8), (4, 8), (3, 8), clockwise=True))
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
def packages() -> tuple[dict[str, bytes], ...]:
    """The small board in several forms."""
    board = small_board()
    return (
        board.gerber(drill_nets=True),
        {**board.gerber(units="inch", attributes="comments", drill="gerber"), "board.ipc": board.testnet()},
        board.gerber(units="inch", slots="rout", components="copper"),
        {"board.xml": board.ipc2581(), "board.ipc": board.testnet(units="inch")},
    )


def named(ending: str) -> tuple[bytes, ...]:
    """The files of all packages whose names end so."""
    return tuple(data for files in packages() for name, data in files.items() if name.endswith(ending))


def archive_of(files: dict[str, bytes]) -> bytes:
    """The same bytes whenever it is written."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as zipped:
        for name, data in files.items():
            zipped.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()
