"""Shapes as path data, the notation that SVG 1.1 (chapter 8) and a browser's canvas share.

Coordinates are whole steps of 10 µm from the lower left corner of the board, y upwards, each relative to the one
before: one step to a point costs some four characters.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.report.page.drawing import Ink

STEP_MM = 0.01

Corner = tuple[float, float]

_POINT, _LINE, _POLYGON = 0, 1, 3


def path_of(geometry: NDArray[np.object_], corner: Corner) -> str:
    """Points (as shortest lines), lines and polygons as one path.

    Outer rings run anticlockwise and holes clockwise, so that the nonzero rule fills what any of the polygons covers.
    """
    flat = shapely.get_parts(geometry)
    if not len(flat):
        return ""
    kind = shapely.get_type_id(flat)
    flat[kind == _POLYGON] = shapely.orient_polygons(flat[kind == _POLYGON])
    rings = shapely.get_rings(flat[kind == _POLYGON])
    text = [_chains(rings, corner, closed=True)] if len(rings) else []
    chains = flat[(kind == _LINE) | (kind == _POINT)]
    if len(chains):
        text.append(_chains(chains, corner, closed=False))
    return "".join(text)


def _chains(lines: NDArray[np.object_], corner: Corner, closed: bool) -> str:
    xy, owner = shapely.get_coordinates(lines, return_index=True)
    steps = np.rint((xy - corner) / STEP_MM).astype(np.int64)
    begins = np.concatenate([[True], owner[1:] != owner[:-1]])
    moved = np.concatenate([[True], (steps[1:] != steps[:-1]).any(axis=1)])
    steps, begins = steps[begins | moved], begins[begins | moved]
    delta = np.diff(steps, axis=0, prepend=0)
    text = []
    for (x, y), (dx, dy), begin in zip(steps.tolist(), delta.tolist(), begins.tolist(), strict=True):
        if begin:
            text.append(f"M{x} {y}" if y >= 0 else f"M{x}{y}")
            alone = True
        else:
            text.append(f"{'l' if alone else ' ' if dx >= 0 else ''}{dx}{' ' if dy >= 0 else ''}{dy}")
            alone = False
    return _ended("".join(text), closed)


def _ended(path: str, closed: bool) -> str:
    """Close every ring; give a chain of one point a length, since nothing draws a line without any."""
    parts = path.split("M")[1:]
    if closed:
        # A ring that shrank to fewer than three corners covers nothing.
        return "".join(f"M{part}z" for part in parts if "l" in part)
    return "".join(f"M{part}" if "l" in part else f"M{part}h1" for part in parts)


def strokes_of(ink: Ink, corner: Corner) -> list[tuple[int, str]]:
    """Lines and points by width: the width in steps of 1 µm, and a path."""
    microns = np.rint(ink.width * 1000).astype(np.int64)
    return [(int(width), path_of(ink.geometry[microns == width], corner)) for width in np.unique(microns[microns > 0])]


def areas_of(ink: Ink, corner: Corner) -> str:
    """Filled areas as one path, for the nonzero rule."""
    return path_of(ink.geometry[ink.width == 0], corner)
