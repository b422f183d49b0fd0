"""Differential pairs: from the settings, from the package, or by the names in common use for their two halves."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from itertools import product

import numpy as np

from fencepost.board.model import Board, NetKind
from fencepost.board.shared import shared
from fencepost.errors import SettingsError
from fencepost.frozen import dataclass
from fencepost.names import listed
from fencepost.settings.decode import did_you_mean
from fencepost.settings.model import Settings
from fencepost.signals.transitions import Transition, transitions_of

_HALF = re.compile(
    r"(?P<stem>.*?)(?:(?P<mark>[_-]?)(?:(?P<pn>[PN])|(?P<dpdm>D[PMN])|(?P<words>POS|NEG))|(?P<sign>[+-]))(?P<tail>_?\d*)",
    re.IGNORECASE,
)
_POSITIVE = {"P", "DP", "POS", "+"}
_PARTNERS = {"P": ("N",), "DP": ("DM", "DN"), "POS": ("NEG",), "+": ("-",)}


@dataclass(frozen=True)
class Pair:
    """The nets of a pair by name, and the name of the pair. `given` is False where only the names tell of it."""

    name: str
    positive: str
    negative: str
    given: bool = False


def pairs_of(board: Board, settings: Settings) -> tuple[Pair, ...]:
    """All pairs of a board, by name; each net is in one of them.

    What the settings say goes before what the package says, and that before names. Raises SettingsError, without the
    file's name, where a pair of the settings names a net that there is not, or one that is in a pair already.
    """
    pairs = _from_settings(board, settings)
    taken = {net for pair in pairs for net in (pair.positive, pair.negative)}
    for first, second in board.pairs:
        if taken.isdisjoint((first, second)) and {first, second} <= board.net_index.keys():
            pairs.append(_named(first, second))
            taken |= {first, second}
    signals = (net.name for net in board.nets if net.kind is NetKind.SIGNAL and net.name not in taken)
    return tuple(sorted((*pairs, *pairs_by_name(signals)), key=lambda pair: (pair.name, pair.positive)))


def said_of_pairs(pairs: Iterable[Pair]) -> tuple[str, ...]:
    """What was assumed: the pairs that only the names of their nets tell of."""
    found = [pair.name for pair in pairs if not pair.given]
    return (f"differential pairs by name: {listed(found)}",) if found else ()


def pairs_by_name(names: Iterable[str]) -> tuple[Pair, ...]:
    """All pairs whose two halves are both there, sorted by name.

    Halves end in P and N, DP and DM (or DN), POS and NEG, or + and -, with or without _ or - before them; a number may
    follow. Upper and lower case stay together: `Tx_p` goes with `Tx_n`.
    """
    known = set(names)
    found = {}
    for name in sorted(known):
        match = _HALF.fullmatch(name)
        if match is None:
            continue
        mark = match["pn"] or match["dpdm"] or match["words"] or match["sign"]
        if mark.upper() not in _POSITIVE or not match["stem"].strip("_-/"):
            continue
        for partner in _PARTNERS[mark.upper()]:
            other = partner.lower() if mark.islower() else partner
            before = match["stem"] + (match["mark"] or "")
            twin = before + other + match["tail"]
            if twin in known and name not in found:
                stem = (before + ("D" if len(mark) == 2 else "")).rstrip("_-") + match["tail"]
                found[name] = Pair(stem, name, twin)
    return tuple(sorted(found.values(), key=lambda pair: pair.name))


def halves_of(board: Board, pair: Pair) -> tuple[int, int]:
    """The nets (indices into Board.nets) under which a pair's halves own copper.

    Where copper joins two nets, as a bridged jumper does, all of it goes by the name of one of them.
    """
    owner = _owners(board)
    positive, negative = (board.net_index[name] for name in (pair.positive, pair.negative))
    return owner.get(positive, positive), owner.get(negative, negative)


@shared
def _owners(board: Board) -> dict[int, int]:
    """The net that owns the copper of each net that has none in its own name."""
    owners = set(board.pieces.net.tolist())
    joined = {net: conflict.island for conflict in board.conflicts for net in conflict.nets if net not in owners}
    return {net: int(board.pieces.net[board.pieces.island == island][0]) for net, island in joined.items()}


@shared
def _by_net(board: Board) -> dict[int, list[Transition]]:
    """The transitions of each net."""
    found: dict[int, list[Transition]] = {}
    for one in transitions_of(board):
        found.setdefault(one.net, []).append(one)
    return found


@dataclass(frozen=True)
class PairTransitions:
    """Transitions of a pair: those that its halves make side by side, the positive one first, and the others.

    `alone` has them by the names of the half whose they are and of the other half.
    """

    together: tuple[tuple[Transition, Transition], ...]
    alone: dict[tuple[str, str], tuple[Transition, ...]]


def transitions_of_pair(board: Board, pair: Pair, apart: float) -> PairTransitions:
    """Match the transitions of a pair's halves: between the same layers, the nearest first, no more than `apart` mm."""
    positive, negative = halves_of(board, pair)
    own = [_by_net(board).get(net, []) for net in (positive, negative)]
    centre = board.holes.centre
    near = []
    for (i, one), (j, other) in product(enumerate(own[0]), enumerate(own[1])):
        away = float(np.hypot(*(centre[one.hole] - centre[other.hole])))
        if _layers(one) == _layers(other) and away <= apart:
            near.append((away, i, j))
    matched: dict[int, int] = {}
    for _, i, j in sorted(near):
        if i not in matched and j not in matched.values():
            matched[i] = j
    together = tuple((own[0][i], own[1][j]) for i, j in sorted(matched.items()))
    alone = {
        (pair.positive, pair.negative): tuple(one for i, one in enumerate(own[0]) if i not in matched),
        (pair.negative, pair.positive): tuple(one for j, one in enumerate(own[1]) if j not in matched.values()),
    }
    return PairTransitions(together, alone)


def _layers(transition: Transition) -> tuple[int, int]:
    return transition.before.layer, transition.after.layer


def _from_settings(board: Board, settings: Settings) -> list[Pair]:
    pairs: list[Pair] = []
    taken: dict[str, int] = {}
    for i, entry in enumerate(settings.pairs):
        for net in entry.nets:
            key = f"pair[{i}].nets"
            if net not in board.net_index:
                raise SettingsError("", key, f'no net is called "{net}"{did_you_mean(net, board.net_index)}')
            if net in taken:
                where = "twice in this pair" if taken[net] == i else f"in pair[{taken[net]}] already"
                raise SettingsError("", key, f'net "{net}" is {where}; a net can be in one pair only')
            taken[net] = i
        pairs.append(_named(*entry.nets))
    return pairs


def _named(first: str, second: str) -> Pair:
    """A pair that was given; its positive half is the one that names tell, else the first."""
    told = next(iter(pairs_by_name((first, second))), Pair(first, first, second))
    return replace(told, given=True)
