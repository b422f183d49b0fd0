"""Statements that draw, destroyed one at a time in files as they come: deleted, or turned into something else."""

from __future__ import annotations

import random
import re

from fencepost.intake import FileKind, classify
from fuzz import properties
from fuzz.drill_files import DrillCase
from fuzz.properties import same
from fuzz.targets import READ, Target, outcome

_DRAWING = {
    FileKind.GERBER: re.compile(rb"[XYIJ\d+-]+D0?[13]\*"),
    FileKind.DRILL: re.compile(rb"^(?:G0[123])?[XY][^\r\n]*(?:\r\n|\n|\r)", re.MULTILINE),
    FileKind.NETLIST: re.compile(rb"^[03][0126]7[^\r\n]*(?:\r\n|\n|\r)", re.MULTILINE),
    FileKind.IPC2581: re.compile(rb"<(?:PolyStep(?:Segment|Curve)|Hole(?=[^>]*NONPLATED))\b[^>]*/>"),
}
_NONSENSE = (b"Q", b"q", b"#", b"$", b"~", b"\x80", b"?", b"\0")


def read_as_found(data: bytes) -> object:
    """By the reader that the intake chooses. Raises AssertionError where the file would be left aside."""
    kind = classify(data)
    if kind is FileKind.GERBER:
        return properties.gerber(data)
    if kind is FileKind.DRILL:
        return properties.drill(DrillCase((), (), (), (), 0.001))(data)
    if kind is FileKind.NETLIST:
        return properties.testnet(data)
    assert kind is FileKind.IPC2581, f"it is taken for {kind.value}, and left aside"
    return properties.ipc2581(data)


def destroy_one(seed: int, data: bytes) -> str:
    """Delete or garble a drawing statement. Fails where the file is then read as it was, or no longer known."""
    chance = random.Random(seed)
    kind = classify(data)
    # Outlines of parts stand before the features of the layers. Plated holes are said a second time, by their pads.
    begin = data.index(b"<LayerFeature") if kind is FileKind.IPC2581 else 0
    spans = [match.span() for match in _DRAWING[kind].finditer(data, begin)]
    start, end = chance.choice(spans)
    if chance.random() < 0.5:
        damaged = data[:start] + data[end:]
    else:
        at = chance.randrange(start, end)
        damaged = data[:at] + chance.choice(_NONSENSE) + data[at + 1 :]
    ended = outcome(Target((), read_as_found), damaged)
    if ended == READ:
        assert not same(read_as_found(damaged), read_as_found(data)), f"{data[start:end]!r} is not missed"
    return ended
