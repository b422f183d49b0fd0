"""From changed files to packages, and the hook of pre-commit that does it in a real repository."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
import yaml

from fencepost.cli.packages import packages_of
from sketch import Sketch, write_package

HOOKS = Path(__file__).parents[2] / ".pre-commit-hooks.yaml"


def board(tied: bool = True) -> Sketch:
    made = Sketch(layers=4, size=(30.0, 20.0), name="tide")
    for layer in (2, 3):
        made.pour("GND", layer)
    made.via("GND", (15.8, 10) if tied else (2, 2))
    made.trace("SIG", 1, [(5, 10), (15, 10)])
    made.via("SIG", (15, 10))
    made.trace("SIG", 4, [(15, 10), (25, 10)])
    return made


FILES = board().gerber()


@pytest.fixture
def tree(tmp_path, monkeypatch) -> Path:
    """Packages in one folder, in subfolders by kind, as an archive and as a document; and files of none."""
    monkeypatch.chdir(tmp_path)
    write_package("a/fab", FILES)
    write_package("b/fab/gerber", {name: data for name, data in FILES.items() if not name.endswith(".drl")})
    write_package("b/fab/drill", {name: data for name, data in FILES.items() if name.endswith(".drl")})
    write_package("c/fab", board().gerber(drill="gerber"))
    (tmp_path / "b/fab/readme.txt").write_text("words")
    (tmp_path / "d").mkdir()
    with zipfile.ZipFile("d/fab.zip", "w") as archive:
        archive.writestr("x.gbr", FILES["tide-L1.gbr"])
    (tmp_path / "d/board.xml").write_bytes(board().ipc2581())
    (tmp_path / "docs").mkdir()
    (tmp_path / "docs/readme.txt").write_text("words")
    return tmp_path


CASES = [
    (["a/fab/tide-L1.gbr"], ["a/fab"]),
    (["a/fab/tide-L1.gbr", "a/fab/tide-L2.gbr", "a/fab/tide.gbrjob"], ["a/fab"]),
    (["b/fab/drill/tide-PTH.drl"], ["b/fab"]),
    (["b/fab/gerber/tide-L1.gbr", "b/fab/drill/tide-PTH.drl"], ["b/fab"]),
    (["c/fab/tide-L1.gbr", "a/fab/tide-L1.gbr"], ["a/fab", "c/fab"]),
    (["d/fab.zip", "d/board.xml"], ["d/board.xml", "d/fab.zip"]),
    (["a/fab/deleted.gbr"], ["a/fab"]),
    (["a"], ["a"]),
    (["a", "a/fab/tide-L1.gbr"], ["a"]),
    (["a/fencepost.toml"], ["a/fab"]),
    (["b/fencepost.toml"], ["b/fab"]),
    (["d/fencepost.toml"], ["d/board.xml", "d/fab.zip"]),
]


@pytest.mark.parametrize(("changed", "packages"), CASES)
def test_files_of_one_package_are_one_package(tree, changed, packages):
    grouped = packages_of([Path(name) for name in changed], tree)
    assert ([path.as_posix() for path in grouped.packages], grouped.notes) == (packages, ())


@pytest.mark.parametrize(
    "name", ["docs/readme.txt", "b/fab/readme.txt", "docs/gone.gbr", "gone/x.gbr", "docs/fencepost.toml"]
)
def test_a_file_of_no_package_is_ignored_with_a_note(tree, name):
    grouped = packages_of([Path(name)], tree)
    assert grouped.packages == ()
    assert grouped.notes == (f"{name}: note: belongs to no fabrication package; ignored",)


def test_nothing_above_the_working_directory_is_taken_for_a_package(tree):
    """Here drills would be found beside the folder, in another one."""
    grouped = packages_of([Path("b/fab/gerber/tide-L1.gbr")], tree / "b/fab/gerber")
    assert [path.as_posix() for path in grouped.packages] == ["b/fab/gerber"]


def git(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["git", *arguments], capture_output=True, text=True, check=False)


@pytest.fixture
def repository(tmp_path, monkeypatch) -> Path:
    """A git repository with the project's hook installed by pre-commit, its entry run by this interpreter."""
    for key in [key for key in os.environ if key.startswith("GIT_")]:
        monkeypatch.delenv(key)
    for key, value in {
        "HOME": tmp_path, "PRE_COMMIT_HOME": tmp_path / "cache", "GIT_CONFIG_NOSYSTEM": 1,
        "GIT_AUTHOR_NAME": "a", "GIT_AUTHOR_EMAIL": "a@b", "GIT_COMMITTER_NAME": "a", "GIT_COMMITTER_EMAIL": "a@b",
    }.items():  # fmt: skip
        monkeypatch.setenv(key, str(value))
    (hook,) = yaml.safe_load(HOOKS.read_text("utf-8"))
    program, *arguments = shlex.split(hook["entry"])
    assert program == "fencepost"
    local = {**hook, "language": "system", "entry": shlex.join([sys.executable, "-m", "fencepost", *arguments])}
    local["args"] = ["--fail-on", "note", "--rules", "transition-return"]
    place = tmp_path / "repository"
    place.mkdir()
    monkeypatch.chdir(place)
    (place / ".pre-commit-config.yaml").write_text(yaml.safe_dump({"repos": [{"repo": "local", "hooks": [local]}]}))
    assert git("init", "--quiet").returncode == 0
    done = subprocess.run([sys.executable, "-m", "pre_commit", "install"], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return place


def test_the_hook_s_manifest_is_one_for_pre_commit():
    done = subprocess.run(
        [sys.executable, "-m", "pre_commit", "validate-manifest", str(HOOKS)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (0, "")


@pytest.mark.parametrize(
    ("name", "handed"),
    [
        *[
            (name, True)
            for name in ("fab/a.GBR", "fab/a.gtl", "a.drl", "a.gbrjob", "fab.zip", "b.xml", "x/fencepost.toml")
        ],
        *[(name, False) for name in ("readme.md", "a.py", "pyproject.toml", "gbr")],
    ],
)
def test_the_hook_is_handed_files_that_can_be_of_a_package(name, handed):
    (hook,) = yaml.safe_load(HOOKS.read_text("utf-8"))
    assert bool(re.search(hook["files"], name)) == handed


@pytest.mark.skipif(shutil.which("git") is None, reason="needs git")
def test_a_commit_is_held_up_by_a_fault_and_only_the_changed_package_is_checked(repository):
    write_package("a/fab", board(tied=False).gerber())
    git("add", "a")
    stopped = git("commit", "--message", "faulty")
    said = stopped.stdout + stopped.stderr
    assert stopped.returncode != 0
    assert said.count("[transition-return]") == 1
    write_package("b/fab", FILES)
    (repository / "readme.txt").write_text("words")
    git("reset", "--quiet")
    git("add", "b", "readme.txt", ".pre-commit-config.yaml")
    passed = git("commit", "--message", "good")
    assert passed.returncode == 0, passed.stdout + passed.stderr
    assert "Passed" in passed.stdout + passed.stderr
