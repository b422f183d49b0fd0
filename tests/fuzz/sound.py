"""What must hold of anything that was read, whatever the file: else a result is as bad as a traceback."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fencepost.board.sources import Sources
from fencepost.errors import FencepostError, InputError, InputErrors, SettingsError, UsageError
from fencepost.limits import DEFAULT_LIMITS
from fencepost.readers.artwork import Artwork, DrillHits
from fencepost.readers.testnet.netlist import Netlist
from fencepost.source import SourceFile


def check_artwork(artwork: Artwork) -> None:
    """Columns of one length, indices into their tables, finite coordinates, places inside the file."""
    count = len(artwork)
    columns = (artwork.net, artwork.pin, artwork.component, artwork.function)
    assert {len(column) for column in (artwork.dark, artwork.tool, artwork.offset, *columns)} == {count}
    points = np.diff(artwork.first)
    assert artwork.first[0] == 0 and artwork.first[-1] == len(artwork.xy)
    assert (points >= np.choose(artwork.kind, (2, 1, 3))).all()
    assert ((artwork.tool >= 0) == (artwork.kind != 2)).all() and artwork.tool.max(initial=-1) < len(artwork.tools)
    for column in columns:
        _check_index(column, len(artwork.values))
    _check_points(artwork.xy)
    _check_places(artwork.source, artwork.offset)
    for tool in artwork.tools:
        assert tool.shape.is_empty or np.isfinite(tool.shape.bounds).all()
        assert 0 <= tool.width <= DEFAULT_LIMITS.reach


def check_hits(hits: DrillHits) -> None:
    """Likewise; and every hole has a size."""
    count = len(hits)
    assert {len(column) for column in (hits.start, hits.end, hits.function, hits.net, hits.pin, hits.offset)} == {count}
    assert np.isfinite(hits.diameter).all() and (hits.diameter > 0).all()
    for column in (hits.function, hits.net, hits.pin):
        _check_index(column, len(hits.values))
    _check_points(hits.start)
    _check_points(hits.end)
    _check_places(hits.source, hits.offset)


def check_netlist(netlist: Netlist) -> None:
    """Likewise of test points."""
    _check_index(netlist.net, len(netlist.nets))
    _check_points(netlist.xy)
    for column in (netlist.size, netlist.hole):
        assert np.isfinite(column).all() and (column >= 0).all()
    assert (netlist.span >= 0).all() and (netlist.mask >= -1).all() and (netlist.mask <= 3).all()
    _check_places(netlist.source, netlist.offset)


def check_sources(sources: Sources) -> None:
    """Of everything that a board is assembled from."""
    assert sources.copper
    for artwork in sources.copper:
        check_artwork(artwork)
    for drill in sources.drills:
        check_hits(drill.hits)
        assert 1 <= drill.first <= drill.last <= len(sources.copper)
    for entry in sources.stack:
        for figure in (entry.thickness, entry.permittivity):
            assert figure is None or not entry.copper or np.isfinite(figure)


def check_error(error: FencepostError, data: bytes | None = None) -> None:
    """An error for the user has words, and where it names a line that is one of the file."""
    assert not isinstance(error, UsageError)
    said = error.errors if isinstance(error, InputErrors) else (error,)
    assert said
    for each in said:
        assert isinstance(each, InputError | SettingsError)
        assert each.message.strip()
        str(each).encode("utf-8", "backslashreplace")
        if isinstance(each, InputError):
            assert each.file
            assert (each.line >= 1 and each.column >= 1) or (each.line == each.column == 0)
            if data is not None and each.line:
                last = SourceFile(each.file, data).locate(len(data))
                assert each.line <= last.line, str(each)


def _check_index(column: NDArray[np.int32], size: int) -> None:
    assert column.min(initial=-1) >= -1 and column.max(initial=-1) < size


def _check_points(points: NDArray[np.float64]) -> None:
    assert np.isfinite(points).all() and np.abs(points).max(initial=0.0) <= DEFAULT_LIMITS.reach


def _check_places(source: SourceFile, offset: NDArray[np.int64]) -> None:
    assert (offset >= 0).all() and (offset <= len(source.data)).all()
    if len(offset):
        source.locate(int(offset.max()))
