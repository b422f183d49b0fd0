"""The quick look at what is installed against the standard library, which is the reference."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

ASKED = """
import sys
{before}
from fencepost.rulepacks import GROUP, installed_packs
found = sorted((pack.name, pack.value) for pack in installed_packs())
quick = "importlib.metadata" not in sys.modules
from importlib.metadata import entry_points
assert found == sorted((point.name, point.value) for point in entry_points(group=GROUP)), found
print(quick, *(name for name, _ in found))
"""

ENTRIES = "[console_scripts]\nodd = odd:main\n\n[fencepost.rules]\nodd = odd_pack\n\n[others]\nmore = odd:more\n"

FINDER = """
from importlib.metadata import DistributionFinder
class Finder(DistributionFinder):
    def find_spec(self, *asked): return None
    def find_distributions(self, context=None): return iter(())
sys.meta_path.append(Finder())
for name in [name for name in sys.modules if name.startswith("importlib.metadata")]: del sys.modules[name]
"""


@pytest.fixture
def place(tmp_path: Path) -> Path:
    (tmp_path / "place").mkdir()
    return tmp_path / "place"


def asked(place: Path, before: str = "") -> list[str]:
    """What an interpreter with a place on its path says, working in an empty folder."""
    path = os.pathsep.join(filter(None, (str(place), os.environ.get("PYTHONPATH"))))
    here = place.parent / "here"
    here.mkdir()
    done = subprocess.run(
        [sys.executable, "-c", ASKED.format(before=before)],
        cwd=here,
        env={**os.environ, "PYTHONPATH": path},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.split()


def nothing(folder: Path) -> None:
    """No more than what is there."""


def of_another_group(folder: Path) -> None:
    described(folder / "odd-1.0.dist-info", ENTRIES.replace("fencepost.rules", "fencepost.rulesets"))


def without_entries(folder: Path) -> None:
    (folder / "odd-1.0.dist-info").mkdir()


def installed(folder: Path) -> None:
    described(folder / "odd_pack-1.0.dist-info", ENTRIES)


def with_spaces(folder: Path) -> None:
    described(folder / "odd_pack-1.0.dist-info", ENTRIES.replace("[fencepost.rules]\n", " [fencepost.rules] \r\n\n"))


def in_development(folder: Path) -> None:
    described(folder / "odd_pack.egg-info", ENTRIES)


def in_an_egg(folder: Path) -> None:
    described(folder / "odd_pack-1.0-py3.egg" / "EGG-INFO", ENTRIES)


def beside_a_second_copy_of_ours(folder: Path) -> None:
    described(folder / "fencepost-9.9.dist-info", "[fencepost.rules]\nbuiltin = fencepost_rules\n")


def with_more_of_ours(folder: Path) -> None:
    """Of our own project, but not as plain as its entries are."""
    entries = "# ours\n[fencepost.rules]\nbuiltin = fencepost_rules\none = odd.rules:One [extra]\n"
    described(folder / "fencepost-9.9.dist-info", entries)


def of_our_name(folder: Path) -> None:
    described(folder / "fencepost-9.9.dist-info", ENTRIES)


def described(folder: Path, entries: str) -> None:
    folder.mkdir(parents=True)
    for name in ("METADATA", "PKG-INFO"):
        (folder / name).write_text(f"Metadata-Version: 2.1\nName: {folder.name.partition('-')[0]}\nVersion: 1.0\n")
    (folder / "entry_points.txt").write_text(entries)


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        (nothing, ["True", "builtin"]),
        (of_another_group, ["True", "builtin"]),
        (without_entries, ["True", "builtin"]),
        (beside_a_second_copy_of_ours, ["True", "builtin"]),
        (installed, ["False", "builtin", "odd"]),
        (with_spaces, ["False", "builtin", "odd"]),
        (in_development, ["False", "builtin", "odd"]),
        (of_our_name, ["False", "odd"]),
        (with_more_of_ours, ["False", "builtin", "one"]),
    ],
)
def test_packs_are_those_that_the_library_finds(place: Path, made: Callable[[Path], None], expected: list[str]) -> None:
    """First whether it took the quick look alone, then the names of what is found."""
    made(place)
    assert asked(place) == expected


def test_an_egg_beside_is_left_to_the_library(place: Path) -> None:
    in_an_egg(place)
    assert asked(place)[0] == "False"


def test_a_pack_in_an_archive_on_the_path_is_found(place: Path) -> None:
    installed(place)
    archive = place / "packs.zip"
    with zipfile.ZipFile(archive, "w") as file:
        for name in ("METADATA", "entry_points.txt"):
            file.write(place / "odd_pack-1.0.dist-info" / name, f"odd_pack-1.0.dist-info/{name}")
    assert asked(archive) == ["False", "builtin", "odd"]


def test_what_finds_packages_in_its_own_way_is_asked(place: Path) -> None:
    assert asked(place, FINDER) == ["False", "builtin"]


def test_a_folder_that_is_not_there_changes_nothing(place: Path) -> None:
    assert asked(place / "gone") == ["True", "builtin"]
