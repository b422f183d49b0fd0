"""Long runs by hand, each input under limits of time and memory:

    python tests/fuzz/campaign.py gerber 5000
    python tests/fuzz/campaign.py package 2000 --from 100000
    python tests/fuzz/campaign.py gate 500

prints what came of them, and every defect with the seed that repeats it. The exit code is 1 where there are any.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2] / "fixtures")]

from fuzz import faulty, oracle  # noqa: E402
from fuzz.confined import Case, run_confined  # noqa: E402
from fuzz.mutation import mutated, mutated_package, packed  # noqa: E402
from fuzz.samples import packages  # noqa: E402
from fuzz.targets import outcome, targets  # noqa: E402


def case_of(name: str) -> Case:
    """What is done with one seed."""
    if name == "package":
        board = targets()["board"]
        return lambda seed: outcome(board, packed(mutated_package(seed, packages())))
    if name == "gate":
        for number in range(len(faulty.packages())):  # once, and not in every worker
            oracle.original(number)
        return oracle.judge
    if name == "demo":
        oracle.original_demo()
        return oracle.judge_demo
    target = targets()[name]
    return lambda seed: outcome(target, mutated(seed, target.originals))


def main() -> int:
    """Run what the command line asks for."""
    parser = argparse.ArgumentParser(description="Feed damaged files to the readers.")
    parser.add_argument("name", choices=[*targets(), "package", "gate", "demo"])
    parser.add_argument("count", type=int)
    parser.add_argument("--from", dest="first", type=int, default=0, metavar="SEED")
    asked = parser.parse_args()
    tally = run_confined(case_of(asked.name), range(asked.first, asked.first + asked.count))
    print(f"{asked.name}: {tally}")
    for defect in tally.defects:
        print(defect)
    return 1 if tally.defects else 0


if __name__ == "__main__":
    sys.exit(main())
