"""What the return current finds at each transition: the same copper, a way across, or none."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass
from enum import Enum

from fencepost.board.model import Board
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
    return tuple(_return(board, transition, settings, reach) for transition in transitions_of(board))


def _return(board: Board, transition: Transition, settings: Settings, reach: Reach) -> Return:
    net_class = net_class_of(settings, board.nets[transition.net].name)
    frequency = net_class.highest_frequency if net_class else None
    permittivity = board.stackup.permittivity(transition.before.layer, transition.after.layer)
    limit = wave_limit(frequency, permittivity, reach.fraction, reach.distance)
    return Return(transition, _kind(board, transition, limit.distance, reach.capacitor), limit, net_class)


def _kind(board: Board, transition: Transition, distance: float, capacitor: float) -> ReturnKind:
    left, right = transition.before.pieces, transition.after.pieces
    if not left or not right:
        return ReturnKind.NO_REFERENCE
    if left & right:
        return ReturnKind.SAME
    centre = board.holes.centre[transition.hole]
    ties = plane_ties_of(board)
    joins: list[Set[int]] = [ties.pieces[tie] for tie in ties.within(centre, distance)]
    if joined(joins, left, right):
        return ReturnKind.TIED
    joins += [pieces for _, pieces in capacitors_of(board).near(centre, capacitor)]
    return ReturnKind.CAPACITOR if joined(joins, left, right) else ReturnKind.UNTIED
