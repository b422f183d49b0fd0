"""How much is fuzzed: a little in the suite, the same each time; by hand as much as the environment asks for.

FENCEPOST_FUZZ           damaged inputs of all readers together, and for each twenty of them a damaged package and a few
                         destroyed statements
FENCEPOST_FUZZ_EXAMPLES  generated files of each strategy and property
FENCEPOST_FUZZ_GATES     damaged boards that go through the whole check
FENCEPOST_FUZZ_SEED      the first seed
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

SEED = int(os.environ.get("FENCEPOST_FUZZ_SEED", "0"))


def asked(name: str, usual: int) -> int:
    """How many, from an environment variable or as usual."""
    return int(os.environ.get(f"FENCEPOST_FUZZ{name}", usual))


def examples(usual: int) -> settings:
    """For a property of generated files: always the same ones, unless more are asked for."""
    count = asked("_EXAMPLES", 0)
    return settings(
        max_examples=count or usual,
        derandomize=not count,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
