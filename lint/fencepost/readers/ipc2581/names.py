"""The table of names that features refer to: nets, pins, components, functions."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import field
from enum import IntEnum

from fencepost.frozen import dataclass
from fencepost.readers.ipc2581.notes import Notes

_QUALIFIED = re.compile(r"[^:]+:(?=[^:])")
"""The qualifier of the schemas' qualifiedNameType."""

_UNDERSCORED = re.compile(r"(?:NET|CMP|COMP|PIN)_(?=.)")
"""Where a program may write no colon, it makes an underscore of it (common practice, no source)."""

_NO_NET = re.compile(r"|N/C|<?no[ _-]?net>?|\$NONE\$", re.IGNORECASE)
"""What programs call a net that is none (common practice, no source)."""


class Sort(IntEnum):
    """What a value of the table is."""

    NET = 0
    PIN = 1
    COMPONENT = 2
    FUNCTION = 3


@dataclass
class Names:
    """Values by their fields, numbered in the order in which they come up. Names are kept as they stand in the file."""

    values: list[tuple[Sort, tuple[str, ...]]] = field(default_factory=list)
    _index: tuple[dict[tuple[str, ...], int], ...] = field(default_factory=lambda: tuple({} for _ in Sort))

    def index(self, sort: Sort, *fields: str) -> int:
        """The number of a value; -1 where its first field is empty, or names the net that is none."""
        known = self._index[sort]
        found = known.get(fields)
        if found is None:
            is_none = not fields[0] or (sort is Sort.NET and _NO_NET.fullmatch(fields[0]))
            found = known[fields] = -1 if is_none else len(self.values)
            if not is_none:
                self.values.append((sort, fields))
        return found

    def of(self, sort: Sort) -> list[tuple[str, ...]]:
        """All values of one sort."""
        return [fields for own, fields in self.values if own is sort]


@dataclass(frozen=True)
class Qualifiers:
    """What stands before every name of a sort, as "NET:" in "NET:GND", and is no part of the name."""

    net: str = ""
    component: str = ""
    pin: str = ""

    def plain(self, sort: Sort, fields: tuple[str, ...]) -> tuple[str, ...]:
        """A value with its names as the designer knows them."""
        if sort is Sort.NET:
            return (fields[0].removeprefix(self.net),)
        if sort is Sort.PIN:
            return (fields[0].removeprefix(self.component), fields[1].removeprefix(self.pin))
        return (fields[0].removeprefix(self.component),) if sort is Sort.COMPONENT else fields


def qualifiers_of(nets: Iterable[str], components: Iterable[str], pins: Iterable[str], notes: Notes) -> Qualifiers:
    """The qualifiers that all names of a sort share, with a note on each."""
    found = []
    for names, word in ((nets, "net"), (components, "component"), (pins, "pin")):
        qualifier = _shared({name for name in names if name})
        if qualifier:
            notes.add(f'{word} names are given without the "{qualifier}" that stands before all of them')
        found.append(qualifier)
    return Qualifiers(*found)


def _shared(names: set[str]) -> str:
    for pattern in (_QUALIFIED, _UNDERSCORED):
        matches = [pattern.match(name) for name in names]
        begins = {match.group() if match else "" for match in matches}
        if len(begins) == 1 and "" not in begins:
            return begins.pop()
    return ""
