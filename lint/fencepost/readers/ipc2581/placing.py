"""Where a feature goes: Xform and Location."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from fencepost.frozen import dataclass
from fencepost.readers.gerber.transform import IDENTITY, Transform
from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.notes import Notes
from fencepost.readers.ipc2581.values import Values


@dataclass(frozen=True, eq=False)
class Placement:
    """A point p of the feature goes to transform.matrix @ p + (x, y); x and y in mm."""

    transform: Transform = IDENTITY
    x: float = 0.0
    y: float = 0.0

    @property
    def is_identity(self) -> bool:
        return self.transform is IDENTITY and not self.x and not self.y

    @property
    def shift(self) -> NDArray[np.float64]:
        """Where the origin goes, float64 (2)."""
        return np.array([self.x, self.y])

    def at(self, x: float, y: float) -> Placement:
        """The same, moved on."""
        return Placement(self.transform, self.x + x, self.y + y) if x or y else self

    def after(self, inner: Placement) -> Placement:
        """The placement that does `inner` first and then this one."""
        return Placement(_canonical(self.transform.after(inner.transform)), *self.point(inner.x, inner.y))

    def area(self, shape: BaseGeometry) -> BaseGeometry:
        """Where a shape goes."""
        (a, b), (c, d) = self.transform.matrix.tolist()
        return affinity.affine_transform(shape, (a, b, c, d, self.x, self.y))

    def point(self, x: float, y: float) -> tuple[float, float]:
        """Where a point goes."""
        if self.transform is IDENTITY:
            return self.x + x, self.y + y
        moved = self.transform.matrix @ (x, y)
        return float(moved[0]) + self.x, float(moved[1]) + self.y


UNPLACED = Placement()


def _canonical(transform: Transform) -> Transform:
    """IDENTITY itself for what equals it, so that the many features that are not turned are told quickly."""
    return IDENTITY if transform == IDENTITY else transform


def xform_of(owner: Node, values: Values, scale: float, notes: Notes) -> Placement:
    """The Xform of an element, or none at all.

    In order: the offset is added, then it is rotated counterclockwise, mirrored (x becomes -x) and scaled. That the
    rotation comes before the mirroring was found by holding component pins against their pads in a file of the IPC-2581
    consortium; the offset's place is the one in which the attributes are listed, and is said where it matters.
    """
    node = owner.child("Xform")
    if node is None:
        return UNPLACED
    x, y = values.position(node, "xOffset", "yOffset", scale, 0.0)
    degrees = values.number(node, "rotation", 0.0)
    mirrored = values.flag(node, "mirror")
    factor = values.number(node, "scale", 1.0)
    if not 0 < factor <= values.limits.reach:
        raise values.source.error(node.offset, f"expected a scale above 0 and within reach, not {factor:g}")
    # Transform mirrors before it rotates: mirroring after a rotation is mirroring before the opposite one.
    turned = _canonical(Transform.of("X" if mirrored else "N", -degrees if mirrored else degrees, factor))
    if (x or y) and turned is not IDENTITY:
        notes.add("the offset of an Xform is taken to be added before it rotates, mirrors and scales", node.offset)
    return Placement(turned, *Placement(turned).point(x, y))


def locations_of(owner: Node, values: Values, scale: float) -> list[tuple[float, float]]:
    """All Locations of an element, in mm; the origin where it has none."""
    return [values.position(node, "x", "y", scale) for node in owner.children if node.tag == "Location"] or [(0.0, 0.0)]
