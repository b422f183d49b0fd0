"""Aspect ratios of plated holes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

import numpy as np
from msgspec import Meta

from fencepost.board.model import Board
from fencepost.checking.drilled import nets_of, place_of, several
from fencepost.checking.finding import Figure, Finding, Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.fabrication.build import TOLERANCE_MM, build_of
from fencepost.fabrication.holes import called, depth, drilled, tool_of
from fencepost.settings.model import Settings
from fencepost.units import Ratio


class HoleAspect(Rule):
    """A plated hole must not be too deep for its width.

    What goes wrong. The plating bath must flow through the hole. In one that is deep and narrow it hardly does: the
    barrel is thin in the middle, and cracks when the board expands with heat.

    What is measured. The depth of the hole over its width as drilled. The depth of a through hole is the thickness of
    the board from outer copper to outer copper; of a blind or buried one that of its own span, both coppers included.
    The width is the finished diameter, of a slot its width, and the allowance for plating, 0.1 mm unless `plating`
    under [board] says otherwise (common practice). Holes without plating are left out.

    Limit. By `level`: A 6, B 8, C 10 (common practice, no source). `blind`, for holes that end inside the board, is the
    same unless it is set: where such holes are drilled to a depth, by laser or by a drill that stops, the bath cannot
    flow through, and about 1 is common practice; where their layers are drilled through before the board is pressed
    together, they are through holes of a thin board. The files do not tell which.

    Worked example. 1.6 mm of board and a via of 0.20 mm: 1.6 / (0.2 + 0.1) = 5.3. A via of 0.10 mm: 1.6 / 0.2 = 8.0. A
    blind via of 0.10 mm through 0.2 mm of dielectric and two coppers of 0.035 mm: 0.27 / 0.2 = 1.35.

    How to fix it. A wider hole, a thinner board, or blind and buried holes that go only as deep as they must.

    How to tune it. `level` and `plating` under [board], and `thickness` where the files give no stackup; `maximum` and
    `blind` here. Your fabricator's own figures override all of this. All holes of one tool and span are one finding.
    """

    name = "hole-aspect"
    summary = "a plated hole too deep for its width"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        maximum: Annotated[Ratio | None, Meta(description="largest depth over drill; from level where absent")] = None
        blind: Annotated[
            Ratio | None, Meta(description="the same for holes that open on one side or none, where it is another")
        ] = None

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every tool that is too thin for what it goes through."""
        build = build_of(settings.board)
        size = drilled(board, build.plating)
        tools: dict[tuple[int, float, int, int], list[int]] = {}
        for hole in np.flatnonzero(board.holes.plated).tolist():
            tools.setdefault(tool_of(board, hole), []).append(hole)
        for (_, _, first, last), holes in tools.items():
            through = first == 1 and last == board.layers
            limit = float((None if through else options.blind) or options.maximum or build.aspect)
            deep, width = depth(board.stackup, first, last), float(size[holes[0]])
            if deep - limit * width > TOLERANCE_MM:
                yield self._finding(board, holes, (first, last), deep, width, limit)

    def _finding(
        self, board: Board, holes: list[int], span: tuple[int, int], deep: float, width: float, limit: float
    ) -> Finding:
        who = called(board, holes[0]) if len(holes) == 1 else several(board, holes)
        said = "is" if len(holes) == 1 else "are"
        return self.finding(
            f"{who} {said} {deep:.2f} mm deep and drilled {width:.2f} mm wide, {deep / width:.1f} to 1, "
            f"more than {limit:g} to 1",
            place_of(board, holes[0]),
            layers=tuple(f"L{layer}" for layer in span),
            nets=nets_of(board, board.holes.net[holes].tolist()),
            measured=Figure("aspect ratio", deep / width, ""),
            limit=Figure("aspect ratio", limit, ""),
        )
