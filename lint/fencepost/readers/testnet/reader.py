"""A netlist from its statements: units, aliases, and test records that go on with one another."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fencepost.limits import DEFAULT_LIMITS, Deadline, Limits, name_fault
from fencepost.readers.drill.grammar import quoted
from fencepost.readers.testnet.grammar import Statement, read_statements
from fencepost.readers.testnet.netlist import Netlist, Point
from fencepost.readers.testnet.records import Records, decode, joined
from fencepost.source import SourceFile
from fencepost.units import MM_PER_INCH

UNITS = {"CUST0": MM_PER_INCH * 1e-4, "CUST1": 1e-3, "CUST2": MM_PER_INCH * 1e-4, "SI": 1e-3}
"""Millimetres in one step: 0.0001 inch or 0.001 mm. CUST 2 and SI count angles in radians."""

UNCONNECTED = frozenset({"", "N/C"})
"""What stands for no net."""

_ALIAS = re.compile(r"NNAME\d+")
_KNOWN = frozenset({"JOB", "CODE", "TITLE", "NUM", "REV", "VER", "DIM", "LANGUAGE"})
"""Parameters that say nothing about points or nets."""


@dataclass
class _Found:
    """What the statements have said so far."""

    source: SourceFile
    limits: Limits
    unit: str = ""
    image: str = ""
    aliases: dict[str, str] = field(default_factory=dict)
    runs: list[Records] = field(default_factory=list)
    passed: Counter[str] = field(default_factory=Counter)
    unknown: Counter[str] = field(default_factory=Counter)

    def take(self, statement: Statement) -> None:
        """One statement. Raises InputError where it contradicts one before."""
        name, offset, tokens = statement
        if name == "tests":
            self.runs.append(decode(tokens[0].encode("latin-1"), offset))
        elif name == "units":
            self._unit("".join(tokens[1].split()), offset)
        elif name == "alias":
            self._alias(tokens[0].split()[-1], _name(tokens[1].encode("latin-1")), offset)
        elif name == "image":
            self._image(tokens[1] if len(tokens) > 1 else "", offset)
        elif name == "passed":
            self.passed[tokens[0][:3]] += 1
        elif name == "other" and tokens[0].split()[-1] not in _KNOWN:
            self.unknown[tokens[0].split()[-1]] += 1

    def _unit(self, unit: str, offset: int) -> None:
        if self.unit and UNITS[self.unit] != UNITS[unit]:
            raise self.source.error(offset, f"UNITS {unit} here, but {self.unit} before; a netlist has one unit")
        self.unit = unit

    def _alias(self, alias: str, name: str, offset: int) -> None:
        if said := name_fault(name, self.limits):
            raise self.source.error(offset, said)
        if self.aliases.setdefault(alias, name) != name:
            said = f"{alias} is {quoted(name)} here, and {quoted(self.aliases[alias])} before"
            raise self.source.error(offset, said)

    def _image(self, name: str, offset: int) -> None:
        if self.image and self.image != name:
            said = f"a second image, {quoted(name)}, beside {quoted(self.image)}; netlists of one board are read"
            raise self.source.error(offset, said)
        self.image = name

    @property
    def notes(self) -> tuple[str, ...]:
        notes = []
        if self.passed:
            listed = ", ".join(f"{count} of {code}" for code, count in sorted(self.passed.items()))
            notes.append(f"{self.source.name}: records without a test point were passed over: {listed}")
        if self.unknown:
            listed = ", ".join(sorted(self.unknown))
            notes.append(f"{self.source.name}: parameters that are not known were passed over: {listed}")
        return tuple(notes)


def read_testnet(source: SourceFile, limits: Limits = DEFAULT_LIMITS) -> Netlist:
    """Read an IPC-D-356, A or B netlist whole.

    Raises InputError, with line and column, at the first record that is not of the format, and where the unit, an alias
    or the end is missing. Source: IPC-D-356B, from memory.
    """
    found = _Found(source, limits)
    deadline = Deadline(limits)
    if b"\0" in source.data:  # in a column of text it would pass for a blank
        raise source.error(source.data.index(b"\0"), "a zero byte; a netlist is text")
    for statement in read_statements(source, limits):
        if late := deadline.passed():
            raise source.error(statement.offset, f"reading {late}")
        found.take(statement)
    if not found.runs:
        raise source.error(0, "the netlist has no test record: no 317, no 327")
    records = joined(found.runs)
    if not found.unit:
        said = "the netlist gives no unit before its records; it must have a line as P  UNITS CUST 0"
        raise source.error(int(records.offset[0]), said)
    scale = UNITS[found.unit]
    before = _records_gone_on_with(source, records)
    silent = records.net == b""
    net, nets = _nets(source, np.where(silent, records.net[before], records.net), records.offset, found.aliases)
    hole = np.where(records.hole > 0, records.hole, records.hole[before] * records.goes_on)
    return Netlist(
        source=source,
        kind=records.kind,
        goes_on=records.goes_on,
        net=net,
        part=_texts(np.where(silent, records.part[before], records.part)),
        pin=_texts(np.where(silent, records.pin[before], records.pin)),
        middle=records.middle,
        hole=hole * scale,
        plated=records.plated | (records.plated[before] & records.goes_on),
        access=records.access,
        xy=records.xy * scale,
        size=records.size * scale,
        rotation=records.rotation,
        mask=records.mask,
        span=records.span * (records.kind == Point.BLIND)[:, None],
        offset=records.offset,
        nets=nets,
        notes=found.notes,
    )


def _records_gone_on_with(source: SourceFile, records: Records) -> NDArray[np.int64]:
    """For each record the one that it goes on with, itself where it begins anew. Raises InputError for none."""
    rows = np.arange(len(records))
    before = np.maximum.accumulate(np.where(records.goes_on, -1, rows))
    lost = (before < 0) | (records.kind[before] != records.kind)
    if lost.any():
        row = int(np.argmax(lost))
        code = f"3{int(records.kind[row])}7"
        raise source.error(int(records.offset[row]), f"this record goes on with a {code}, but none stands before it")
    return before


def _nets(
    source: SourceFile, names: NDArray[np.bytes_], offset: NDArray[np.int64], aliases: dict[str, str]
) -> tuple[NDArray[np.int32], tuple[str, ...]]:
    """The net of each record, and the nets in the order of their names. Raises InputError for an alias of nothing."""
    written, first, inverse = np.unique(names, return_index=True, return_inverse=True)
    full = []
    for name, row in zip(written, first, strict=True):
        text = _name(bytes(name))
        if _ALIAS.fullmatch(text) and text not in aliases:
            raise source.error(int(offset[row]) + 3, f"{text} is not given anywhere by a P  {text}")
        full.append(aliases.get(text, text))
    nets = sorted(set(full) - UNCONNECTED)
    index = {name: i for i, name in enumerate(nets)}
    of_written = np.array([index.get(name, -1) for name in full], dtype=np.int32)
    return of_written[inverse], tuple(nets)


def _texts(column: NDArray[np.bytes_]) -> NDArray[np.str_]:
    return np.char.decode(column, "latin-1")


def _name(text: bytes) -> str:
    """A name is UTF-8, or else of one byte a character."""
    try:
        return text.decode("utf-8").strip()
    except UnicodeDecodeError:
        return text.decode("latin-1").strip()
