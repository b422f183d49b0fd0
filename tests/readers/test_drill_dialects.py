"""The same six holes, written in every dialect of Excellon, are the same six holes.

The positions were worked out by hand from the formats: in inch 2:4 with trailing zeros kept, X1000 is 0.1 inch, which
is 2.54 mm (an inch is 25.4 mm by definition); with leading zeros kept, X001 is.
"""

from __future__ import annotations

import numpy as np
import pytest

from fencepost.readers.drill.excellon import read_drill
from fencepost.settings.model import DrillClaim
from fencepost.source import SourceFile
from fencepost.units import Length

HOLES_MM = [(2.54, 12.7), (25.4, 12.7), (25.4, 38.1), (27.94, 38.1), (30.48, 38.1), (2.54, -2.54)]
DIAMETERS_MM = [0.508] * 5 + [1.016]

MM_TOOLS = "T1C0.508\nT2C1.016\n"
INCH_TOOLS = "T1C0.020\nT2C0.040\n"

MM_POINT = "T1\nX2.54Y12.7\nX25.4Y12.7\nX25.4Y38.1\nX27.94Y38.1\nX30.48Y38.1\nT2\nX2.54Y-2.54\nM30\n"
MM_TRAILING = "T1\nX2540Y12700\nX25400Y12700\nX25400Y38100\nX27940Y38100\nX30480Y38100\nT2\nX2540Y-2540\nM30\n"
MM_LEADING = "T1\nX00254Y0127\nX0254Y0127\nX0254Y0381\nX02794Y0381\nX03048Y0381\nT2\nX00254Y-00254\nM30\n"
MM_ALL = (
    "T1\nX002540Y012700\nX025400Y012700\nX025400Y038100\nX027940Y038100\nX030480Y038100\nT2\nX002540Y-002540\nM30\n"
)
INCH_POINT = "T1\nX0.1Y0.5\nX1.Y0.5\nX1.0Y1.5\nX1.1Y1.5\nX1.2Y1.5\nT2\nX.1Y-.1\nM30\n"
INCH_TRAILING = "T1\nX1000Y5000\nX10000Y5000\nX10000Y15000\nX11000Y15000\nX12000Y15000\nT2\nX1000Y-1000\nM30\n"
INCH_LEADING = "T1\nX001Y005\nX01Y005\nX01Y015\nX011Y015\nX012Y015\nT2\nX001Y-001\nM30\n"

DIALECTS = {
    "mm, decimal point (XNC)": "M48\nMETRIC\n" + MM_TOOLS + "%\nG05\n" + MM_POINT,
    "inch, decimal point": "M48\nINCH\n" + INCH_TOOLS + "%\n" + INCH_POINT,
    "mm, trailing zeros, digits in the header": "M48\nMETRIC,TZ,000.000\n" + MM_TOOLS + "%\n" + MM_TRAILING,
    "mm, leading zeros, digits in the header": "M48\nMETRIC,LZ,000.000\n" + MM_TOOLS + "%\n" + MM_LEADING,
    "the digits before the zeros": "M48\nMETRIC,000.000,LZ\n" + MM_TOOLS + "%\n" + MM_LEADING,
    "inch, trailing zeros, digits in the header": "M48\nINCH,TZ,00.0000\n" + INCH_TOOLS + "%\n" + INCH_TRAILING,
    "inch, leading zeros, digits in the header": "M48\nINCH,LZ,00.0000\n" + INCH_TOOLS + "%\n" + INCH_LEADING,
    "digits in a comment of two numbers": "M48\n;FILE_FORMAT=3:3\nMETRIC,TZ\n" + MM_TOOLS + "%\n" + MM_TRAILING,
    "format in a comment, leading zeros left out": (
        "M48\n; FORMAT={3:3/ absolute / metric / suppress leading zeros}\nMETRIC\n" + MM_TOOLS + "%\n" + MM_TRAILING
    ),
    "format in a comment, trailing zeros left out": (
        "M48\n; FORMAT={2:4/ absolute / inch / suppress trailing zeros}\nINCH\n" + INCH_TOOLS + "%\n" + INCH_LEADING
    ),
    "format in a comment, all zeros kept": (
        "M48\n; FORMAT={3:3/ absolute / metric / keep zeros}\nMETRIC\n" + MM_TOOLS + "%\n" + MM_ALL
    ),
    "format in a comment, decimal": (
        "M48\n; FORMAT={-:-/ absolute / inch / decimal}\nFMAT,2\nINCH\n" + INCH_TOOLS + "%\nG90\nG05\n" + INCH_POINT
    ),
    "format in a comment of another form": (
        "M48\n; Format  : 2.4 / Absolute / Inch / Trailing\nINCH,TZ\n" + INCH_TOOLS + "%\nG93X0Y0\n" + INCH_TRAILING
    ),
    "unit by M71": "M48\nM71\n" + MM_TOOLS + "M95\n" + MM_POINT,
    "unit by M72": "%\nM48\nM72\n" + INCH_TOOLS + "%\n" + INCH_POINT,
    "axes left out where they do not change": (
        "M48\nMETRIC\n" + MM_TOOLS + "%\nT1\nX2.54Y12.7\nX25.4\nY38.1\nX27.94\nX30.48\nT2\nX2.54Y-2.54\nM30\n"
    ),
    "a repeat": ("M48\nMETRIC\n" + MM_TOOLS + "%\nT1\nX2.54Y12.7\nX25.4\nY38.1\nR2X2.54\nT2\nX2.54Y-2.54\nM30\n"),
    "a repeat without points": (
        "M48\nINCH,LZ,00.0000\n" + INCH_TOOLS + "%\nT1\nX001Y005\nX01\nY015\nR2X001Y0\nT2\nX001Y-001\nM30\n"
    ),
    "incremental by G91": (
        "M48\nMETRIC\n" + MM_TOOLS + "%\nG91\nT1\nX2.54Y12.7\nX22.86\nY25.4\nX2.54\nX2.54\nT2\nX-27.94Y-40.64\nM30\n"
    ),
    "incremental by ICI, then absolute": (
        "M48\nMETRIC\nICI,ON\n" + MM_TOOLS + "%\nT1\nX2.54Y12.7\nX22.86\nY25.4\nR2X2.54\nG90\nT2\nX2.54Y-2.54\nM30\n"
    ),
    "incremental, said in a comment": (
        "M48\n; FORMAT={3:3/ incremental / metric / suppress leading zeros}\nMETRIC,TZ\n"
        + MM_TOOLS
        + "%\nT1\nX2540Y12700\nX22860\nY25400\nX2540\nX2540\nT2\nX-27940Y-40640\nM30\n"
    ),
    "carriage returns and line feeds": ("M48\nMETRIC\n" + MM_TOOLS + "%\n" + MM_POINT).replace("\n", "\r\n"),
    "carriage returns alone": ("M48\nMETRIC\n" + MM_TOOLS + "%\n" + MM_POINT).replace("\n", "\r"),
    "no end of the last line": ("M48\nMETRIC\n" + MM_TOOLS + "%\n" + MM_POINT)[:-1],
    "a byte order mark": "\ufeffM48\nMETRIC\n" + MM_TOOLS + "%\n" + MM_POINT,
    "blanks, empty lines and comments": (
        "; made by hand\n\nM48  \n METRIC\n"
        + MM_TOOLS.replace("\n", " ; a tool\n\n")
        + "%\n; now the holes\n"
        + MM_POINT.replace("\n", "   \n").replace("T2", "\n;T2 next\nT2")
        + "; the end\n\n"
    ),
    "plus signs and leading zeros": (
        "M48\nMETRIC\n" + MM_TOOLS + "%\nT1\nX+02.54Y+012.7\nX+25.4\nY+38.1\nX+27.94\nX+30.48\nT2\nX2.54Y-02.54\nM30\n"
    ),
    "tools with two digits and machine parameters": (
        "M48\nMETRIC\nT01F200S65C0.508\nT02C1.016B1Z-0.5H2000\nDETECT,ON\nATC,ON\nVER,1\n%\nM47,begin\nG40\nM06\nF200\n"
        + MM_POINT
    ),
    "tools defined where they are used": (
        "METRIC\n%\n" + MM_POINT.replace("T1", "T1C0.508").replace("T2", "T2C1.016F200S65")
    ),
    "tool sizes in comments, in mm": ("M48\nMETRIC\n;Holesize 1 = 0.508 mm\n;Holesize 2 = 1.016 mm\n%\n" + MM_POINT),
    "tool sizes in comments, in mils with tolerances": (
        ";T01 Holesize 1. = 20.000000 Tolerance = +0.000000/-8.000000 PLATED MILS Quantity = 5\n"
        ";T02 Holesize 2. = 40.000000 Tolerance = +0.000000/-0.000000 PLATED MILS Quantity = 1\n"
        "METRIC\n%\nG90\n" + MM_POINT
    ),
    "tool sizes in comments of another form": "M48\nINCH\n; T01 0.508mm\n; T02 = 40 mil\n%\n" + INCH_POINT,
    "M00 at the end, T0 before it": ("M48\nMETRIC\n" + MM_TOOLS + "%\n" + MM_POINT).replace("M30", "T0\nM00"),
    "a zero without a point among numbers with one": (
        "M48\nMETRIC\n"
        + MM_TOOLS
        + "%\nT1\nG91\nX2.54Y12.7\nX22.86Y00\nY25.4\nX2.54Y0\nX2.54\nT2\nX-27.94Y-40.64\nM30\n"
    ),
}


def rows(text: str, claim: DrillClaim | None = None) -> np.ndarray:
    """Start, end and diameter of every hit, (n, 5)."""
    hits = read_drill(SourceFile("fab/a.drl", text.encode()), claim)
    return np.column_stack([hits.start, hits.end, hits.diameter])


EXPECTED = np.array([(x, y, x, y, d) for (x, y), d in zip(HOLES_MM, DIAMETERS_MM, strict=True)])


@pytest.mark.parametrize("text", DIALECTS.values(), ids=DIALECTS.keys())
def test_every_dialect_gives_the_same_holes(text: str) -> None:
    np.testing.assert_allclose(rows(text), EXPECTED, rtol=0, atol=1e-9)


SIZES = {"T1": Length(0.508), "T2": Length(1.016)}
CLAIMED = {
    "digits": ("M48\nMETRIC,TZ\n" + MM_TOOLS + "%\n" + MM_TRAILING, DrillClaim(plated=True, digits=(3, 3))),
    "digits and zeros": (
        "M48\nINCH\n" + INCH_TOOLS + "%\n" + INCH_LEADING,
        DrillClaim(plated=True, digits=(2, 4), zeros="leading"),
    ),
    "unit, digits, zeros and tools": (
        "%\n" + INCH_TRAILING,
        DrillClaim(plated=True, unit="inch", digits=(2, 4), zeros="trailing", tools=SIZES),
    ),
    "one of two tools, its number written otherwise": (
        "M48\nMETRIC\nT01C0.508\n%\n" + MM_POINT.replace("T1", "T01").replace("T2", "T02"),
        DrillClaim(plated=True, tools={"02": Length(1.016)}),
    ),
    "the size of a tool that has no decimal point": (
        "M48\nMETRIC\nT1C508\nT2C1.016\n%\n" + MM_POINT,
        DrillClaim(plated=True, tools={"T1": Length(0.508)}),
    ),
    "what the file says as well": (
        "M48\nMETRIC,TZ,000.000\n" + MM_TOOLS + "%\n" + MM_TRAILING,
        DrillClaim(plated=True, unit="mm", digits=(3, 3), zeros="trailing", tools=SIZES),
    ),
}


@pytest.mark.parametrize(("text", "claim"), CLAIMED.values(), ids=CLAIMED.keys())
def test_settings_fill_what_the_file_leaves_out(text: str, claim: DrillClaim) -> None:
    np.testing.assert_allclose(rows(text, claim), EXPECTED, rtol=0, atol=1e-9)


def test_a_hit_is_found_at_its_own_line_in_a_long_run() -> None:
    hits = read_drill(SourceFile("fab/a.drl", DIALECTS["a repeat"].encode()))
    lines = [hits.location(i).line for i in range(len(hits))]
    assert lines == [7, 8, 9, 10, 10, 12]
    assert str(hits.location(5)) == "fab/a.drl:12:1"
