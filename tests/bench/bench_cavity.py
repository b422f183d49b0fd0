"""How long the resonances of a pour take: 100 x 80 mm with 400 ties, and harder ones. Run it: it prints a table."""

from __future__ import annotations

import resource
import time

import numpy as np
import shapely
from scipy.spatial import KDTree
from shapely import Polygon, box

from fencepost.physics.cavity import cavity_modes, frequency_with_tie

BOARD = box(0, 0, 100, 80)


def spread(seed: int, count: int, apart: float, inside: Polygon) -> np.ndarray:
    """Places at random in a pour, no two nearer than `apart`."""
    points = np.random.default_rng(seed).uniform((0.5, 0.5), (99.5, 79.5), (20 * count, 2))
    points = points[shapely.contains_xy(inside, points)]
    near = KDTree(points).query_pairs(apart)
    dropped = np.zeros(len(points), dtype=bool)
    for i, j in sorted(near):
        dropped[j] |= not dropped[i]
    return points[~dropped][:count]


def with_clearances(count: int) -> Polygon:
    """The pour with round clearances of 0.9 mm, as antipads make them."""
    holes = shapely.buffer(shapely.points(spread(1, count, 1.1, BOARD)), 0.45, quad_segs=24)
    return BOARD.difference(shapely.union_all(holes))


def main() -> None:
    grid = np.stack(np.meshgrid(np.linspace(2, 98, 20), np.linspace(2, 78, 20)), axis=-1).reshape(-1, 2)
    drilled = with_clearances(1000)
    safe = drilled.buffer(-0.2)
    cases = {
        "bare": (BOARD, np.empty((0, 2))),
        "400 ties in rows": (BOARD, grid),
        "400 ties at random": (BOARD, spread(2, 400, 1.0, BOARD)),
        "2000 ties at random": (BOARD, spread(3, 2000, 0.8, BOARD)),
        "1000 clearances, 300 ties": (drilled, spread(4, 300, 0.8, max(shapely.get_parts(safe), key=shapely.area))),
    }
    for name, (outline, ties) in cases.items():
        start, busy = time.perf_counter(), time.process_time()
        cavity = cavity_modes(outline, ties, 0.3, 4.2)
        middle, busy = time.perf_counter(), time.process_time() - busy
        frequency_with_tie(cavity, cavity.spots[0], 0.25)
        after = time.perf_counter()
        mesh = cavity.problem.mesh
        print(
            f"{name:27}{middle - start:6.2f} s ({busy:5.2f} s of processor), one more tie {after - middle:5.2f} s, ",
            end="",
        )
        print(f"{len(mesh):6} cells of {mesh.step:.2f} mm, ", end="")
        print(f"first at {cavity.frequencies[0] / 1e9:6.3f} GHz, last moved by {100 * cavity.moved:.2f} %")
    print(f"largest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")


if __name__ == "__main__":
    main()
