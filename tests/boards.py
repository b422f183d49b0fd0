"""Boards for tests: a sketch is written as a fabrication package and read back, as a user's package would be.

    sketch = Sketch(layers=4)
    ...
    board = board_of(sketch, turn=30.0, units="inch")
    found = findings_of(TransitionReturn, board, '[rules.transition-return]\ndistance = "2 mm"')

Settings are `Settings`, or the text of a fencepost.toml, without the checks that need a file.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from fencepost.board.load import load_board
from fencepost.board.model import Board
from fencepost.checking.finding import Finding, Unchecked
from fencepost.checking.rule import Rule
from fencepost.intake import package_from
from fencepost.settings.decode import decode
from fencepost.settings.model import Settings
from sketch import Sketch


def settings_of(settings: str | Settings = "") -> Settings:
    """Settings from the text of a fencepost.toml."""
    return settings if isinstance(settings, Settings) else decode(tomllib.loads(settings), Settings, "fencepost.toml")


def board_of(sketch: Sketch, settings: str | Settings = "", **options: Any) -> Board:
    """The sketch as a board, by way of its files; `options` are those of `Sketch.gerber`: turn, move, units, ..."""
    return board_from(sketch.gerber(**options), settings, sketch.name)


def board_from(files: Mapping[str, bytes], settings: str | Settings = "", name: str = "board") -> Board:
    """A board from the files of a package, as where a test has changed what `Sketch.gerber` wrote."""
    return load_board(package_from(name, files), settings_of(settings))


def outcome_of(rule: type[Rule], board: Board, settings: str | Settings = "") -> list[Finding | Unchecked]:
    """Everything that a rule yields for a board, with its options from the settings."""
    read = settings_of(settings)
    options = decode(read.rules.get(rule.name, {}), rule.Options, "fencepost.toml", f"rules.{rule.name}")
    return list(rule().check(board, options, read))


def findings_of(rule: type[Rule], board: Board, settings: str | Settings = "") -> list[Finding]:
    """The findings of a rule, sorted. Fails where the rule leaves something unchecked."""
    outcome = outcome_of(rule, board, settings)
    unchecked = [entry.reason for entry in outcome if isinstance(entry, Unchecked)]
    assert not unchecked, unchecked
    return sorted((entry for entry in outcome if isinstance(entry, Finding)), key=lambda finding: finding.order)
