"""500 random boards by brute force: `python tests/bench/bench_placement.py [boards]`."""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "fixtures"), str(ROOT / "tests")]


def main(count: int) -> None:
    """Try them all, and print what was found."""
    from placement.brute_force import trial

    start, tried = perf_counter(), [trial(seed) for seed in range(count)]
    print(f"{count} boards in {perf_counter() - start:.0f} s")
    print(f"with room {sum(one.spot is not None for one in tried)}, without {sum(one.spot is None for one in tried)}")
    print("illegal:", [seed for seed, one in enumerate(tried) if not one.is_legal])
    print("a legal place nearer:", [seed for seed, one in enumerate(tried) if len(one.nearer)])


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
