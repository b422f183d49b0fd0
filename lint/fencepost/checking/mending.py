"""Suggestions for findings that a ground via would mend."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fencepost.board.model import Board
from fencepost.checking.copies import copies_pay
from fencepost.checking.finding import Finding, Place, Remark, Suggestion
from fencepost.checking.runner import Outcome
from fencepost.parallel import side_by_side
from fencepost.placement.need import Need
from fencepost.placement.room import no_room, said_of
from fencepost.placement.spots import Looks, best_spot
from fencepost.placement.via import ViaModel, via_model
from fencepost.processes import in_processes
from fencepost.settings.model import Settings

TRIED = 3
"""Of the vias that together would mend a finding, those for which a place is looked for; one is suggested."""


Seeker = Callable[[Finding], Finding]


def seeker_of(board: Board, settings: Settings) -> Seeker:
    """What adds to a finding, by itself, a via that fits or what is in its way, where a via would mend it.

    Raises SettingsError, without the file's name, where the settings of placement contradict themselves.
    """
    model = via_model(board, settings)
    return lambda finding: _sought(board, model, finding) if finding.mend and not finding.sought else finding


def with_suggestions(board: Board, outcome: Outcome, seeker: Seeker) -> Outcome:
    """The same outcome, each finding with what the seeker adds."""
    each = in_processes if copies_pay(board) else side_by_side
    return replace(outcome, findings=each(seeker, outcome.findings))


def _sought(board: Board, model: ViaModel, finding: Finding) -> Finding:
    return replace(_suggested(board, model, finding), sought=True)


def _suggested(board: Board, model: ViaModel, finding: Finding) -> Finding:
    looks: Looks = {}
    for need in finding.mend[:TRIED]:
        spot = best_spot(board, model, need, looks=looks)
        if spot is not None:
            beside = board.hole_location(need.hole) if need.hole >= 0 else None
            via = Suggestion(spot.x, spot.y, model.drill, model.pad, ("L1", f"L{board.layers}"), beside)
            return replace(finding, suggestion=via, remarks=(*finding.remarks, *_effect(finding, need, spot.x, spot.y)))
    return replace(finding, remarks=(*finding.remarks, _obstacle(board, model, finding, finding.mend[0], looks)))


def _effect(finding: Finding, need: Need, x: float, y: float) -> tuple[Remark, ...]:
    if not need.then:
        return ()
    said = f"with the ground via suggested, {need.then.format(need.figure(x, y))}"
    return (Remark(said, Place(finding.place.location, x, y)),)


def _obstacle(board: Board, model: ViaModel, finding: Finding, need: Need, looks: Looks) -> Remark:
    """What is in the way of a via, where it stands."""
    reason = no_room(board, model, need, looks=looks)
    within = f" within {need.within[0][2]:.2f} mm" if need.within else ""
    said = f"no ground via fits{within}: {'; '.join(said_of(reason, model))}"
    first = reason.blocking[0] if reason.blocking else None
    location = first.location if first and first.location else finding.place.location
    x, y = (first.x, first.y) if first else need.at
    return Remark(said, Place(location, x, y))
