"""Drill sizes."""

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
from fencepost.fabrication.holes import called, drilled, tool_of
from fencepost.settings.model import Settings
from fencepost.units import Length


class HoleSize(Rule):
    """A hole must not need a thinner drill than the fabricator has.

    What goes wrong. Thin drills break, wander and must be changed often; below some diameter a hole is made by laser,
    or not at all, or costs another board.

    What is measured. The diameter as drilled. Files give the finished one: a plated hole is drilled wider by `plating`,
    0.1 mm unless the settings say otherwise (common practice), an unplated one is not. Of a slot it is the width.

    Limit. The thinnest drill by `level`: A 0.35 mm, B 0.30 mm, C 0.25 mm (common practice, no source). A size that
    misses it by 1 µm or less meets it: drill files in inches round sizes.

    Worked example. A via of 0.20 mm is drilled 0.20 + 0.10 = 0.30 mm wide, and passes at levels B and C. One of 0.10 mm
    is drilled 0.20 mm wide, and does not.

    How to fix it. Choose a wider hole, and a pad to go with it. Where there is no room, ask the fabricator what a laser
    or a thinner drill costs.

    How to tune it. `level` and `plating` under [board]; `minimum` here overrides the level. Your fabricator's own
    figure overrides both. All holes of one tool are one finding.
    """

    name = "hole-size"
    summary = "a hole that needs a thinner drill than the fabricator has"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        minimum: Annotated[Length | None, Meta(description="thinnest drill; from level where absent")] = None

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every tool that is too thin."""
        build = build_of(settings.board)
        limit = float(options.minimum or build.drill)
        size = drilled(board, build.plating)
        tools: dict[object, list[int]] = {}
        for hole in np.flatnonzero(size < limit - TOLERANCE_MM).tolist():
            tools.setdefault(tool_of(board, hole), []).append(hole)
        for holes in tools.values():
            yield self._finding(board, holes, float(size[holes[0]]), limit)

    def _finding(self, board: Board, holes: list[int], size: float, limit: float) -> Finding:
        finished = float(board.holes.diameter[holes[0]])
        one = f"{called(board, holes[0])} of {finished:.2f} mm needs"
        who = one if len(holes) == 1 else f"{several(board, holes)} need"
        return self.finding(
            f"{who} a drill of {size:.3f} mm, and the thinnest is {limit:.3f} mm",
            place_of(board, holes[0]),
            nets=nets_of(board, board.holes.net[holes].tolist()),
            measured=Figure("drill", size, "mm"),
            limit=Figure("drill", limit, "mm"),
        )
