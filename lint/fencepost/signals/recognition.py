"""Classes of nets by names in common use, for a board that comes without settings.

What is taken for what is always said, and stands in until somebody writes the board's own into the settings. Signals
that change seldom or slowly are in no class.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Set

import msgspec

from fencepost.board.model import Board, NetKind
from fencepost.names import listed, tail
from fencepost.settings.model import NetClass, Settings
from fencepost.signals.interfaces import INTERFACES, Bus, Interface, is_slow
from fencepost.units import Frequency, Time, with_prefix

LONGEST_NAME = 200
"""Longer names are not looked at: nobody wrote them to be read."""

Beginning = tuple[str, str]
"""What the names of a bus have in common: their sheet, and what they begin with, in capitals."""

ByLength = dict[int, set[Beginning]]
"""Beginnings by how many characters they have: of a name only those of a few lengths need be looked for."""


def recognised_classes(names: Iterable[str]) -> tuple[NetClass, ...]:
    """Classes of the nets whose names say what they are, each net in one of them, classes in the table's order.

    Sheet paths do not count. A pin with several uses is named for all of them, divided by a backslash or a bar: the
    first that is known counts.
    """
    uses = {name: re.split(r"[\\|]", tail(name).upper()) for name in set(names) if len(name) <= LONGEST_NAME}
    all_uses = {(_sheet(name), use) for name, own in uses.items() for use in own}
    buses = {entry.name: _beginnings(entry.bus, all_uses) for entry in INTERFACES if entry.bus}
    members: dict[str, list[str]] = defaultdict(list)
    for name, own in sorted(uses.items()):
        kind = next((kind for use in own if (kind := _interface_of(_sheet(name), use, buses))), None)
        if kind:
            members[kind].append(name)
    return tuple(_class(entry, members[entry.name]) for entry in INTERFACES if members[entry.name])


def _class(entry: Interface, nets: list[str]) -> NetClass:
    frequency = entry.speed if isinstance(entry.speed, Frequency) else None
    rise_time = entry.speed if isinstance(entry.speed, Time) else None
    return NetClass(name=entry.name, nets=tuple(nets), frequency=frequency, rise_time=rise_time, fence=entry.fence)


def _sheet(name: str) -> str:
    return name[: -len(tail(name))]


def _beginnings(bus: Bus, uses: Set[tuple[str, str]]) -> ByLength:
    """Where a bus is found, by the sheets and names of all nets: there its anchor stands, and enough of its members."""
    matched = ((sheet, bus.anchor.fullmatch(use)) for sheet, use in uses)
    anchored = _by_length((sheet, match["prefix"]) for sheet, match in matched if match)
    if not anchored:
        return anchored
    count = Counter(begin for sheet, use in uses for begin in _member_of(bus, anchored, sheet, use))
    return _by_length(begin for begin, number in count.items() if number >= bus.fewest and not is_slow(begin[1]))


def _by_length(beginnings: Iterable[Beginning]) -> ByLength:
    found: ByLength = defaultdict(set)
    for begin in beginnings:
        found[len(begin[1])].add(begin)
    return found


def _member_of(bus: Bus, beginnings: ByLength, sheet: str, use: str) -> list[Beginning]:
    """Those of the beginnings that this name goes on from as a member of the bus."""
    own = [(sheet, use[:i]) for i, known in beginnings.items() if i < len(use) and (sheet, use[:i]) in known]
    return [begin for begin in own if bus.member.fullmatch(use, len(begin[1]))]


def _interface_of(sheet: str, use: str, buses: dict[str, ByLength]) -> str | None:
    for entry in INTERFACES:
        if entry.bus and buses[entry.name] and _member_of(entry.bus, buses[entry.name], sheet, use):
            return entry.name
    if is_slow(use):
        return None
    return next((entry.name for entry in INTERFACES if entry.names and entry.names.fullmatch(use)), None)


def with_classes(board: Board, settings: Settings) -> tuple[Settings, tuple[str, ...]]:
    """The settings, with recognised classes where they name none, and what was taken for what."""
    if settings.classes:
        return settings, ()
    classes = recognised_classes(net.name for net in board.nets if net.named and net.kind is NetKind.SIGNAL)
    said = tuple(f'class "{entry.name}" by name, with {kept_by(entry)}: {listed(entry.nets)}' for entry in classes)
    return msgspec.structs.replace(settings, classes=classes), said


def kept_by(entry: NetClass) -> str:
    """What a class asks for: `a frequency of 2.5 GHz and fences`, `a rise time of 1 ns`."""
    if entry.frequency is not None:
        speed = f"a frequency of {with_prefix(entry.frequency, 'Hz')}"
    else:
        speed = f"a rise time of {with_prefix(entry.rise_time or 0.0, 's')}"
    return f"{speed} and fences" if entry.fence else speed
