"""A package -> the board in it."""

from __future__ import annotations

from fencepost.board.assemble import assemble
from fencepost.board.gather import gather
from fencepost.board.model import Board
from fencepost.intake import Package
from fencepost.settings.model import Settings


def load_board(package: Package, settings: Settings) -> Board:
    """Read and assemble. Raises InputError, InputErrors or SettingsError; a board that is returned was read whole."""
    return assemble(gather(package, settings), settings)
