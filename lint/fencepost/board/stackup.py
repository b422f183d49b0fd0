"""Thickness and permittivity between every two copper layers."""

from __future__ import annotations

import numpy as np

from fencepost.frozen import dataclass


@dataclass(frozen=True)
class Gap:
    """The dielectric between two neighbouring copper layers. `assumed` where nobody said so."""

    thickness: float
    permittivity: float
    assumed: bool = False


@dataclass(frozen=True)
class Stackup:
    """Layers count from 1: `gaps[i]` lies below layer i + 1, `copper[i]` is the thickness of layer i + 1.

    All in mm. Heights are from copper surface to copper surface.
    """

    gaps: tuple[Gap, ...]
    copper: tuple[float, ...]

    @property
    def layers(self) -> int:
        """How many copper layers."""
        return len(self.copper)

    @property
    def thickness(self) -> float:
        """From the outer surface of the first copper layer to that of the last, in mm."""
        return sum(gap.thickness for gap in self.gaps) + sum(self.copper)

    def height(self, first: int, last: int) -> float:
        """Dielectric and copper between two layers (1-based), without the two themselves, in mm."""
        low, high = sorted((first, last))
        between = sum(gap.thickness for gap in self.gaps[low - 1 : high - 1])
        return between + sum(self.copper[low : high - 1])

    def permittivity(self, first: int, last: int) -> float:
        """Of the dielectrics between two layers (1-based), as capacitors in series: sum t / sum(t / er)."""
        low, high = sorted((first, last))
        gaps = self.gaps[low - 1 : high - 1] or self.gaps
        thickness = np.array([gap.thickness for gap in gaps])
        return float(thickness.sum() / (thickness / np.array([gap.permittivity for gap in gaps])).sum())

    @property
    def highest_permittivity(self) -> float:
        """Of all gaps: the shortest wavelength on the board."""
        return max((gap.permittivity for gap in self.gaps), default=1.0)
