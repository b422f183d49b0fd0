"""The nets of a board: from the labels of its files, else from a netlist, else made up from positions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Conflict, Net, NetKind, NetPoints
from fencepost.board.nets import island_nets, labels_of, net_table
from fencepost.board.parts import Parts
from fencepost.board.points import Connected, islands_at, net_points
from fencepost.board.sources import Sources
from fencepost.frozen import dataclass
from fencepost.readers.artwork import Artwork
from fencepost.settings.model import NetSettings


@dataclass(frozen=True, eq=False)
class Naming:
    """Nets; layer by layer the label of every part, int32 (n); the net of every island, int32; -1 for none."""

    nets: tuple[Net, ...]
    label: tuple[NDArray[np.int32], ...]
    of_island: NDArray[np.int32]
    conflicts: tuple[Conflict, ...]
    points: NetPoints | None
    notes: tuple[str, ...]


def named(sources: Sources, board: Connected, settings: NetSettings) -> Naming:
    """Name every island. Raises SettingsError for a point of ground that is on no copper.

    Labels in the files come first. A netlist names what they leave open. Where the files have no label at all, and for
    copper that the settings call ground, a name is made up from a position.
    """
    names = tuple(labels_of(artwork) for artwork in sources.copper)
    labels = {name for own in names for name in own if name}
    points = net_points(sources.netlist, board) if sources.netlist else None
    grounds = set(islands_at(settings.ground_at, board, "nets.ground_at")) if settings.ground_at else set[int]()

    said = _labelled(sources.copper, board, names)
    listed = {island: name for island, name in _by_points(points, board).items() if island not in said}
    unnamed = ({*board.island.tolist()} if not labels else grounds) - said - listed.keys()
    made_up = _made_up(board, unnamed)

    nets, notes = net_table(labels | {*listed.values()}, made_up.values(), settings)
    index = {net.name: i for i, net in enumerate(nets)}
    label = tuple(_label(*columns, index) for columns in zip(sources.copper, board.parts, names, strict=True))
    island = board.island[np.concatenate(board.piece)]
    of_island, conflicts = island_nets(island, np.concatenate(label), int(board.island.max(initial=-1)) + 1)
    for one, name in (listed | made_up).items():
        of_island[one] = index[name]
    ground = {int(of_island[one]) for one in grounds}
    nets = tuple(replace(net, kind=NetKind.GROUND) if i in ground else net for i, net in enumerate(nets))
    if not labels:
        notes = (_unlabelled(sources, listed, made_up), *notes)
    if sources.netlist:
        notes = (*notes, *sources.netlist.notes)
    return Naming(nets, label, of_island, conflicts, points, notes)


def _unlabelled(sources: Sources, listed: dict[int, str], made_up: dict[int, str]) -> str:
    by_netlist = f"{len({*listed.values()})} named by {sources.netlist.source.name}, " if sources.netlist else ""
    return f"no copper file names its nets: {by_netlist}{len(made_up)} known from their copper alone"


def _labelled(copper: tuple[Artwork, ...], board: Connected, names: tuple[tuple[str, ...], ...]) -> set[int]:
    """The islands that some label names."""
    found: set[int] = set()
    for artwork, parts, piece, own in zip(copper, board.parts, board.piece, names, strict=True):
        has = np.array([*(bool(name) for name in own), False])[artwork.net[parts.feature]]
        found.update(board.island[piece[has]].tolist())
    return found


def _label(artwork: Artwork, parts: Parts, names: tuple[str, ...], index: dict[str, int]) -> NDArray[np.int32]:
    """The net that the file names for each part; -1 for none."""
    of_value = np.array([*(index.get(name, -1) for name in names), -1], dtype=np.int32)
    return of_value[artwork.net[parts.feature]]


def _by_points(points: NetPoints | None, board: Connected) -> dict[int, str]:
    """The net that most points of the netlist on an island are on."""
    if points is None:
        return {}
    netlist = points.netlist
    net = np.where(points.piece >= 0, netlist.net, -1).astype(np.int32)
    of_island, _ = island_nets(board.island[points.piece], net, int(board.island.max(initial=-1)) + 1)
    return {int(island): netlist.nets[of_island[island]] for island in np.flatnonzero(of_island >= 0)}


def _made_up(board: Connected, islands: set[int]) -> dict[int, str]:
    """A name for each of these islands from the position of its first part."""
    names: dict[int, str] = {}
    taken: set[str] = set()
    for layer, (parts, piece) in enumerate(zip(board.parts, board.piece, strict=True), 1):
        fresh, first = np.unique(board.island[piece], return_index=True)
        wanted = np.isin(fresh, [*islands - names.keys()])
        spots = shapely.get_coordinates(shapely.point_on_surface(parts.geometry[first[wanted]]))
        for one, (x, y) in zip(fresh[wanted], spots, strict=True):
            name = f"net at ({x:.3f}, {y:.3f})"
            names[int(one)] = f"{name} on L{layer}" if name in taken else name
            taken.add(name)
    return names
