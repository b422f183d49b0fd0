"""Routed arcs as chords."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fencepost.readers.gerber.arcs import arcs_of

Point = tuple[float, float]

SLACK_MM = 0.02
"""How far an arc's end may lie off its circle: two roundings in the coarsest format in use, 0.01 mm a step."""


def centre_from_radius(start: Point, end: Point, radius: float, clockwise: bool) -> Point:
    """The centre of the arc of at most half a turn. Raises ValueError where there is none.

    Source: Ucamco, The XNC Format Specification: an arc given by its radius is not longer than a half circle.
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    if chord == 0:
        raise ValueError("the arc ends where it starts, so its radius does not say where its centre is")
    if chord / 2 > radius + SLACK_MM:
        raise ValueError(f"the arc's radius of {radius:.4g} mm does not reach its end, {chord:.4g} mm away")
    height = math.sqrt(max(radius**2 - (chord / 2) ** 2, 0.0))
    side = -height / chord if clockwise else height / chord
    return start[0] + dx / 2 - dy * side, start[1] + dy / 2 + dx * side


def chords(start: Point, end: Point, centre: Point, clockwise: bool) -> NDArray[np.float64]:
    """Points from start to end, (k, 2), both among them; a full circle where they are one point.

    No chord is further than SAGITTA_MM from the arc. Raises ValueError where start and end are not on one circle.
    """
    radius = math.dist(start, centre)
    miss = math.dist(end, centre) - radius
    if radius == 0 or abs(miss) > SLACK_MM:
        raise ValueError(f"the arc's start and end are {radius:.4g} and {radius + miss:.4g} mm from its centre")
    begins, ends = np.array([start]), np.array([end])
    arcs = arcs_of(begins, ends, np.array([centre]) - begins, np.array([clockwise]), np.array([False]), SLACK_MM)
    return np.concatenate([begins, arcs.points(arcs.chords())[:-1], ends])
