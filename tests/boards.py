"""Boards for tests: a sketch is written as a fabrication package, and read back as a user's package would be.

    sketch = Sketch(layers=4)
    ...
    board = board_of(sketch, turn=30, units="inch")
    findings = findings_of(TransitionReturn, sketch, '[rules.transition-return]\ndistance = "2 mm"')

Settings are given as the text of a fencepost.toml, without the checks that only a file needs.
"""

from __future__ import annotations

import tomllib
from typing import Any

from sketch import Sketch

from fencepost.board.load import load_board
from fencepost.board.model import Board
from fencepost.checking.finding import Finding, Unchecked
from fencepost.checking.rule import Rule
from fencepost.intake import package_from
from fencepost.settings.decode import decode
from fencepost.settings.model import Settings


def settings_of(toml: str = "") -> Settings:
    """Settings from the text of a fencepost.toml."""
    return decode(tomllib.loads(toml), Settings, "fencepost.toml")


def board_of(sketch: Sketch, toml: str = "", **options: Any) -> Board:
    """The sketch as a board, by way of its files. `options` are those of `Sketch.gerber`: turn, move, units and so on."""
    return load_board(package_from(sketch.name, sketch.gerber(**options)), settings_of(toml))


def outcome_of(rule: type[Rule], sketch: Sketch, toml: str = "", **options: Any) -> list[Finding | Unchecked]:
    """Everything that a rule yields for the sketch, with its options from the settings."""
    settings = settings_of(toml)
    own = decode(settings.rules.get(rule.name, {}), rule.Options, "fencepost.toml", f"rules.{rule.name}")
    return list(rule().check(board_of(sketch, toml, **options), own, settings))


def findings_of(rule: type[Rule], sketch: Sketch, toml: str = "", **options: Any) -> list[Finding]:
    """The findings of a rule, sorted; fails where it left something unchecked."""
    outcome = outcome_of(rule, sketch, toml, **options)
    left = [entry for entry in outcome if isinstance(entry, Unchecked)]
    assert not left, left
    return sorted((entry for entry in outcome if isinstance(entry, Finding)), key=lambda finding: finding.order)
