"""Sources -> Board: copper, pieces, islands, nets, holes, components, profile, stackup."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.components import components_of
from fencepost.board.connect import barrels_on, components, pieces_of
from fencepost.board.drilling import holes_of, with_kinds
from fencepost.board.model import Board, Copper, Holes, Pieces
from fencepost.board.naming import named
from fencepost.board.nets import with_poured
from fencepost.board.outline import outline_of
from fencepost.board.parts import Parts, parts_of
from fencepost.board.points import Connected
from fencepost.board.prepared import prepared
from fencepost.board.sources import Sources
from fencepost.board.stack import stackup_of
from fencepost.errors import InputError
from fencepost.frozen import dataclass
from fencepost.limits import Limits
from fencepost.meeting import TooManyMeet
from fencepost.parallel import side_by_side
from fencepost.readers.artwork import Artwork
from fencepost.settings.model import Settings


def assemble(sources: Sources, settings: Settings) -> Board:
    """Build the board. Raises InputError and SettingsError where the sources contradict themselves or the settings."""
    stackup, stack_notes = stackup_of(sources, settings.board)
    holes = with_kinds(holes_of(sources.drills), sources.copper)
    make = partial(_layer_of, package=sources.package, holes=holes, limits=settings.limits)
    # Those with most on them first, so that no processor is left alone with a large one at the end.
    order = sorted(range(len(sources.copper)), key=lambda i: -len(sources.copper[i]))
    made = dict(zip(order, side_by_side(make, [(i + 1, sources.copper[i]) for i in order]), strict=True))
    layers = tuple(made[i] for i in range(len(order)))
    parts = tuple(own.parts for own in layers)
    layer, piece, touches = _numbered(layers)
    island = _islands(len(layer), touches, len(holes))

    naming = named(sources, Connected(parts, piece, island, holes, touches), settings.nets)
    pieces = Pieces(layer, naming.of_island[island], island)
    copper = tuple(
        Copper(i + 1, artwork, own.geometry, own.reach, own.feature, own.last, naming.label[i], piece[i], own.boxes)
        for i, (artwork, own) in enumerate(zip(sources.copper, parts, strict=True))
    )
    nets, pour_notes = with_poured(naming.nets, copper, pieces, settings.nets)
    profile, profile_notes = _profile(sources, parts, settings.limits.crossings)
    return Board(
        package=sources.package,
        stackup=stackup,
        copper=copper,
        pieces=pieces,
        holes=_with_nets(holes, touches, pieces),
        drills=tuple(drill.hits for drill in sources.drills),
        touches=touches,
        nets=nets,
        components=components_of(copper, pieces),
        profile=profile,
        profile_given=sources.profile is not None,
        conflicts=naming.conflicts,
        assumptions=(*sources.notes, *stack_notes, *profile_notes, *naming.notes, *pour_notes),
        files=sources.files,
        points=naming.points,
        pairs=sources.pairs,
    )


@dataclass(frozen=True, eq=False)
class _Layer:
    """The parts of a layer, the piece of each, and pairs of hole and piece that touch, int32 (k, 2); pieces from 0."""

    parts: Parts
    piece: NDArray[np.int32]
    touches: NDArray[np.int32]


def _layer_of(layer: tuple[int, Artwork], package: str, holes: Holes, limits: Limits) -> _Layer:
    """A layer, by its number. Raises InputError, at the feature, where too much lies over one another."""
    number, artwork = layer
    parts = parts_of(artwork, limits)
    with prepared(parts.geometry):
        try:
            piece = pieces_of(parts, limits.overlaps)
        except TooManyMeet as error:
            raise artwork.source.error(int(artwork.offset[parts.feature[error.row]]), str(error)) from None
        try:
            touches = barrels_on(parts, piece, holes, number, limits.overlaps)
        except TooManyMeet as error:
            raise InputError(package, 0, 0, f"holes and copper: {error}") from None
    return _Layer(parts, piece, touches)


def _numbered(
    layers: tuple[_Layer, ...],
) -> tuple[NDArray[np.int32], tuple[NDArray[np.int32], ...], NDArray[np.int32]]:
    """The layer of every piece; the piece of every part, layer by layer; (t, 2) pairs of hole and piece, sorted.

    Pieces are numbered through the whole board.
    """
    count = [int(own.piece.max(initial=-1)) + 1 for own in layers]
    shifts = np.cumsum([0, *count[:-1]], dtype=np.int32)
    piece = tuple(own.piece + shift for own, shift in zip(layers, shifts, strict=True))
    pairs = [own.touches + np.array([0, shift], dtype=np.int32) for own, shift in zip(layers, shifts, strict=True)]
    touches = np.concatenate(pairs)
    layer = np.repeat(np.arange(1, len(layers) + 1, dtype=np.int32), count)
    return layer, piece, touches[np.lexsort((touches[:, 1], touches[:, 0]))]


def _islands(pieces: int, touches: NDArray[np.int32], holes: int) -> NDArray[np.int32]:
    """The island of every piece, numbered from 0."""
    joins = np.stack([touches[:, 1], pieces + touches[:, 0]])
    return components(pieces + holes, joins)[:pieces]


def _with_nets(holes: Holes, touches: NDArray[np.int32], pieces: Pieces) -> Holes:
    """The holes with the net of the copper that their barrels touch."""
    net = holes.net.copy()
    net[touches[:, 0]] = pieces.net[touches[:, 1]]
    return replace(holes, net=net)


def _profile(
    sources: Sources, parts: tuple[Parts, ...], most: int
) -> tuple[shapely.Polygon | shapely.MultiPolygon, tuple[str, ...]]:
    """The outline given, or the box around all copper and a note that says so."""
    if isinstance(sources.profile, Artwork):
        return outline_of(sources.profile, most), ()
    if sources.profile is not None:
        return sources.profile, ()
    bounds = np.array([shapely.total_bounds(own.geometry) for own in parts if len(own)])
    if not len(bounds):
        return shapely.Polygon(), ()
    box = shapely.box(*bounds[:, :2].min(axis=0), *bounds[:, 2:].max(axis=0))
    return box, ("no profile in the package: the edge of the board is taken as the box around its copper",)
