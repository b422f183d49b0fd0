"""Differential pairs, by the names in common use for their two halves."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

_HALF = re.compile(
    r"(?P<stem>.*?)(?:(?P<mark>[_-]?)(?:(?P<pn>[PN])|(?P<dpdm>D[PMN])|(?P<words>POS|NEG))|(?P<sign>[+-]))(?P<tail>_?\d*)",
    re.IGNORECASE,
)
_POSITIVE = {"P", "DP", "POS", "+"}
_PARTNERS = {"P": ("N",), "DP": ("DM", "DN"), "POS": ("NEG",), "+": ("-",)}


@dataclass(frozen=True)
class Pair:
    """The nets of a pair by name, and the name of the pair."""

    name: str
    positive: str
    negative: str


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
