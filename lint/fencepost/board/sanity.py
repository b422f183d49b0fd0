"""Do the files of a package lie over one another? What no single reader can see: a unit or an origin read wrongly.

The bounds are wide: they are meant for files of another scale or place, not for boards that are drawn carelessly.
Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.sources import Drilled, Sources
from fencepost.distinct import distinct_points, point_keys
from fencepost.errors import InputError, InputErrors
from fencepost.frozen import dataclass
from fencepost.readers.artwork import Artwork, Kind
from fencepost.units import MM_PER_INCH

OUTSIDE_MM = 25.0
"""Copper or holes further outside the profile than this, and than half the board, belong to another place."""

FEWEST = 8
"""Of fewer holes or pads nothing can be said."""

LEAST_SHIFT_MM = 2.0
"""A smaller shift is no other origin: pads without holes stand as near to holes without pads."""

DESIGN = 100
"""Features that a whole design has at least."""

LOST = 0.1
"""At most this share of the plated holes meets copper where a file is out of place."""

SCALED = 0.5
"""At least this share meets it where a factor is to be believed."""

MOVED = 0.95
"""A shift is free to choose, so that it must fit better than a factor,"""

AMBIGUOUS = 0.6
"""and no other shift may fit as well as this: rows and grids fit themselves in many places."""

FACTORS = (MM_PER_INCH, 1 / MM_PER_INCH, 10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)
"""Inches and millimetres confused, and digits before and after the point."""

NEAR_MM = 0.05
_MOST_SHIFTS = 2_000
_SAMPLE = 24
_FITS = 0.05
"""Of the board's size: how well a scaled profile must fit."""

Points = NDArray[np.float64]


@dataclass(frozen=True)
class _Box:
    """Corners in mm."""

    low: Points
    high: Points

    @property
    def size(self) -> float:
        return float(np.max(self.high - self.low))

    def beyond(self, other: _Box) -> float:
        """How far this box reaches out of the other one."""
        return float(np.max(np.maximum(other.low - self.low, self.high - other.high)))

    @property
    def words(self) -> str:
        (x0, y0), (x1, y1) = self.low, self.high
        return f"({x0:.2f}, {y0:.2f}) to ({x1:.2f}, {y1:.2f})"


def check_places(sources: Sources) -> None:
    """Raise InputError or InputErrors where files do not belong over one another, with each file and what to do."""
    errors = list(_empty_layers(sources)) or [*_outside(sources), *_lost_holes(sources)]
    if errors:
        raise InputErrors(tuple(errors)) if len(errors) > 1 else errors[0]


def _empty_layers(sources: Sources) -> Iterator[InputError]:
    """A layer without anything, beside others that hold a whole design.

    What is drawn for a trial may leave layers out, and a board with copper on one side may come with an empty file for
    the other.
    """
    drawn = [int(artwork.dark.sum()) for artwork in sources.copper]
    others = sum(count > 0 for count in drawn)
    joined = sum(len(drill.hits) for drill in sources.drills if drill.plated) >= FEWEST
    if sum(drawn) < DESIGN or not (others > 1 or joined):
        return
    for layer, artwork in enumerate(sources.copper, 1):
        if not drawn[layer - 1]:
            said = f"copper layer L{layer} is empty, and others are not; export it again"
            yield InputError(artwork.source.name, 0, 0, said)


def _outside(sources: Sources) -> Iterator[InputError]:
    """Files that reach far out of the profile, and a profile of another size than everything else."""
    profile = _profile_box(sources)
    tables = [(artwork.source.name, artwork.xy) for artwork in sources.copper]
    tables += [(drill.hits.source.name, _ends(drill)) for drill in sources.drills]
    boxes = [(name, box) for name, points in tables if (box := _box(points)) is not None]
    if profile is None or not boxes:
        return
    allowed = max(OUTSIDE_MM, profile.size / 2)
    beyond = [(name, box) for name, box in boxes if box.beyond(profile) > allowed]
    whole = _Box(np.min([box.low for _, box in boxes], axis=0), np.max([box.high for _, box in boxes], axis=0))
    if (len(boxes) > 1 and len(beyond) == len(boxes)) or _is_scaled(profile, whole):
        said = (
            f"the profile, {profile.words} mm, is not that of the copper and the holes, {whole.words} mm; "
            "export it in their unit and from their origin"
        )
        yield InputError(_profile_name(sources), 0, 0, said)
        return
    for name, box in beyond:
        said = (
            f"reaches over {box.words} mm, far out of the profile, {profile.words} mm; "
            "export both in one unit and from one origin"
        )
        yield InputError(name, 0, 0, said)


def _is_scaled(profile: _Box, whole: _Box) -> bool:
    """Whether a profile that is far too large would fit if it were smaller by one of the factors."""
    if whole.size <= 0 or profile.size < 8 * whole.size:
        return False
    near = _FITS * whole.size
    return any(
        bool((profile.low * factor <= whole.low + near).all() and (profile.high * factor >= whole.high - near).all())
        and profile.size * factor <= 2.5 * whole.size
        for factor in FACTORS
    )


def _lost_holes(sources: Sources) -> Iterator[InputError]:
    """Drill files whose plated holes miss the copper, and copper that they miss, where a factor or a shift cures it."""
    for drill in sources.drills:
        holes = distinct_points(drill.hits.start.round(4))
        if not drill.plated or len(holes) < FEWEST:
            continue
        copper = sources.copper[drill.first - 1 : drill.last]
        pads = [_pads(artwork) for artwork in copper]
        together = distinct_points(np.concatenate(pads))
        if len(together) < FEWEST:
            continue
        if _misses(together, copper, holes):
            what = _factor(together, holes) or _shift(together, holes)
            if what:
                said = f"only {_share(_met_by(copper), holes):.0%} of its {len(holes)} plated holes meet copper, {what}"
                yield InputError(drill.hits.source.name, 0, 0, f"{said}; {_DRILL_CURE}")
            continue
        for artwork, own in zip(copper, pads, strict=True):
            if len(own) < FEWEST or not _misses(own, (artwork,), holes):
                continue
            factor = next((factor for factor in FACTORS if _share(own * factor, holes) >= SCALED), None)
            if factor:
                said = (
                    f"the plated holes of {drill.hits.source.name} miss its pads, and meet them if it is made "
                    f"{factor:.4g} times as large; export it in the unit of the other files"
                )
                yield InputError(artwork.source.name, 0, 0, said)


_DRILL_CURE = "give its unit and digits in [drill], or export it again in the unit and from the origin of the copper"


def _misses(pads: Points, copper: tuple[Artwork, ...], holes: Points) -> bool:
    """Whether holes meet neither the pads nor anything else that these layers draw; what is quicker is asked first."""
    return _share_alike(pads, holes) <= LOST and _share(pads, holes) <= LOST and _share(_met_by(copper), holes) <= LOST


def _factor(pads: Points, holes: Points) -> str:
    """The factor about the origin that puts most holes on pads, in words; "" where none does."""
    share, factor = max((_share(pads, holes * factor), factor) for factor in FACTORS)
    return f"and {share:.0%} if they were scaled {factor:.4g} times" if share >= SCALED else ""


def _shift(pads: Points, holes: Points) -> str:
    """The shift that puts nearly all holes on pads, in words; "" where none does, or several do."""
    candidates = pads - holes[len(holes) // 2]
    candidates = candidates[:: -(-len(candidates) // _MOST_SHIFTS)]
    some = holes[np.unique(np.linspace(0, len(holes) - 1, _SAMPLE).astype(int))]
    moved = shapely.points((candidates[:, None, :] + some[None, :, :]).reshape(-1, 2))
    met = np.zeros(len(moved), dtype=bool)
    met[shapely.STRtree(shapely.points(pads)).query(moved, "dwithin", NEAR_MM)[0]] = True
    shares = met.reshape(len(candidates), -1).mean(axis=1)
    best = int(np.argmax(shares))
    away = np.abs(candidates - candidates[best]).max(axis=1) > 2 * NEAR_MM
    share = _share(pads, holes + candidates[best])
    if share < MOVED or shares[away].max(initial=0.0) >= AMBIGUOUS:
        return ""
    x, y = candidates[best]
    if np.hypot(x, y) < LEAST_SHIFT_MM:
        return ""
    return f"and {share:.0%} if they were moved by ({x:.3f}, {y:.3f}) mm"


def _share_alike(pads: Points, holes: Points) -> float:
    """The share of holes that lie exactly on a point, each hole and each point there once."""
    keys = np.sort(np.concatenate([point_keys(pads), point_keys(holes)]))
    return int((keys[1:] == keys[:-1]).sum()) / len(holes)


def _share(pads: Points, holes: Points) -> float:
    """The share of holes that lie on points of their own."""
    hole, pad = shapely.STRtree(shapely.points(pads)).query(shapely.points(holes), "dwithin", NEAR_MM)
    return min(len(np.unique(hole)), len(np.unique(pad))) / len(holes)


def _pads(artwork: Artwork) -> Points:
    """Middles of the flashes of a layer, each once."""
    flashes = (artwork.kind == Kind.FLASH) & artwork.dark
    return distinct_points(artwork.xy[artwork.first[:-1][flashes]].round(4))


def _met_by(copper: tuple[Artwork, ...]) -> Points:
    """Where copper begins, ends and bends: flashes and strokes, for boards whose pads are drawn or left out."""
    kinds = [np.repeat(artwork.kind, np.diff(artwork.first)) for artwork in copper]
    rows = [artwork.xy[kind != Kind.FILL] for artwork, kind in zip(copper, kinds, strict=True)]
    return distinct_points(np.concatenate(rows).round(4))


def _ends(drill: Drilled) -> Points:
    """(2 n, 2): where the hits of a file begin, and then where they end."""
    return np.concatenate([drill.hits.start, drill.hits.end])


def _box(points: Points) -> _Box | None:
    if not len(points):
        return None
    x, y = points.T  # Column by column: numpy is slow along the short side of a table.
    return _Box(np.array([x.min(), y.min()]), np.array([x.max(), y.max()]))


def _profile_box(sources: Sources) -> _Box | None:
    if sources.profile is None:
        return None
    if isinstance(sources.profile, Artwork):
        return _box(sources.profile.xy)
    x0, y0, x1, y1 = sources.profile.bounds if not sources.profile.is_empty else (np.nan,) * 4
    return None if np.isnan(x0) else _Box(np.array([x0, y0]), np.array([x1, y1]))


def _profile_name(sources: Sources) -> str:
    return sources.profile.source.name if isinstance(sources.profile, Artwork) else sources.package
