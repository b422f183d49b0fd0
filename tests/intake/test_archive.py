"""Archives as packages. They are made here with the standard library, and by hand where it would refuse to."""

from __future__ import annotations

import io
import stat
import struct
import warnings
import zipfile
from pathlib import Path

import pytest
from msgspec.structs import replace

from fencepost.errors import InputError
from fencepost.intake import DEFAULT_LIMITS, FileKind, open_package, package_from

GERBER = b"%FSLAX46Y46*%\n%MOMM*%\nM02*\n"
DRILL = b"M48\nMETRIC\n%\nM30\n"


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def archive(
    files: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED, mode: int = stat.S_IFREG | 0o644, name: str = "fab.zip"
) -> Path:
    """A .zip of these files in the working directory."""
    with zipfile.ZipFile(name, "w", method) as zipped:
        for inner, data in files.items():
            entry = zipfile.ZipInfo(inner)
            entry.external_attr = mode << 16
            entry.compress_type = method
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # two files of one name
                zipped.writestr(entry, data)
    return Path(name)


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
@pytest.mark.parametrize("name", ["fab.zip", "fab.bin"])
def test_an_archive_is_the_package_of_its_files(method: int, name: str) -> None:
    files = {"out/b.gbr": GERBER, "out/a.drl": DRILL, "readme.txt": b"read me"}
    opened = open_package(archive(files, method, name=name))
    made = package_from(name, files)
    assert opened.name == name
    assert [(file.source.name, file.kind, file.source.data) for file in opened.files] == [
        (f"{name}/out/a.drl", FileKind.DRILL, DRILL),
        (f"{name}/out/b.gbr", FileKind.GERBER, GERBER),
        (f"{name}/readme.txt", FileKind.OTHER, b""),
    ]
    assert [file.source.data for file in made.files] == [file.source.data for file in opened.files]
    assert list(Path().iterdir()) == [Path(name)]


def test_folders_dot_files_and_what_one_system_adds_are_no_part() -> None:
    path = archive({"out/": b"", "out/b.gbr": GERBER, "__MACOSX/out/._b.gbr": b"\0\5", "out/.hidden": GERBER})
    assert [file.source.name for file in open_package(path).files] == ["fab.zip/out/b.gbr"]


def test_an_archive_in_an_archive_is_not_opened() -> None:
    inner = archive({"b.gbr": GERBER}, name="inner.zip").read_bytes()
    package = open_package(archive({"c.gbr": GERBER, "inner.zip": inner}))
    assert [file.kind for file in package.files] == [FileKind.GERBER, FileKind.OTHER]


REFUSED = {
    "nothing in it": ({}, {}, "^fab.zip: error: holds no files"),
    "nothing of use in it": ({"a.txt": b"read me"}, {}, "^fab.zip: error: holds no fabrication data"),
    "an empty file": ({"a.gbr": b""}, {}, "^fab.zip/a.gbr: error: is empty"),
    "a place above": ({"../b.gbr": GERBER}, {}, r"'\.\./b\.gbr', which is not a place inside the archive"),
    "a place above further in": ({"a/../../b.gbr": GERBER}, {}, "not a place inside the archive"),
    "a place above, written otherwise": ({"a\\..\\..\\b.gbr": GERBER}, {}, "not a place inside the archive"),
    "a place from the root": ({"/etc/b.gbr": GERBER}, {}, "not a place inside the archive"),
    "a link": ({"b.gbr": b"/etc/passwd"}, {"mode": stat.S_IFLNK | 0o777}, "a link or a device inside the archive"),
    "a device": ({"b.gbr": GERBER}, {"mode": stat.S_IFCHR | 0o644}, "a link or a device inside the archive"),
    "another method": ({"b.gbr": GERBER}, {"method": zipfile.ZIP_LZMA}, "packed by a method other than deflate"),
}


@pytest.mark.parametrize(("files", "how", "message"), REFUSED.values(), ids=REFUSED.keys())
def test_what_is_no_plain_file_in_the_archive_is_an_error(
    files: dict[str, bytes], how: dict[str, int], message: str
) -> None:
    with pytest.raises(InputError, match=message):
        open_package(archive(files, **how))


def test_two_files_of_one_name_are_an_error() -> None:
    with zipfile.ZipFile("fab.zip", "w") as zipped, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        zipped.writestr("b.gbr", GERBER)
        zipped.writestr("b.gbr", DRILL)
    with pytest.raises(InputError, match=r"holds two files of the name 'b.gbr'"):
        open_package(Path("fab.zip"))


def test_an_encrypted_file_is_an_error() -> None:
    """Bit 0 of the general purpose flags, in the local header and the central directory (PKWARE APPNOTE 4.4.4)."""
    data = bytearray(archive({"b.gbr": GERBER}).read_bytes())
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    Path("fab.zip").write_bytes(data)
    with pytest.raises(InputError, match=r"^fab\.zip/b\.gbr: error: is encrypted"):
        open_package(Path("fab.zip"))


@pytest.mark.parametrize("cut", [30, 60, -40, -1])
def test_an_archive_cut_short_is_an_error(cut: int) -> None:
    whole = archive({"b.gbr": GERBER, "c.gbr": GERBER}).read_bytes()
    Path("cut.zip").write_bytes(whole[:cut])
    with pytest.raises(InputError, match=r"^cut.zip: error: cannot be unpacked"):
        open_package(Path("cut.zip"))


def test_damaged_contents_are_an_error() -> None:
    data = bytearray(archive({"b.gbr": GERBER}, zipfile.ZIP_STORED).read_bytes())
    at = data.index(GERBER)
    data[at + 5] ^= 0xFF
    Path("fab.zip").write_bytes(data)
    with pytest.raises(InputError, match=r"^fab\.zip/b\.gbr: error: cannot be unpacked"):
        open_package(Path("fab.zip"))


BIG = GERBER + b"G04 the same line many times*\n" * 100_000

LIMITS = {
    "file_bytes": ({"file_bytes": 1_000_000}, r"fab.zip/b\.gbr: error: is larger than 1,000,000 bytes"),
    "total_bytes": ({"total_bytes": 4_000_000}, "fab.zip: error: holds more than 4,000,000 bytes"),
    "files": ({"files": 1}, "fab.zip: error: holds more than 1 files"),
    "ratio": ({"ratio": 50.0}, r"fab.zip/b\.gbr: error: grows more than 50 times"),
    "depth": ({"depth": 0}, "fab.zip: error: holds the folder d, deeper than 0"),
    "path_length": ({"path_length": 5}, "fab.zip: error: holds a name of 7 characters"),
}


@pytest.mark.parametrize(("change", "message"), LIMITS.values(), ids=LIMITS.keys())
def test_a_limit_that_is_passed_is_named(change: dict[str, float], message: str) -> None:
    path = archive({"b.gbr": BIG, "d/c.gbr": BIG})
    kept = replace(DEFAULT_LIMITS, ratio=1_000.0)
    assert len(open_package(path, kept).files) == 2
    with pytest.raises(InputError, match=message) as caught:
        open_package(path, replace(kept, **change))
    assert f"(limit {next(iter(change))})" in str(caught.value)


def test_by_default_a_thousandfold_growth_is_refused() -> None:
    with pytest.raises(InputError, match="limit ratio"):
        open_package(archive({"b.gbr": GERBER + b"*" * 4_000_000}))


def test_an_archive_larger_than_a_file_may_be_is_refused() -> None:
    path = archive({"b.gbr": GERBER})
    with pytest.raises(InputError, match=r"^fab\.zip: error: is larger than 50 bytes"):
        open_package(path, replace(DEFAULT_LIMITS, file_bytes=50))


def test_a_size_that_is_a_lie_is_found_out() -> None:
    """The central directory says 10 bytes where many more come out: the checksum of what it gives does not fit."""
    data = bytearray(archive({"b.gbr": BIG}).read_bytes())
    for signature, at in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        struct.pack_into("<I", data, data.index(signature) + at, 10)
    assert zipfile.ZipFile(io.BytesIO(data)).infolist()[0].file_size == 10
    Path("fab.zip").write_bytes(data)
    with pytest.raises(InputError, match=r"^fab\.zip/b\.gbr: error: "):
        open_package(Path("fab.zip"))
