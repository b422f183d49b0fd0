"""Drill files in Gerber format."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fencepost.ranges import ranges
from fencepost.readers.artwork import Artwork, DrillHits, Kind


def hits_from_artwork(artwork: Artwork) -> DrillHits:
    """The holes of a Gerber drill file: a flash is a round hole, a stroke a slot for each of its segments.

    Raises InputError for what no drill or rout makes: a fill, a cleared feature, a tool that is not a solid round disc.
    Source: Ucamco, The Gerber Layer Format Specification, 6.3 (drill and rout files).
    """
    _refuse(artwork, artwork.kind == Kind.FILL, "a filled contour is no drilled hole")
    _refuse(artwork, ~artwork.dark, "a cleared feature is no drilled hole")
    widths = np.array([tool.width for tool in artwork.tools] + [0.0])
    diameter = widths[artwork.tool]  # a tool of -1 falls on the 0 at the end
    _refuse(artwork, diameter <= 0, "its aperture is not a solid round disc, so it is no drilled hole")

    points = np.diff(artwork.first)
    rows = np.maximum(points - 1, 1)
    feature = np.repeat(np.arange(len(artwork)), rows)
    start = ranges(artwork.first[:-1], rows)
    end = np.where(points[feature] > 1, start + 1, start)
    return DrillHits(
        source=artwork.source,
        attributes=artwork.attributes,
        start=artwork.xy[start],
        end=artwork.xy[end],
        diameter=diameter[feature],
        function=artwork.function[feature],
        net=artwork.net[feature],
        pin=artwork.pin[feature],
        offset=artwork.offset[feature],
        values=artwork.values,
    )


def _refuse(artwork: Artwork, wrong: NDArray[np.bool_], message: str) -> None:
    if wrong.any():
        raise artwork.source.error(int(artwork.offset[np.flatnonzero(wrong)[0]]), message)
