"""An overlay package: vias as Gerber X2 flashes on every copper layer, and a drill file, to be opened over the board.

Gerber as in The Gerber Layer Format Specification (Ucamco, 2024.05), drill data as in the XNC Format Specification
(Ucamco). The coordinates are those of the board's own files, in mm with six decimals.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import shapely

from fencepost._version import VERSION
from fencepost.frozen import dataclass

SCALE = 1_000_000
"""Steps of the last decimal in a millimetre."""


@dataclass(frozen=True)
class OverlayVia:
    """A via: its place in mm, its net, and for layers (1-based) what is cleared of pours before its pad is drawn."""

    x: float
    y: float
    net: str
    cleared: Mapping[int, Sequence[shapely.Polygon]]


def overlay_files(vias: Sequence[OverlayVia], drill: float, pad: float, layers: int) -> dict[str, bytes]:
    """File name to content. Drill and pad in mm."""
    files = {f"suggested-L{layer}.gbr": _copper(vias, pad, layer, layers) for layer in range(1, layers + 1)}
    files["suggested-PTH.drl"] = _drill(vias, drill, layers)
    return files


def _copper(vias: Sequence[OverlayVia], pad: float, layer: int, layers: int) -> bytes:
    side = "Top" if layer == 1 else "Bot" if layer == layers else "Inr"
    lines = [
        "G04 Ground vias that were suggested, to be seen over the board*",
        f"%TF.GenerationSoftware,fencepost,fencepost,{VERSION}*%",
        f"%TF.FileFunction,Copper,L{layer},{side}*%",
        "%TF.FilePolarity,Positive*%",
        "%MOMM*%",
        "%FSLAX46Y46*%",
        "%TA.AperFunction,ViaPad*%",
        f"%ADD10C,{_decimal(pad)}*%",
        "%TD.AperFunction*%",
        "G01*",
    ]
    cleared = [area for via in vias for area in via.cleared.get(layer, ())]
    if cleared:
        lines += ["%LPC*%", *(line for area in cleared for line in _region(area)), "%LPD*%"]
    lines.append("D10*")
    net: str | None = None
    for via in vias:
        if via.net != net:
            lines.append(f"%TO.N,{field(via.net)}*%")
            net = via.net
        lines.append(f"{_point(via.x, via.y)}D03*")
    return "\n".join([*lines, "%TD*%", "M02*", ""]).encode()


def _region(area: shapely.Polygon) -> Iterator[str]:
    first, *rest = [_point(x, y) for x, y in area.exterior.coords]
    yield from ("G36*", f"{first}D02*", *(f"{point}D01*" for point in rest), "G37*")


def _drill(vias: Sequence[OverlayVia], drill: float, layers: int) -> bytes:
    lines = [
        "M48",
        f"; #@! TF.FileFunction,Plated,1,{layers},PTH",
        "METRIC",
        "; #@! TA.AperFunction,Plated,PTH,ViaDrill",
        f"T01C{_decimal(drill)}",
        "; #@! TD.AperFunction",
        "%",
        "G05",
        "T01",
        *(f"X{_decimal(via.x)}Y{_decimal(via.y)}" for via in vias),
        "M30",
        "",
    ]
    return "\n".join(lines).encode()


def _point(x: float, y: float) -> str:
    return f"X{round(x * SCALE)}Y{round(y * SCALE)}"


def _decimal(value: float) -> str:
    text = f"{value + 0.0:.6f}".rstrip("0")
    return f"{text}0" if text.endswith(".") else text


def field(text: str) -> str:
    """A field of an attribute: what has a meaning in the format, or is not printable, stands by its code."""
    return "".join(char if char.isprintable() and char not in "%*,\\" else _code(char) for char in text)


def _code(char: str) -> str:
    return "".join(f"\\u{unit:04X}" for unit in memoryview(char.encode("utf-16-le", "surrogatepass")).cast("H"))
