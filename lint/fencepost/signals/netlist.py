"""Where a netlist and the board do not say the same."""

from __future__ import annotations

from collections import Counter

import numpy as np

from fencepost.board.model import Board, NetPoints
from fencepost.frozen import dataclass


@dataclass(frozen=True)
class Otherwise:
    """Points of one net of the netlist on copper of another net of the board: how many, and the first of them."""

    said: str
    net: int
    point: int
    count: int


@dataclass(frozen=True)
class Joined:
    """Two nets of the netlist on copper that is connected and has no label: a point of each."""

    said: tuple[str, str]
    points: tuple[int, int]


@dataclass(frozen=True)
class Comparison:
    """What a netlist says against a board.

    `asked` counts the points that copper must answer, `missing` are those of them on none. `renamed` are nets with the
    same points under another name: the name in the netlist and the net.
    """

    points: NetPoints
    asked: int
    missing: tuple[int, ...]
    otherwise: tuple[Otherwise, ...]
    renamed: tuple[Otherwise, ...]
    joined: tuple[Joined, ...]


def compared(board: Board, points: NetPoints) -> Comparison:
    """Hold every point of a netlist against the copper that it lies on."""
    netlist = points.netlist
    labels: dict[int, set[int]] = {}
    for copper in board.copper:
        said = copper.label >= 0
        islands = board.pieces.island[copper.piece[said]]
        for island, label in np.unique(np.stack([islands, copper.label[said]]), axis=1).T.tolist():
            labels.setdefault(island, set()).add(label)

    rows = np.flatnonzero((points.piece >= 0) & (netlist.net >= 0))
    islands = board.pieces.island[points.piece[rows]]
    named = [(int(row), netlist.nets[netlist.net[row]], int(island)) for row, island in zip(rows, islands, strict=True)]
    labelled = [(row, said, island) for row, said, island in named if island in labels]
    bare = [(row, said, island) for row, said, island in named if island not in labels]

    pairs: dict[tuple[str, int], list[int]] = {}
    for row, said, island in labelled:
        names = {board.nets[net].name for net in labels[island]}
        net = board.net_index[said] if said in names else int(board.pieces.net[points.piece[row]])
        pairs.setdefault((said, net), []).append(row)
    nets_of, names_of = Counter(said for said, _ in pairs), Counter(net for _, net in pairs)
    wrong = [
        (Otherwise(said, net, found[0], len(found)), nets_of[said] == names_of[net] == 1)
        for (said, net), found in sorted(pairs.items())
        if board.nets[net].name != said
    ]
    return Comparison(
        points,
        int(points.asked.sum()),
        tuple(np.flatnonzero(points.asked & (points.piece < 0)).tolist()),
        tuple(one for one, alone in wrong if not alone),
        tuple(one for one, alone in wrong if alone),
        _joined(bare),
    )


def _joined(bare: list[tuple[int, str, int]]) -> tuple[Joined, ...]:
    """For each island without a label, every further net on it with the one of most points."""
    islands: dict[int, dict[str, list[int]]] = {}
    for row, said, island in bare:
        islands.setdefault(island, {}).setdefault(said, []).append(row)
    found = []
    for _, rows in sorted(islands.items()):
        most = min(rows, key=lambda said: (-len(rows[said]), said))
        found += [Joined((said, most), (rows[said][0], rows[most][0])) for said in sorted(rows) if said != most]
    return tuple(found)
