"""Damaged files are read or refused: nothing else is raised, and they neither hang nor take much memory.

In the suite a small seeded part of them. `FENCEPOST_FUZZ=20000` has that many read, `FENCEPOST_FUZZ_SEED` from another
seed on; each of them is then stopped after 10 s, and all together may take no more than 1 GB.
"""

from __future__ import annotations

import faulthandler
import os
import resource
import time
from collections import Counter

import pytest

from fuzz.mutation import mutated
from fuzz.targets import outcome, targets

SHARE = {
    "gerber": 0.35, "drill": 0.2, "testnet": 0.1, "job": 0.05, "ipc2581": 0.12, "settings": 0.05, "archive": 0.05,
    "board": 0.08,
}  # fmt: skip
"""How many of all inputs go to each target: most to what is read most."""

ASKED = int(os.environ.get("FENCEPOST_FUZZ", "600"))
SEED = int(os.environ.get("FENCEPOST_FUZZ_SEED", "0"))
BY_HAND = "FENCEPOST_FUZZ" in os.environ
LONGEST_S, MOST_KB = 10, 1_000_000


@pytest.mark.parametrize("name", SHARE)
def test_damaged_input_is_read_or_refused(name: str) -> None:
    """Whatever is raised beside an error for the user fails here, with the seed that repeats it."""
    target = targets()[name]
    counts: Counter[str] = Counter()
    defects: list[str] = []
    longest = (0.0, -1)
    begun = time.monotonic()
    for seed in range(SEED, SEED + max(int(ASKED * SHARE[name]), 1)):
        data = mutated(seed, target.originals)
        if BY_HAND:
            faulthandler.dump_traceback_later(LONGEST_S, exit=True)
        at = time.monotonic()
        try:
            counts[outcome(target, data)] += 1
        except Exception as error:
            defects.append(f"seed {seed}: {type(error).__name__}: {error}")
        longest = max(longest, (time.monotonic() - at, seed))
    faulthandler.cancel_dump_traceback_later()
    if BY_HAND:
        size = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        print(f"\n{name}: {dict(counts)} in {time.monotonic() - begun:.0f} s, slowest {longest}, {size // 1024} MB")
        assert size < MOST_KB
    assert not defects, "\n".join(defects[:20])
    assert counts["refused"], "no damage was found: the mutation does nothing"
