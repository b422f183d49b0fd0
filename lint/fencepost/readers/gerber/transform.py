"""Mirroring, rotation and scaling of apertures: LM, LR, LS."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fencepost.frozen import dataclass

_DIGITS = 9


@dataclass(frozen=True)
class Transform:
    """First mirror the x coordinates, then rotate by `degrees` counterclockwise, then scale; all about the origin."""

    mirrored: bool = False
    degrees: float = 0.0
    scale: float = 1.0

    @classmethod
    def of(cls, mirror: str, degrees: float, scale: float) -> Transform:
        """From the parameters of LM (N, X, Y or XY), LR and LS. Mirroring y is mirroring x and half a turn."""
        turned = degrees + (180.0 if "Y" in mirror else 0.0)
        return cls(mirror in ("X", "Y"), round(turned % 360.0, _DIGITS) % 360.0, scale)

    def after(self, inner: Transform) -> Transform:
        """The transform that does `inner` first and then this one."""
        turned = self.degrees + (-inner.degrees if self.mirrored else inner.degrees)
        return Transform(
            self.mirrored != inner.mirrored,
            round(turned % 360.0, _DIGITS) % 360.0,
            float(f"{self.scale * inner.scale:.{_DIGITS}g}"),
        )

    @property
    def matrix(self) -> NDArray[np.float64]:
        """(2, 2), for columns of coordinates; exact at quarter turns."""
        quarters, rest = divmod(self.degrees, 90.0)
        if rest:
            cosine, sine = math.cos(math.radians(self.degrees)), math.sin(math.radians(self.degrees))
        else:
            cosine, sine = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
        flip = -1.0 if self.mirrored else 1.0
        return np.array([[cosine * flip, -sine], [sine * flip, cosine]]) * self.scale


IDENTITY = Transform()
