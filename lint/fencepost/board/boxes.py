"""Which parts of a layer lie near which, by their boxes.

On a layer of very many parts the tree is over the geometry itself, whose own boxes know nothing of `reach`: it is asked
with boxes that are larger, and what it finds is looked at once more. A shape for every box would take 350 bytes a part.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.frozen import dataclass
from fencepost.meeting import AT_ONCE, Pairs, in_steps

MANY = 10_000
"""Parts of a layer from which on not every one of them has a box in the tree, which is the faster way."""

WIDE_MM = 1.0
"""Parts of a farther reach have one even so: what is looked for grows by the farthest reach of those that have none."""

ASKED = 50_000
"""Boxes that are looked for together."""

Bounds = NDArray[np.float64]
"""(n, 4): least x, least y, greatest x and greatest y; NaN of what is empty, and near nothing."""


def grown(bounds: Bounds, by: NDArray[np.float64] | float) -> Bounds:
    """Boxes that reach farther to every side, by as much for each (n) or for all."""
    return np.asarray(bounds + np.asarray(by)[..., None] * [-1.0, -1.0, 1.0, 1.0], dtype=np.float64)


def around(bounds: Bounds, by: NDArray[np.float64] | float) -> NDArray[np.object_]:
    """The same as Polygons."""
    boxes: NDArray[np.object_] = shapely.box(*grown(bounds, by).T)
    return boxes


def spans(bounds: Bounds, by: NDArray[np.float64] | float = 0.0) -> NDArray[np.object_]:
    """Their diagonals, which have the same boxes: for trees, which look at nothing else. Made faster than Polygons."""
    lines: NDArray[np.object_] = shapely.linestrings(grown(bounds, by).reshape(-1, 2, 2), handle_nan="skip")
    return lines


@dataclass(frozen=True, eq=False)
class Boxes:
    """The boxes of n parts, and a tree over them. `geometry` and `reach` as in `board.model.Copper`."""

    geometry: NDArray[np.object_]
    reach: NDArray[np.float64]

    @cached_property
    def bounds(self) -> Bounds:
        """Reach included."""
        return grown(shapely.bounds(self.geometry).reshape(-1, 4), self.reach)

    @cached_property
    def _tree(self) -> tuple[shapely.STRtree, float]:
        """The tree, and by how much to grow what is looked for in it."""
        boxed = self.reach > (WIDE_MM if len(self.reach) > MANY else 0.0)
        geometry = self.geometry.copy()
        geometry[boxed] = spans(self.bounds[boxed])
        return shapely.STRtree(geometry), float(self.reach[~boxed].max(initial=0.0))

    def query(self, shapes: BaseGeometry | NDArray[np.object_]) -> NDArray[np.int64]:
        """The parts whose boxes meet the box of a shape, (k); of several shapes (2, k): shape and part of each pair."""
        tree, beyond = self._tree
        if not beyond:
            found: NDArray[np.int64] = tree.query(shapes)
            return found
        pairs = np.stack(self._all_meeting(shapely.bounds(shapes).reshape(-1, 4)))
        return pairs if isinstance(shapes, np.ndarray) else pairs[1]

    def meeting(self, bounds: Bounds, most: int) -> Pairs:
        """All pairs of one of these boxes and a part whose box meets it, in the order of these boxes.

        Raises TooManyMeet, with the row of a box, for more pairs than `most`, before all of them are made.
        """
        return self._all_meeting(bounds, most)

    def meeting_one_another(self, within: float, most: int) -> Pairs:
        """All pairs of parts whose boxes come within so many mm of one another, each once, the lesser part first.

        Raises TooManyMeet likewise, with a part.
        """
        return self._all_meeting(grown(self.bounds, within), most, once=True)

    def _all_meeting(self, bounds: Bounds, most: int | None = None, once: bool = False) -> Pairs:
        step = min(max(AT_ONCE // max(len(self.reach), 1), 1), ASKED)
        return in_steps(lambda rows: self._meeting(bounds[rows]), len(bounds), step, most, once=once)

    def _meeting(self, bounds: Bounds) -> Pairs:
        tree, beyond = self._tree
        box, part = tree.query(spans(bounds, beyond))
        if not beyond:
            return box, part
        theirs, own = self.bounds[part], bounds[box]
        meet = ((theirs[:, :2] <= own[:, 2:]) & (theirs[:, 2:] >= own[:, :2])).all(axis=1)
        return box[meet], part[meet]
