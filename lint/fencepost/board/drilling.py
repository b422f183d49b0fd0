"""Hits of all drill files as one table of holes, and what each hole is for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import HoleKind, Holes
from fencepost.board.sources import Drilled
from fencepost.readers.artwork import Artwork, DrillHits, Kind

_FUNCTIONS = {"ViaDrill": HoleKind.VIA, "ComponentDrill": HoleKind.COMPONENT, "MechanicalDrill": HoleKind.MECHANICAL}
_UNKNOWN = -1


def holes_of(drills: tuple[Drilled, ...]) -> Holes:
    """All holes, in the order of the files and of their hits; net -1. `kind` is -1 where the drill file is silent."""
    hits = [drill.hits for drill in drills]
    counts = [len(own) for own in hits]
    return Holes(
        start=np.concatenate([*(own.start for own in hits), np.empty((0, 2))]),
        end=np.concatenate([*(own.end for own in hits), np.empty((0, 2))]),
        diameter=np.concatenate([*(own.diameter for own in hits), np.empty(0)]),
        plated=np.repeat(np.array([drill.plated for drill in drills], dtype=bool), counts),
        first=np.repeat(np.array([drill.first for drill in drills], dtype=np.int32), counts),
        last=np.repeat(np.array([drill.last for drill in drills], dtype=np.int32), counts),
        kind=np.concatenate([*(_kinds(own) for own in hits), np.empty(0)]).astype(np.int8),
        net=np.full(sum(counts), -1, dtype=np.int32),
        hits=np.repeat(np.arange(len(hits), dtype=np.int32), counts),
        row=np.concatenate([*(np.arange(count) for count in counts), np.empty(0)]).astype(np.int32),
    )


def _kinds(hits: DrillHits) -> NDArray[np.int64]:
    """What the tool of each hit is for, as its aperture function says; -1 where it does not say."""
    of_value = np.array([*(_FUNCTIONS.get(_drill_word(value), _UNKNOWN) for value in hits.values), _UNKNOWN])
    return of_value[hits.function]


def _drill_word(value: tuple[str, ...]) -> str:
    """The aperture function of a drill tool, without the plating that XNC writes before it."""
    return next((word for word in value if word in _FUNCTIONS), "")


def with_kinds(holes: Holes, copper: tuple[Artwork, ...]) -> Holes:
    """The same holes, those of unknown kind told apart by the pads around them.

    A plated hole in a pad that carries a pin, or that is a component pad on any layer, takes a pin; other plated holes
    in copper are vias. (Some exporters label the pads of component holes as via pads on inner layers.)
    """
    kind = holes.kind.copy()
    open_ = np.flatnonzero(kind == _UNKNOWN)
    kind[open_] = np.where(holes.plated[open_], HoleKind.VIA, HoleKind.MECHANICAL)
    plated = open_[holes.plated[open_]]
    for artwork in copper if len(plated) else ():
        flashes = np.flatnonzero(artwork.kind == Kind.FLASH)
        words = np.array([*(bool(value) and value[0] == "ComponentPad" for value in artwork.values), False])
        pads = flashes[(artwork.pin[flashes] >= 0) | words[artwork.function[flashes]]]
        if len(pads):
            tree = shapely.STRtree(shapely.points(artwork.xy[artwork.first[pads]]))
            within = tree.query(holes.geometry[plated], "dwithin", distance=holes.diameter[plated] / 4)
            kind[plated[within[0]]] = HoleKind.COMPONENT
    return replace(holes, kind=kind)
