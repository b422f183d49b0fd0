"""Artworks as bytes and back: arrays as numpy writes them, shapes as WKB, nothing that could be run."""

from __future__ import annotations

import io
from collections.abc import Callable
from contextlib import suppress
from dataclasses import fields
from zipfile import BadZipFile

import msgspec
import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.caching.keys import content, digest, environment, program
from fencepost.caching.store import Store
from fencepost.limits import DEFAULT_LIMITS, Limits
from fencepost.readers.artwork import Artwork, Attributes, Tool
from fencepost.source import SourceFile

_COLUMNS = tuple(
    field.name
    for field in fields(Artwork)
    if field.name not in ("source", "attributes", "tools", "values", "component_attributes")
)


class _Tables(msgspec.Struct, frozen=True):
    """What of an artwork is no array."""

    attributes: Attributes
    values: tuple[tuple[str, ...], ...]
    component_attributes: dict[str, Attributes]
    tools: tuple[tuple[float, bytes, tuple[str, ...]], ...]


def kept_reader(
    store: Store, read: Callable[[SourceFile], Artwork], limits: Limits = DEFAULT_LIMITS
) -> Callable[[SourceFile], Artwork]:
    """A reader that looks into the store first, by the content of the file, and puts there what it had to read.

    `limits` are those that `read` keeps: what one run could read is not taken by another that would refuse it.
    """

    def read_or_find(source: SourceFile) -> Artwork:
        key = digest(["artwork", program(), environment(), repr(limits), content(source)])
        found = store.get(key)
        if found is not None:
            with suppress(ValueError):
                return decoded(found, source)
        artwork = read(source)
        store.put(key, encoded(artwork))
        return artwork

    return read_or_find


def encoded(artwork: Artwork) -> bytes:
    """Everything of an artwork but the file that it was read from."""
    tables = _Tables(
        artwork.attributes,
        artwork.values,
        artwork.component_attributes,
        tuple((tool.width, shapely.to_wkb(tool.shape), tool.function) for tool in artwork.tools),
    )
    arrays: dict[str, NDArray[np.generic]] = {name: getattr(artwork, name) for name in _COLUMNS}
    file = io.BytesIO()
    np.savez(file, tables=np.frombuffer(msgspec.msgpack.encode(tables), dtype=np.uint8), **arrays)  # type: ignore[arg-type]
    return file.getvalue()


def decoded(data: bytes, source: SourceFile) -> Artwork:
    """The artwork again. Raises ValueError where the data are not those of one."""
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as arrays:
            tables = msgspec.msgpack.decode(arrays["tables"].tobytes(), type=_Tables)
            columns = {name: arrays[name] for name in _COLUMNS}
    except (EOFError, KeyError, OSError, ValueError, BadZipFile) as error:
        raise ValueError(f"not an artwork: {error}") from error
    tools = tuple(Tool(width, shapely.from_wkb(shape), function) for width, shape, function in tables.tools)
    return Artwork(
        source=source,
        attributes=tables.attributes,
        tools=tools,
        values=tables.values,
        component_attributes=tables.component_attributes,
        **columns,
    )
