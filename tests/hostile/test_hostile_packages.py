"""Archives and folders that are traps: one error with the name, nothing opened outside of them, nothing written."""

from __future__ import annotations

import io
import os
import socket
import stat
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from hostile.gate import FILES, check, confined, gerber
from sketch import write_package


def archive(files: Mapping[str, bytes], mode: int = stat.S_IFREG | 0o644) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as zipped:
        for name, content in files.items():
            entry = zipfile.ZipInfo(name)
            entry.external_attr = mode << 16
            entry.compress_type = zipfile.ZIP_DEFLATED
            zipped.writestr(entry, content)
    return data.getvalue()


def many_entries(count: int) -> bytes:
    """An archive whose list names one file again and again: 76 bytes for each."""
    data = archive({"a": b"x"})
    at = data.index(b"PK\x01\x02")
    end = data.index(b"PK\x05\x06")
    tail = bytearray(data[end:])
    tail[12:16] = ((end - at) * count).to_bytes(4, "little")
    return data[:at] + data[at:end] * count + bytes(tail)


ARCHIVES: dict[str, tuple[Callable[[], bytes], str]] = {
    "archives in archives and nothing else": (
        lambda: archive({"a.zip": archive({"b.zip": archive(FILES)})}),
        "fab.zip: error: holds no fabrication data",
    ),
    "a file that grows a thousandfold": (
        lambda: archive({"a.gbr": gerber("") + b"*" * 50_000_000}),
        "fab.zip/a.gbr: error: grows more than 250 times when it is unpacked (limit ratio)",
    ),
    "too many files": (
        lambda: archive({f"a{i}": b"x" for i in range(2001)}),
        "fab.zip: error: holds more than 2,000 files (limit files)",
    ),
    "a list of 500,000 files": (
        lambda: many_entries(500_000),
        "fab.zip: error: holds more than 2,000 files (limit files)",
    ),
    "a path that climbs": (
        lambda: archive({"../../b.gbr": gerber("")}),
        "fab.zip: error: holds the name '../../b.gbr', which is not a place inside",
    ),
    "a path from the root": (lambda: archive({"/etc/b.gbr": gerber("")}), "which is not a place inside the archive"),
    "a path as other systems write it": (
        lambda: archive({"C:\\..\\b.gbr": gerber("")}),
        "which is not a place inside the archive",
    ),
    "a link": (
        lambda: archive({"b.gbr": b"/etc/passwd"}, stat.S_IFLNK | 0o777),
        "fab.zip/b.gbr: error: is a link or a device",
    ),
    "a name that moves the cursor": (
        lambda: archive({"a\x1b[2Jb\u202e.gbr": b"notes"} | FILES),
        "fab.zip/a\\x1b[2Jb\\u202e.gbr: error: is named as fabrication data",
    ),
    "a name of 60,000 letters": (
        lambda: archive({"x" * 60_000: gerber("")}),
        "fab.zip: error: holds a name of 60000 characters",
    ),
    "folders a thousand deep": (lambda: archive({"a/" * 100 + "b.gbr": gerber("")}), "(limit depth)"),
    "an archive cut short": (lambda: archive(FILES)[:-30], "fab.zip: error: cannot be unpacked"),
}


@pytest.mark.parametrize(("data", "said"), ARCHIVES.values(), ids=ARCHIVES)
def test_a_hostile_archive_is_refused(here: Path, data: Callable[[], bytes], said: str) -> None:
    Path("fab.zip").write_bytes(data())
    outcome = confined(lambda: check("fab.zip", "--quiet"))
    outcome.assert_refused(said)
    assert len(outcome.err) < 3_000
    assert [path.name for path in here.iterdir()] == ["fab.zip"]


def bound(path: Path) -> None:
    """A socket with a name."""
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(path))


FOLDERS: dict[str, tuple[Callable[[], object], str]] = {
    "a pipe": (lambda: os.mkfifo("fab/x.gbr"), "fab/x.gbr: error: is not a regular file; it is not opened"),
    "a socket": (lambda: bound(Path("fab/x.gbr")), "fab/x.gbr: error: "),
    "a link out of the package": (
        lambda: Path("fab/x.gbr").symlink_to("/etc/passwd"),
        "is a link to a place outside the package",
    ),
    "a link that climbs": (
        lambda: Path("fab/x.gbr").symlink_to("../outside.gbr"),
        "is a link to a place outside the package",
    ),
    "a link to itself": (lambda: Path("fab/x.gbr").symlink_to("x.gbr"), "fab/x.gbr: error: "),
    "a link to nothing": (lambda: Path("fab/x.gbr").symlink_to("nothing.gbr"), "fab/x.gbr: error: cannot be read"),
    "a link to a folder": (lambda: Path("fab/x").symlink_to("."), "fab/x: error: is a link to a folder"),
    "a name that moves the cursor": (
        lambda: Path("fab/\x1b[2J\u202e.gbr").write_bytes(b"notes"),
        "fab/\\x1b[2J\\u202e.gbr: error: ",
    ),
    "a name that is no text": (
        lambda: Path(os.fsdecode(b"fab/\xff.gbr")).write_bytes(b"notes"),
        "fab/\\udcff.gbr: error: ",
    ),
    "folders too deep": (lambda: Path("fab/" + "a/" * 9).mkdir(parents=True), "(limit depth)"),
}


@pytest.mark.parametrize(("make", "said"), FOLDERS.values(), ids=FOLDERS)
def test_a_hostile_folder_is_refused(make: Callable[[], object], said: str) -> None:
    write_package("fab", FILES)
    Path("outside.gbr").write_bytes(gerber(""))
    make()
    confined(lambda: check("fab", "--quiet")).assert_refused(said)


def test_a_folder_named_like_a_file_is_a_folder() -> None:
    write_package("fab", FILES)
    write_package("fab/b-L9.gbr", {"notes.txt": b"x"})
    outcome = confined(lambda: check("fab", "--quiet", "--fail-on", "never"))
    outcome.assert_harmless()
    assert outcome.code == 0
