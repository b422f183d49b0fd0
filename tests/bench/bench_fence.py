"""How long it takes to solve a fence: `python tests/bench/bench_fence.py`.

Prints the best of three runs, by the clock and by the processor, which other programs do not slow down.
"""

from __future__ import annotations

from time import perf_counter, process_time

import numpy as np

from fencepost.physics.fence import isolation

PITCH, DIAMETER, FREQUENCY, PERMITTIVITY = 2.032, 0.254, 9.221e9, 4.0
ALLOWED_S = 1.0


def best_of(count: int, repeats: int = 3) -> tuple[float, float]:
    """Seconds for a regular fence of so many posts: elapsed, and of all processors together."""
    posts = np.stack([np.arange(count) * PITCH, np.zeros(count)], axis=1)
    trace = [(0.0, -1.5), (count * PITCH, -1.5)]
    times = []
    for _ in range(repeats):
        start, worked = perf_counter(), process_time()
        isolation(posts, DIAMETER, FREQUENCY, PERMITTIVITY, trace)
        times.append((perf_counter() - start, process_time() - worked))
    return min(times)


def main() -> None:
    for count in (20, 50, 100, 200, 400):
        elapsed, worked = best_of(count)
        share = f", {elapsed / ALLOWED_S:.2f} of the {ALLOWED_S:g} s allowed" if count == 200 else ""
        print(f"{count:4d} posts: {elapsed * 1000:7.1f} ms, processors {worked * 1000:7.1f} ms{share}")


if __name__ == "__main__":
    main()
