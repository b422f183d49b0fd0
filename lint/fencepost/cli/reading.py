"""The files of a package are read before anything else is done: no more is imported here than it takes to read them,
so that a copy of this process need not import it again."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from fencepost.board.reading import FileReading
from fencepost.cli.parcel import Parcel
from fencepost.limits import Limits
from fencepost.readers.artwork import Artwork
from fencepost.readers.gerber import read_gerber
from fencepost.source import SourceFile

if TYPE_CHECKING:
    from fencepost.caching.store import Store


def begun(parcel: Parcel, store: Store | None) -> FileReading:
    """The reading of a parcel's files; with a store, layers that were read before are taken from there."""
    settings = parcel.loaded.settings
    read = None if store is None else partial(_kept, store, settings.limits)
    return FileReading(parcel.package, settings, read)


def _kept(store: Store, limits: Limits, source: SourceFile) -> Artwork:
    from fencepost.caching.artworks import kept_reader

    return kept_reader(store, partial(read_gerber, limits=limits), limits)(source)
