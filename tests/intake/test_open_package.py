"""Folders and single files as packages."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from msgspec.structs import replace

from fencepost.errors import FencepostError, InputError, UsageError
from fencepost.intake import DEFAULT_LIMITS, FileKind, Limits, Package, open_package, package_from

GERBER = b"%FSLAX46Y46*%\n%MOMM*%\nM02*\n"
DRILL = b"M48\nMETRIC\n%\nM30\n"
IPC2581 = b'<?xml version="1.0"?><IPC-2581 revision="C"/>'


@pytest.fixture
def fab(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a Gerber file, as seen from the folder above it."""
    monkeypatch.chdir(tmp_path)
    folder = Path("fab")
    folder.mkdir()
    (folder / "b.gbr").write_bytes(GERBER)
    return folder


def listed(package: Package) -> list[tuple[str, FileKind]]:
    """Name and kind of every file."""
    return [(file.source.name, file.kind) for file in package.files]


def test_a_folder_with_subfolders_in_the_order_of_names(fab: Path) -> None:
    (fab / "a.txt").write_bytes(b"read me")
    (fab / "drill" / "deep").mkdir(parents=True)
    (fab / "drill" / "z.drl").write_bytes(DRILL)
    (fab / "drill" / "deep" / "x").write_bytes(GERBER)
    package = open_package(fab)
    assert package.name == "fab"
    assert listed(package) == [
        ("fab/a.txt", FileKind.OTHER),
        ("fab/b.gbr", FileKind.GERBER),
        ("fab/drill/deep/x", FileKind.GERBER),
        ("fab/drill/z.drl", FileKind.DRILL),
    ]
    assert package.of_kind(FileKind.DRILL)[0].data == DRILL
    assert package.files[0].source.data == b""


def test_names_can_be_opened_from_the_working_directory(fab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = Path.cwd() / "fab"
    assert listed(open_package(whole)) == [("fab/b.gbr", FileKind.GERBER)]
    monkeypatch.chdir(fab)
    assert listed(open_package(Path())) == [("b.gbr", FileKind.GERBER)]
    assert listed(open_package(whole)) == [("b.gbr", FileKind.GERBER)]
    assert listed(open_package(Path("../fab"))) == [("b.gbr", FileKind.GERBER)]
    (Path.cwd() / "elsewhere").mkdir()
    monkeypatch.chdir("elsewhere")
    assert listed(open_package(Path(".."))) == [("../b.gbr", FileKind.GERBER)]
    for file in open_package(Path("..")).files:
        assert Path(file.source.name).read_bytes() == file.source.data


def test_dot_files_are_no_part_of_a_package(fab: Path) -> None:
    (fab / ".git").mkdir()
    (fab / ".git" / "c.gbr").write_bytes(GERBER)
    (fab / ".b.gbr.swp").write_bytes(GERBER)
    assert listed(open_package(fab)) == [("fab/b.gbr", FileKind.GERBER)]


def test_a_single_ipc2581_file_whatever_its_name(fab: Path) -> None:
    (fab / "board.txt").write_bytes(IPC2581)
    package = open_package(fab / "board.txt")
    assert package.name == "fab/board.txt"
    assert listed(package) == [("fab/board.txt", FileKind.IPC2581)]
    assert package.files[0].source.data == IPC2581


def test_one_file_of_a_package_is_not_taken_for_the_whole(fab: Path) -> None:
    with pytest.raises(InputError, match=r"^fab/b\.gbr: error: is one Gerber file; name the folder or the archive"):
        open_package(fab / "b.gbr")


def test_nothing_there_is_a_fault_of_the_command_line(fab: Path) -> None:
    with pytest.raises(UsageError, match="fab/nothing: no such file or folder"):
        open_package(fab / "nothing")


@pytest.mark.parametrize(
    ("files", "message"),
    [
        ({}, "holds no files"),
        ({"a.txt": b"read me"}, "holds no fabrication data"),
        ({"b.gbr": GERBER, "c.gbr": b""}, "^fab/c.gbr: error: is empty"),
        ({"b.gbr": GERBER, "c.gbr": b" \n\n"}, "^fab/c.gbr: error: is empty"),
    ],
)
def test_a_package_with_nothing_in_it_is_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, files: dict[str, bytes], message: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("fab").mkdir()
    for name, data in files.items():
        (Path("fab") / name).write_bytes(data)
    for build in (lambda: open_package(Path("fab")), lambda: package_from("fab", files)):
        with pytest.raises(InputError, match=message):
            build()


def test_files_in_memory_are_a_package_too(fab: Path) -> None:
    (fab / "d").mkdir()
    (fab / "d" / "a.drl").write_bytes(DRILL)
    made = package_from("fab", {"d/a.drl": DRILL, "b.gbr": GERBER})
    opened = open_package(fab)
    assert listed(made) == listed(opened)
    assert [file.source.data for file in made.files] == [file.source.data for file in opened.files]


def test_a_link_inside_the_folder_is_followed(fab: Path) -> None:
    (fab / "c.gbr").symlink_to("b.gbr")
    assert listed(open_package(fab)) == [("fab/b.gbr", FileKind.GERBER), ("fab/c.gbr", FileKind.GERBER)]


def test_the_folder_itself_may_be_a_link(fab: Path) -> None:
    Path("link").symlink_to("fab")
    assert listed(open_package(Path("link"))) == [("link/b.gbr", FileKind.GERBER)]


def _link_out(place: Path) -> None:
    Path("outside.gbr").write_bytes(GERBER)
    place.symlink_to("../outside.gbr")


REFUSED = {
    "a link out of the folder": (_link_out, "a link to a place outside the package"),
    "a link to a device": (lambda place: place.symlink_to("/dev/zero"), "a link to a place outside the package"),
    "a link to nowhere": (lambda place: place.symlink_to("nowhere"), "cannot be read"),
    "a link to itself": (lambda place: place.symlink_to(place.name), "cannot be read"),
    "a link to a folder": (lambda place: place.symlink_to("."), "a link to a folder"),
    "a pipe": (os.mkfifo, "not a regular file"),
}


@pytest.mark.parametrize(("make", "message"), REFUSED.values(), ids=REFUSED.keys())
def test_what_is_no_file_of_the_folder_is_an_error_and_not_opened(fab: Path, make: object, message: str) -> None:
    make(fab / "c.gbr")  # type: ignore[operator]
    with pytest.raises(InputError, match=f"^fab/c.gbr: error: (is )?{message}"):
        open_package(fab)


def test_a_pipe_alone_is_an_error(fab: Path) -> None:
    os.mkfifo("pipe")
    with pytest.raises(InputError, match=r"^pipe: error: is not a regular file"):
        open_package(Path("pipe"))


LIMITS = {
    "file_bytes": ({"file_bytes": len(GERBER) - 1}, "fab/b.gbr: error: is larger than"),
    "total_bytes": ({"total_bytes": len(GERBER) + len(DRILL) - 1}, "fab: error: holds more than 43 bytes"),
    "files": ({"files": 2}, "fab: error: holds more than 2 files"),
    "depth": ({"depth": 0}, "fab: error: holds the folder d, deeper than 0 folders"),
    "path_length": ({"path_length": 5}, "fab: error: holds a name of 7 characters; 5 are allowed"),
}


@pytest.mark.parametrize(("change", "message"), LIMITS.values(), ids=LIMITS.keys())
def test_a_limit_that_is_passed_is_named(fab: Path, change: dict[str, int], message: str) -> None:
    (fab / "d").mkdir()
    (fab / "d" / "a.drl").write_bytes(DRILL)
    limits = replace(DEFAULT_LIMITS, **change)
    files = {"b.gbr": GERBER, "d/a.drl": DRILL, "e.txt": b"read me"}
    (fab / "e.txt").write_bytes(files["e.txt"])
    for build in (lambda: open_package(fab, limits), lambda: package_from("fab", files, limits)):
        with pytest.raises(FencepostError, match=message) as caught:
            build()
        assert f"(limit {next(iter(change))})" in str(caught.value)


def test_limits_that_are_just_kept_are_no_error(fab: Path) -> None:
    limits = Limits(file_bytes=len(GERBER), total_bytes=len(GERBER), files=1, depth=0, path_length=5)
    assert len(open_package(fab, limits).files) == 1


def test_files_of_other_kinds_do_not_count_against_the_bytes(fab: Path) -> None:
    (fab / "model.bin").write_bytes(b"solid model\n" * 20_000)
    limits = Limits(file_bytes=100, total_bytes=100)
    assert listed(open_package(fab, limits)) == [("fab/b.gbr", FileKind.GERBER), ("fab/model.bin", FileKind.OTHER)]
