"""An artwork out of the cache is the artwork that went in, and a changed file is read anew."""

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from fencepost.board.load import load_board
from fencepost.board.model import Board
from fencepost.board.reading import FileReading, GerberReader
from fencepost.caching.artworks import decoded, encoded, kept_reader
from fencepost.caching.store import Store
from fencepost.intake import package_from
from fencepost.readers.artwork import Artwork
from fencepost.readers.gerber import read_gerber
from fencepost.settings.model import Settings
from fencepost.source import SourceFile
from sketch import Sketch


def files() -> dict[str, bytes]:
    sketch = Sketch(layers=2)
    sketch.pour("GND", 2, cut="clear")
    sketch.trace("SIG", 1, [(2, 5), (10, 5)])
    sketch.pad("U1", "1", "SIG", 1, (2, 5), size=(0.6, 0.3))
    sketch.via("SIG", (10, 5))
    return sketch.gerber()


def same(left: Artwork, right: Artwork) -> bool:
    def equal(name: str) -> bool:
        a, b = getattr(left, name), getattr(right, name)
        if isinstance(a, np.ndarray):
            return a.dtype == b.dtype and np.array_equal(a, b)
        if name == "tools":
            return all(
                x.width == y.width and x.function == y.function and shapely.equals_exact(x.shape, y.shape)
                for x, y in zip(a, b, strict=True)
            )
        return bool(a == b)

    return all(equal(field.name) for field in fields(Artwork) if field.name != "source")


@pytest.mark.parametrize("name", ["board-L1.gbr", "board-L2.gbr"])
def test_there_and_back(name: str) -> None:
    source = SourceFile(name, files()[name])
    artwork = read_gerber(source)
    assert same(decoded(encoded(artwork), source), artwork)


WHOLE = encoded(read_gerber(SourceFile("board-L1.gbr", files()["board-L1.gbr"])))


@pytest.mark.parametrize("data", [b"", b"PK\x05\x06" + bytes(18), b"\x80\x04K\x01.", WHOLE[:-400], WHOLE[400:]])
def test_what_is_no_artwork_is_refused(data: bytes) -> None:
    with pytest.raises(ValueError, match=r".+"):
        decoded(data, SourceFile("a", b""))


def loaded(files: dict[str, bytes], read: GerberReader) -> Board:
    package = package_from("board", files)
    with FileReading(package, Settings(), read) as reading:
        return load_board(package, Settings(), reading=reading)


def test_only_a_changed_layer_is_read_again(tmp_path: Path) -> None:
    read: list[str] = []

    def counting(source: SourceFile) -> Artwork:
        read.append(source.name)
        return read_gerber(source)

    store, package = Store(tmp_path), files()
    first = loaded(package, kept_reader(store, counting))
    everything = sorted(read)
    read.clear()
    again = loaded(package, kept_reader(store, counting))
    assert (sorted(set(everything)), read) == (everything, [])
    assert all(same(a.artwork, b.artwork) for a, b in zip(first.copper, again.copper, strict=True))
    package["board-L1.gbr"] = package["board-L1.gbr"].replace(b"M02*", b"G04 changed*\nM02*")
    loaded(package, kept_reader(store, counting))
    assert read == ["board/board-L1.gbr"]


def test_a_file_of_the_same_content_under_another_name_says_its_own_name(tmp_path: Path) -> None:
    reader, data = kept_reader(Store(tmp_path), read_gerber), files()["board-L1.gbr"]
    reader(SourceFile("old.gbr", data))
    assert reader(SourceFile("new.gbr", data)).location(0).file == "new.gbr"


def test_replacing_a_column_is_seen() -> None:
    source = SourceFile("a", files()["board-L1.gbr"])
    artwork = read_gerber(source)
    assert not same(replace(artwork, xy=artwork.xy + 1e-9), artwork)
