"""From net names to patterns that fit them and no others: the way back from `settings.patterns`."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from glob import escape

from fencepost.names import tail
from fencepost.settings.patterns import matches

_TOKEN = re.compile(r"[A-Za-z]+|[0-9]+|.", re.DOTALL)
_NOT_TOML = re.compile(r"[\ud800-\udfff]")
"""Half characters can stand in a Gerber file, but in no text file: a pattern has `?` for them."""

SHORTEST = 3
"""Letters and digits before a `*`, so that a net of the next revision is not taken in by chance; `RF_*` is enough."""


def patterns_for(wanted: Collection[str], others: Collection[str]) -> tuple[str, ...]:
    """Patterns that fit every name of `wanted` and none of `others`.

    Names that begin alike share a pattern: `USB_D*`, `*/DSI-*` for any sheet, `A[0-9]*`. The rest is listed. Only names
    that hold `*` or `?` themselves, beside others in brackets, may have no pattern that tells them apart.
    """
    patterns = []
    everything = [*wanted, *others]
    left = sorted(wanted)
    while left:
        pattern = _shared(left[0], left, others) or pattern_for(left[0], everything)
        patterns.append(pattern)
        left = [name for name in left[1:] if not matches(name, (pattern,))]
    return tuple(patterns)


def _shared(name: str, wanted: Collection[str], others: Collection[str]) -> str:
    """The best pattern with a `*` that fits this name and more of the wanted; "" where none does.

    It fits the most names, and of such is the simplest, and of such the narrowest.
    """
    best = (1, False, 0, "")
    path, own = _path_and_tail(name)
    start = "*/" if path.strip("/") else escape(path)
    for stem in _stems(own):
        for end in ("*", "[0-9]*") if _tells(stem) else ("[0-9]*",):
            pattern = _written(start + escape(stem) + end)
            if matches(name, (pattern,)) and not any(stem in one and matches(one, (pattern,)) for one in others):
                count = sum(stem in one and matches(one, (pattern,)) for one in wanted)
                best = max(best, (count, end == "*", len(stem), pattern)) if count > 1 else best
    return best[-1]


def _stems(own: str) -> Iterator[str]:
    """The beginnings of a name that end where a word or a number does."""
    cuts = [match.end() for match in _TOKEN.finditer(own)][:-1]
    return (own[:cut] for cut in cuts if own[cut - 1].isalnum() or own[cut - 1] in "_-")


def _path_and_tail(name: str) -> tuple[str, str]:
    own = tail(name)
    return name[: len(name) - len(own)], own


def _tells(stem: str) -> bool:
    count = sum(char.isalnum() for char in stem)
    return count >= SHORTEST or (count == SHORTEST - 1 and not stem[-1].isalnum())


def pattern_for(name: str, others: Collection[str]) -> str:
    """A pattern for one name: as short as it can be, with what patterns read otherwise made plain where it must be."""
    path, own = _path_and_tail(name)
    whole = [_written(name), _written(escape(name))]
    tries = [_written(f"*/{own}"), *whole] if path.strip("/") else whole
    foreign = [other for other in others if other != name]
    exact = (one for one in tries if matches(name, (one,)) and not any(matches(other, (one,)) for other in foreign))
    return next(exact, tries[-1])


def _written(pattern: str) -> str:
    return _NOT_TOML.sub("?", pattern)
