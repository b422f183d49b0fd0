"""A fencepost.toml for a board that has none: what was recognised, each guess marked, to be checked by a person."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap
from typing import Any

import msgspec

from fencepost.board.model import Board, NetKind
from fencepost.board.nets import recognised_kind
from fencepost.board.stackup import Gap
from fencepost.names import listed
from fencepost.report.escape import escape
from fencepost.report.text import millimetres
from fencepost.settings.model import NetClass, Settings
from fencepost.settings.wildcards import pattern_for, patterns_for
from fencepost.settings.written import key_part, written
from fencepost.signals.interfaces import INTERFACES
from fencepost.signals.pairs import pairs_of
from fencepost.units import Frequency, Length, Ratio

WIDTH = 110
_WHAT = {entry.name: entry.what for entry in INTERFACES}

_OTHERWISE = {
    NetKind.GROUND: "by ground_at",
    NetKind.POWER: "guess: by the area that it fills on one layer",
}

HEAD = """\
# What a person knows of this board and its files do not say. Drafted by `fencepost init`: check every line that is
# marked as a guess, put in what is true of the board, and take the mark away. `fencepost explain RULE` prints the
# settings of a rule.
"""


def draft(board: Board, settings: Settings) -> str:
    """The text of the file.

    `settings` are those that the package was read with, of which the tables of the board and its files are kept, and
    the classes that were recognised. Every pattern fits the nets that are meant and no other one of the board.
    """
    parts = [_board(board, settings), _nets(board, settings), *_files(settings), *_pairs(board, settings)]
    parts += [_class(board, entry) for entry in settings.classes]
    return "\n".join([HEAD, *("".join(f"{line}\n" for line in part) for part in map(list, parts) if part)])


def _comment(text: str) -> list[str]:
    return wrap(escape(text), WIDTH, initial_indent="# ", subsequent_indent="# ", break_on_hyphens=False)


def _board(board: Board, settings: Settings) -> Iterator[str]:
    given, stackup = settings.board, board.stackup
    yield "[board]"
    yield from _given(given, leave_out=("dielectric",))
    highest = max((entry.highest_frequency or 0.0 for entry in settings.classes), default=0.0)
    if given.frequency is None and highest:
        yield f"# frequency = {written(Frequency(highest))}  # guess: the highest of the classes below"
    for entry in given.dielectric:
        yield from ("[[board.dielectric]]", *_given(entry))
    if given.dielectric:
        return
    if any(gap.assumed for gap in stackup.gaps):
        yield from _comment("The files give no whole stackup. Guess, from the top down; your fabricator's is better:")
        for gap in stackup.gaps:
            yield from (f"# {line}" for line in _gap(gap))
    elif stackup.gaps:
        yield from _comment(f"The files give the stackup, {millimetres(stackup.thickness)} mm in all.")


def _gap(gap: Gap) -> Iterator[str]:
    yield "[[board.dielectric]]"
    yield f"thickness = {written(Length(gap.thickness))}"
    yield f"dielectric_constant = {written(Ratio(gap.permittivity))}"


def _nets(board: Board, settings: Settings) -> Iterator[str]:
    yield "[nets]"
    yield from _given(settings.nets)
    names = [net.name for net in board.nets]
    for kind in (NetKind.GROUND, NetKind.POWER):
        nets = [net for net in board.nets if net.kind is kind]
        if all(net.named for net in nets):
            yield from _kind(kind, [net.name for net in nets], names)
        else:
            yield f"# {kind.value} is recognised afresh each time: some of its nets have no names"
    if settings.nets.ground_at is None and not len(board.nets_of(NetKind.GROUND)):
        yield '# ground_at = "0, 0"  # a point on ground copper, in mm: no net is called after ground'


def _kind(kind: NetKind, nets: list[str], names: list[str]) -> Iterator[str]:
    if not nets:
        return
    yield f"{kind.value} = ["
    for name in nets:
        why = "guess: by name" if recognised_kind(name) is kind else _OTHERWISE[kind]
        yield f"    {written(pattern_for(name, names))},  # {why}"
    yield "]"


def _files(settings: Settings) -> Iterator[Iterator[str]]:
    if settings.layers:
        yield iter(["[layers]", *(f"{key_part(name)} = {written(layer)}" for name, layer in settings.layers.items())])
    for name, claim in settings.drill.items():
        yield iter([f"[drill.{key_part(name)}]", *_given(claim)])


def _given(table: msgspec.Struct, leave_out: tuple[str, ...] = ()) -> Iterator[str]:
    """A line for each key of a table that says something."""
    for field in msgspec.structs.fields(table):
        value: Any = getattr(table, field.name)
        if field.encode_name not in leave_out and value not in (None, {}, ()):
            yield f"{field.encode_name} = {written(value)}"


def _pairs(board: Board, settings: Settings) -> Iterator[Iterator[str]]:
    """Those that the settings gave, and those that names tell of."""
    for given in settings.pairs:
        yield iter(["[[pair]]", *_given(given)])
    for i, pair in enumerate(pair for pair in pairs_of(board, settings) if not pair.given):
        remark = _comment("Guess: pairs by the names of their halves.") if i == 0 else ()
        yield iter([*remark, "[[pair]]", f"nets = {written((pair.positive, pair.negative))}"])


def _class(board: Board, entry: NetClass) -> Iterator[str]:
    inside = set(entry.nets)
    patterns = patterns_for(entry.nets, [net.name for net in board.nets if net.name not in inside])
    yield from _comment(f"Guess, by name: {_WHAT.get(entry.name, entry.name)}. {listed(entry.nets)}.")
    yield "[[class]]"
    yield f"name = {written(entry.name)}"
    yield from _list("nets", patterns)
    if entry.frequency is not None:
        yield f"frequency = {written(entry.frequency)}  # guess: put in the board's own"
    if entry.rise_time is not None:
        yield f"rise_time = {written(entry.rise_time)}  # guess, typical: or a frequency"
    if entry.fence:
        yield "fence = true  # guess: ground vias along both sides of its traces"
        yield '# impedance = "50 ohm"'


def _list(key: str, items: tuple[str, ...]) -> Iterator[str]:
    """On one line where there is room, else an item on each."""
    line = f"{key} = {written(items)}"
    if len(line) <= WIDTH:
        yield line
    else:
        yield from (f"{key} = [", *(f"    {written(item)}," for item in items), "]")
