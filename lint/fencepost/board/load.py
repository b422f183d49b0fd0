"""A package -> the board in it."""

from __future__ import annotations

from dataclasses import replace

from fencepost.board.assemble import assemble
from fencepost.board.gather import gather, netlist_of, netlist_use
from fencepost.board.model import Board
from fencepost.board.overlay import overlaid
from fencepost.board.reading import FileReading
from fencepost.board.sanity import check_places
from fencepost.board.sources import Sources
from fencepost.errors import InputError
from fencepost.intake import FileKind, Package
from fencepost.settings.model import Settings


def load_board(
    package: Package, settings: Settings, overlay: Package | None = None, reading: FileReading | None = None
) -> Board:
    """Read and assemble, with an overlay drawn over it if one is given (see `board.overlay`).

    `reading` is that of this package under these settings, where it has begun already.
    Raises InputError, InputErrors or SettingsError; a board that is returned was read whole.
    """
    sources = _sources(package, settings, reading)
    check_places(sources)
    return assemble(overlaid(sources, _sources(overlay, Settings())) if overlay else sources, settings)


def _sources(package: Package, settings: Settings, reading: FileReading | None = None) -> Sources:
    """From Gerber and drill files where there are any, else from the one IPC-2581 file."""
    whole = package.of_kind(FileKind.IPC2581)
    if not whole or package.of_kind(FileKind.GERBER):
        if reading is not None:
            return gather(package, settings, reading)
        with FileReading(package, settings) as begun:
            return gather(package, settings, begun)
    if len(whole) > 1:
        listed = ", ".join(source.name for source in whole)
        raise InputError(package.name, 0, 0, f"holds several IPC-2581 files ({listed}); name the one to check")
    from fencepost.board.from_ipc2581 import sources_from_ipc2581  # A whole reader that few packages need.

    sources = sources_from_ipc2581(package.name, whole[0], settings, settings.limits)
    netlist = netlist_of(package, settings.limits)
    return replace(sources, netlist=netlist, files=sources.files | netlist_use(netlist))
