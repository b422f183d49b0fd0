"""Several ground vias at once, consistent with one another."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from fencepost.board.connect import components
from fencepost.board.model import Board, HoleKind, Holes
from fencepost.frozen import dataclass
from fencepost.placement.need import Need
from fencepost.placement.spots import already_met, best_spot
from fencepost.placement.via import ViaModel
from fencepost.placement.window import Placed
from fencepost.readers.artwork import DrillHits
from fencepost.source import SourceFile

SUGGESTED = "suggested"
"""Instead of a file's name, for vias that are in no file; the line is the via's number."""


@dataclass(frozen=True)
class Plan:
    """`by[i]` is the row in `vias` of the via that meets need i, -1 where none fits."""

    vias: tuple[Placed, ...]
    by: tuple[int, ...]


def plan(board: Board, model: ViaModel, needs: Iterable[Need], before: Sequence[Placed] = ()) -> Plan:
    """A via for each need in turn. Those placed before stand in the way, and meet what they can; they stay first."""
    placed, by = list(before), []
    for need in needs:
        met = already_met(need, placed)
        if met is None:
            spot = best_spot(board, model, need, placed)
            if spot is not None:
                placed.append(spot)
            by.append(len(placed) - 1 if spot is not None else -1)
        else:
            by.append(placed.index(met))
    return Plan(tuple(placed), tuple(by))


def with_vias(board: Board, model: ViaModel, vias: Sequence[Placed]) -> Board:
    """The board with these vias drilled, for rules to look at again. Its copper stays as it is: they stand in it."""
    if not vias:
        return board
    first, count = len(board.holes), len(vias)
    hits = _hits(model, vias)
    holes = board.holes
    more = Holes(
        start=np.concatenate([holes.start, hits.start]),
        end=np.concatenate([holes.end, hits.end]),
        diameter=np.concatenate([holes.diameter, hits.diameter]),
        plated=np.concatenate([holes.plated, np.ones(count, dtype=bool)]),
        first=np.concatenate([holes.first, np.ones(count, dtype=np.int32)]),
        last=np.concatenate([holes.last, np.full(count, board.layers, dtype=np.int32)]),
        kind=np.concatenate([holes.kind, np.full(count, HoleKind.VIA, dtype=np.int8)]),
        net=np.concatenate([holes.net, np.array([via.net for via in vias], dtype=np.int32)]),
        hits=np.concatenate([holes.hits, np.full(count, len(board.drills), dtype=np.int32)]),
        row=np.concatenate([holes.row, np.arange(count, dtype=np.int32)]),
    )
    pairs = [(first + i, piece) for i, via in enumerate(vias) for piece in sorted(via.pieces)]
    touches = np.concatenate([board.touches, np.array(pairs, dtype=np.int32).reshape(-1, 2)])
    joins = np.stack([touches[:, 1], len(board.pieces) + touches[:, 0]])
    island = components(len(board.pieces) + len(more), joins)[: len(board.pieces)]
    return replace(
        board,
        holes=more,
        drills=(*board.drills, hits),
        touches=touches,
        pieces=replace(board.pieces, island=island),
        conflicts=tuple(replace(one, island=int(island[_piece_of(board, one.island)])) for one in board.conflicts),
        cache={},
    )


def _piece_of(board: Board, island: int) -> int:
    return int(np.argmax(board.pieces.island == island))


def _hits(model: ViaModel, vias: Sequence[Placed]) -> DrillHits:
    centre = np.array([(via.x, via.y) for via in vias], dtype=float).reshape(-1, 2)
    none = np.full(len(vias), -1, dtype=np.int32)
    return DrillHits(
        SourceFile(SUGGESTED, b"\n" * len(vias)),
        {},
        centre,
        centre,
        np.full(len(vias), model.drill),
        np.zeros(len(vias), dtype=np.int32),
        none,
        none,
        np.arange(len(vias)),
        (("ViaDrill",),),
    )
