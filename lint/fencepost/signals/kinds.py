"""What the return current finds at each transition: the same copper, a way across, or none."""

from __future__ import annotations

from collections.abc import Set
from enum import Enum

import numpy as np

from fencepost.board.model import Board
from fencepost.frozen import dataclass
from fencepost.settings.model import NetClass, Settings
from fencepost.settings.patterns import net_class_of
from fencepost.signals.capacitors import capacitors_of
from fencepost.signals.limits import Limit, wave_limit
from fencepost.signals.ties import joined, plane_ties_of
from fencepost.signals.transitions import Transition, transitions_of


class ReturnKind(Enum):
    """Its value is the word for the user.

    SAME: some reference before and some reference after are one piece of copper. TIED: ties within the limit join two
    of them. CAPACITOR: capacitors do, with ties or without. UNTIED: nothing does. NO_REFERENCE: on one side or on both
    no ground or power copper carries the return.
    """

    SAME = "same reference"
    TIED = "tied"
    CAPACITOR = "capacitor"
    UNTIED = "untied"
    NO_REFERENCE = "no reference"


@dataclass(frozen=True)
class Reach:
    """How far from the signal's hole a way across still counts, in mm, and the fraction of a wavelength for ties.

    The figures are common practice, no source.
    """

    distance: float = 1.5
    fraction: float = 20.0
    capacitor: float = 3.0


@dataclass(frozen=True)
class Return:
    """A transition, what its return current finds, and how far away a tie was looked for."""

    transition: Transition
    kind: ReturnKind
    limit: Limit
    net_class: NetClass | None


def returns_of(board: Board, settings: Settings, reach: Reach) -> tuple[Return, ...]:
    """All transitions of a board with their kinds, by hole and layer. Raises SettingsError for a net in two classes."""
    transitions = transitions_of(board)
    classes = {net: net_class_of(settings, board.nets[net].name) for net in {one.net for one in transitions}}
    limits = [_limit(board, one, classes[one.net], reach) for one in transitions]
    ties = plane_ties_of(board).within_each(
        board.holes.centre[[one.hole for one in transitions]].reshape(-1, 2),
        np.array([limit.distance for limit in limits], dtype=float),
    )
    return tuple(
        Return(one, _kind(board, one, near, reach.capacitor), limit, classes[one.net])
        for one, near, limit in zip(transitions, ties, limits, strict=True)
    )


def _limit(board: Board, transition: Transition, net_class: NetClass | None, reach: Reach) -> Limit:
    frequency = net_class.highest_frequency if net_class else None
    permittivity = board.stackup.permittivity(transition.before.layer, transition.after.layer)
    return wave_limit(frequency, permittivity, reach.fraction, reach.distance)


def _kind(board: Board, transition: Transition, near: list[int], capacitor: float) -> ReturnKind:
    """`near` are the plane ties within the limit."""
    left, right = transition.before.pieces, transition.after.pieces
    if not left or not right:
        return ReturnKind.NO_REFERENCE
    if left & right:
        return ReturnKind.SAME
    pieces = plane_ties_of(board).pieces
    joins: list[Set[int]] = [pieces[tie] for tie in near]
    if joined(joins, left, right):
        return ReturnKind.TIED
    joins += [joining for _, joining in capacitors_of(board).near(board.holes.centre[transition.hole], capacitor)]
    return ReturnKind.CAPACITOR if joined(joins, left, right) else ReturnKind.UNTIED
