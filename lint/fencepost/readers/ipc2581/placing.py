"""Where a feature goes: Xform and Location."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from fencepost.readers.gerber.transform import IDENTITY, Transform
from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.notes import Notes
from fencepost.readers.ipc2581.values import Values


@dataclass(frozen=True, eq=False)
class Placement:
    """A point p of the feature goes to transform.matrix @ p + shift; `shift` in mm, float64 (2)."""

    transform: Transform
    shift: NDArray[np.float64]

    @property
    def is_identity(self) -> bool:
        return self.transform == IDENTITY and not self.shift.any()

    def at(self, x: float, y: float) -> Placement:
        """The same, moved on."""
        return Placement(self.transform, self.shift + np.array([x, y]))

    def after(self, inner: Placement) -> Placement:
        """The placement that does `inner` first and then this one."""
        return Placement(self.transform.after(inner.transform), self.transform.matrix @ inner.shift + self.shift)

    def area(self, shape: BaseGeometry) -> BaseGeometry:
        """Where a shape goes."""
        (a, b), (c, d) = self.transform.matrix.tolist()
        return affinity.affine_transform(shape, (a, b, c, d, *self.shift))

    def point(self, x: float, y: float) -> tuple[float, float]:
        """Where a point goes."""
        if self.transform == IDENTITY:
            return float(x + self.shift[0]), float(y + self.shift[1])
        moved = self.transform.matrix @ (x, y) + self.shift
        return float(moved[0]), float(moved[1])


UNPLACED = Placement(IDENTITY, np.zeros(2))


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
    if factor <= 0:
        raise values.source.error(node.offset, f"expected a scale above 0, not {factor:g}")
    # Transform mirrors before it rotates: mirroring after a rotation is mirroring before the opposite one.
    turned = Transform.of("X" if mirrored else "N", -degrees if mirrored else degrees, factor)
    if turned == IDENTITY:
        return Placement(turned, np.array([x, y])) if x or y else UNPLACED
    if x or y:
        notes.add("the offset of an Xform is taken to be added before it rotates, mirrors and scales", node.offset)
    return Placement(turned, turned.matrix @ (x, y))


def locations_of(owner: Node, values: Values, scale: float) -> list[tuple[float, float]]:
    """All Locations of an element, in mm; the origin where it has none."""
    found = [values.position(node, "x", "y", scale) for node in owner.all("Location")]
    return found or [(0.0, 0.0)]
