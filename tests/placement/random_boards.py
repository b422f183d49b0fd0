"""Small boards made by chance, and what is legal on them, measured by plain distances from how they were defined.

Nothing here uses the engine: a place is legal where the distances from it to the sketch's own copper and holes say so.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sketch import Sketch
from sketch.items import Hole, Item, Pad

CENTRE = (5.0, 5.0)
LIMIT = 1.2
SIGNAL = "SIG"


@dataclass(frozen=True)
class Sizes:
    """What a via must keep to, in mm, as the settings give it."""

    drill: float = 0.3
    pad: float = 0.5
    clearance: float = 0.15
    wall: float = 0.25
    edge: float = 0.3
    plating: float = 0.1
    unplated: float = 0.2

    @property
    def settings(self) -> str:
        return (
            f'[board]\nplating = "{self.plating} mm"\n'
            f'[placement]\ndrill = "{self.drill} mm"\npad = "{self.pad} mm"\nclearance = "{self.clearance} mm"\n'
            f'hole_wall = "{self.wall} mm"\nedge = "{self.edge} mm"\n'
        )


def random_board(seed: int) -> Sketch:
    """Ground on L2 and L3, a signal that changes from L1 to L4 at the centre, and clutter on all layers."""
    rng = random.Random(seed)
    board = Sketch(layers=4, size=(10.0, 10.0), name=f"board-{seed}")
    if rng.random() < 0.3:
        board.cutout(shapely.Point(CENTRE[0] + rng.uniform(1, 2), CENTRE[1]).buffer(0.5, quad_segs=4))
    board.via(SIGNAL, CENTRE, drill=0.3, pad=0.6)
    board.trace(SIGNAL, 1, [(1.0, 5.0), CENTRE], 0.15)
    board.trace(SIGNAL, 4, [(9.0, 5.0), CENTRE], 0.15)
    board.via("GND", (1.0, 9.0), drill=0.3, pad=0.6)
    crowd = rng.choice((4, 12, 25, 40))
    for i in range(crowd):
        x, y = CENTRE[0] + rng.uniform(-2, 2), CENTRE[1] + rng.uniform(-2, 2)
        if math.dist((x, y), CENTRE) < 0.8:
            continue
        kind = rng.random()
        angle, length = rng.uniform(0, 2 * math.pi), rng.uniform(0.3, 2.0)
        end = (round(x + length * math.cos(angle), 3), round(y + length * math.sin(angle), 3))
        at, layer = (round(x, 3), round(y, 3)), rng.randint(1, 4)
        if kind < 0.5:
            board.trace(f"N{i}", rng.choice((1, 4, layer)), [at, end], rng.choice((0.1, 0.15, 0.3)))
        elif kind < 0.65:
            board.via(f"N{i}", at, drill=0.25, pad=0.5)
        elif kind < 0.8:
            size = (rng.uniform(0.3, 0.9), rng.uniform(0.3, 0.9))
            net = rng.choice(("GND", f"N{i}"))
            board.pad(f"U{i}", "1", net, rng.choice((1, 4)), at, size, angle=rng.choice((0.0, 30.0)))
        elif kind < 0.87:
            board.hole(at, 0.5)
        elif kind < 0.94:
            board.via("GND", at, drill=0.3, pad=0.6)
        else:
            board.copper(f"N{i}", layer, shapely.box(*at, at[0] + 0.8, at[1] + 0.5))
        if shorted(board):
            board.remove(board.items[-1])
    for layer in (2, 3):
        board.pour("GND", layer, clearance=rng.choice((0.12, 0.2, 0.3)))
    if rng.random() < 0.4:
        board.pour(rng.choice(("GND", "VCC")), 1, shapely.box(0, 0, rng.uniform(3, 8), 10), clearance=0.2)
    return board


def shorted(board: Sketch) -> bool:
    """Whether the item added last comes near to copper of another net, or a hole in anything."""
    last, *others = reversed(board.items)
    for layer in range(1, board.layers + 1):
        shape = _outline(last, layer)
        for other in others:
            near = _outline(other, layer)
            apart = last.net != other.net or getattr(last, "drill", None) or getattr(other, "drill", None)
            if shape is not None and near is not None and apart and shape.distance(near) < 0.1:
                return True
    return False


def _outline(item: Item, layer: int) -> BaseGeometry | None:
    shape = item.drill.outline if isinstance(item, Hole) else item.on(layer)
    return None if shape is None else shape.polygon()


def legal(board: Sketch, sizes: Sizes, points: np.ndarray, spare: float) -> np.ndarray:
    """Which of these points (n, 2) are legal with `spare` mm more than every distance asks for, bool (n)."""
    left = np.arange(len(points))
    shapes = shapely.points(points)
    for test in (_tied, _off_edge, _off_holes, _off_copper, _off_pads):
        left = left[test(board, sizes, shapes[left], spare)]
    found = np.zeros(len(points), dtype=bool)
    found[left] = np.hypot(*(points[left] - CENTRE).T) <= LIMIT - spare
    return found


def _farther(area, points: np.ndarray, distance: float) -> np.ndarray:
    shapely.prepare(area)
    return ~shapely.dwithin(area, points, distance)


def _tied(board: Sketch, sizes: Sizes, points: np.ndarray, spare: float) -> np.ndarray:
    """The whole pad lies in ground on L2 and on L3."""
    good = np.ones(len(points), dtype=bool)
    for layer in (2, 3):
        ground = board.copper_of(layer)["GND"]
        shapely.prepare(ground)
        good &= shapely.intersects(ground, points) & _farther(ground.boundary, points, sizes.pad / 2 + spare)
    return good


def _off_edge(board: Sketch, sizes: Sizes, points: np.ndarray, spare: float) -> np.ndarray:
    return shapely.intersects(board.profile, points) & _farther(
        board.profile.boundary, points, sizes.pad / 2 + sizes.edge + spare
    )


def _off_holes(board: Sketch, sizes: Sizes, points: np.ndarray, spare: float) -> np.ndarray:
    """Walls as drilled, and copper from holes of other nets."""
    good = np.ones(len(points), dtype=bool)
    for drill in board.drills:
        away = shapely.distance(points, shapely.LineString([drill.start, drill.end])) - drill.width / 2
        wall = away - (sizes.plating / 2 if drill.plated else 0.0)
        good &= wall - (sizes.drill + sizes.plating) / 2 >= sizes.wall + spare
        if not drill.plated:
            good &= away - sizes.pad / 2 >= max(sizes.unplated, sizes.clearance) + spare
        elif drill.net != "GND":
            good &= wall - sizes.pad / 2 >= sizes.clearance + spare
    return good


def _off_copper(board: Sketch, sizes: Sizes, points: np.ndarray, spare: float) -> np.ndarray:
    good = np.ones(len(points), dtype=bool)
    barrel = (sizes.drill + sizes.plating) / 2 + sizes.clearance
    for layer in range(1, board.layers + 1):
        others = shapely.union_all([area for net, area in board.copper_of(layer).items() if net != "GND"])
        good &= _farther(others, points, max(sizes.pad / 2 + sizes.clearance, barrel) + spare)
    return good


def _off_pads(board: Sketch, sizes: Sizes, points: np.ndarray, spare: float) -> np.ndarray:
    """Pads of components that are ground, which take solder."""
    shapes = [item.on(item.layers[0]).polygon() for item in board.items if isinstance(item, Pad) and item.net == "GND"]
    return _farther(shapely.union_all(shapes), points, sizes.pad / 2 + sizes.clearance + spare)


def around(radius: float, step: float) -> np.ndarray:
    """A grid of points about the centre, (n, 2), no farther from it than `radius`."""
    line = np.arange(-radius, radius + step, step)
    grid = np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2)
    return grid[np.hypot(*grid.T) <= radius] + CENTRE
