"""The files of a package are read before anything else is done: no more is imported here than that takes."""

from __future__ import annotations

from functools import partial

from fencepost.board.reading import FileReading
from fencepost.caching.store import Store
from fencepost.cli.parcel import Parcel
from fencepost.readers.gerber import read_gerber


def begun(parcel: Parcel, store: Store | None) -> FileReading:
    """The reading of a parcel's files; with a store, layers that were read before are taken from there."""
    settings = parcel.loaded.settings
    if store is None:
        return FileReading(parcel.package, settings)
    from fencepost.caching.artworks import kept_reader

    read = partial(read_gerber, limits=settings.limits)
    return FileReading(parcel.package, settings, kept_reader(store, read, settings.limits))
