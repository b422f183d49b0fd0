"""Drill files: Excellon, XNC and Gerber."""

from fencepost.readers.drill.excellon import read_drill
from fencepost.readers.drill.gerber import hits_from_artwork

__all__ = ["hits_from_artwork", "read_drill"]
