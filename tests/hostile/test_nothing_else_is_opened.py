"""A check opens the package, its settings, the interpreter and its own cache, and nothing else; it asks no network.

Python's audit events (PEP 578) tell of every file, socket and process, whoever opens it.
"""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "fixtures/tide-gauge"

WATCH = """
import json, os, sys

seen = []
watching = True

def hook(event, arguments):
    if watching and (event == "open" or event.split(".")[0] in ("socket", "subprocess", "os", "shutil", "tempfile")):
        seen.append([event, [str(argument) for argument in arguments]])

# With one processor all is done in this process, where it is seen.
if hasattr(os, "sched_setaffinity"):
    os.sched_setaffinity(0, [min(os.sched_getaffinity(0))])
sys.addaudithook(hook)
from fencepost.cli import main

code = 0
for line in json.loads(sys.argv[1]):
    try:
        main(line)
    except SystemExit as ended:
        code = max(code, ended.code)
watching = False
with open(sys.argv[2], "w") as file:
    json.dump(seen, file)
sys.exit(code)
"""

WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
CHANGES = (
    "os.remove",
    "os.rename",
    "os.mkdir",
    "os.rmdir",
    "os.link",
    "os.symlink",
    "os.chmod",
    "os.truncate",
    "shutil.",
    "tempfile.",
)
RUNS = ("subprocess.", "os.system", "os.exec", "os.posix_spawn", "os.fork", "os.spawn", "os.startfile")
DEVICES = ("/proc/", "/sys/", "/dev/null", "/dev/urandom", "/etc/localtime", "/etc/mime.types")
"""What libraries of the interpreter look at by themselves: processors, memory, time."""


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo as a folder, an archive and one file, with its settings."""
    place = tmp_path_factory.mktemp("demo")
    fab = place / "fab"
    fab.mkdir()
    with zipfile.ZipFile(place / "fab.zip", "w", zipfile.ZIP_DEFLATED) as zipped:
        for file in sorted((DEMO / "fab").iterdir()):
            (fab / file.name).write_bytes(file.read_bytes())
            zipped.writestr(file.name, file.read_bytes())
    for name in ("fencepost.toml", "tide.xml"):
        (place / name).write_bytes((DEMO / name).read_bytes())
    return place


@pytest.fixture(scope="module")
def events(place: Path) -> list[tuple[str, list[str]]]:
    """What happens in the checks of all three, the last two with a cache."""
    rules = ["--rules", "transition-return,ring-width,net-agreement", "--fail-on", "never", "--quiet"]
    lines = [["check", "fab", "--no-cache", *rules], ["check", "tide.xml", *rules], ["check", "fab.zip", *rules]]
    cache = place / "cache"
    environment = {**os.environ, "FENCEPOST_CACHE": str(cache), "PYTHONDONTWRITEBYTECODE": "1"}
    said = place / "events.json"
    done = subprocess.run(
        [sys.executable, "-c", WATCH, json.dumps(lines), str(said)],
        cwd=place, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return [(event, arguments) for event, arguments in json.loads(said.read_text())]


def opened(events: list[tuple[str, list[str]]], place: Path) -> list[tuple[Path, bool]]:
    """The files that were opened, and whether to write."""
    files = []
    for event, (path, mode, flags) in events:
        if event == "open" and not path.isdecimal():
            writes = any(letter in mode for letter in "wax+") or bool(int(flags) & WRITES)
            files.append((Path(os.path.realpath(place / path)), writes))
    return files


def opens(events: list[tuple[str, list[str]]]) -> list[tuple[str, list[str]]]:
    return [entry for entry in events if entry[0] == "open"]


def test_no_socket_is_made_and_no_name_is_looked_up(events) -> None:
    assert [entry for entry in events if entry[0].startswith("socket.")] == []


def test_no_program_is_run(events) -> None:
    assert [entry for entry in events if entry[0].startswith(RUNS)] == []


def test_only_the_package_its_settings_and_the_interpreter_are_read(events, place: Path) -> None:
    allowed = {
        place,
        ROOT,
        *map(Path, (sys.prefix, sys.base_prefix, sys.exec_prefix)),
        *map(Path, filter(None, sys.path)),
    }
    roots = tuple(os.path.realpath(root) for root in allowed)
    read = [path for path, writes in opened(opens(events), place) if not writes]
    strange = {
        str(path)
        for path in read
        if not str(path).startswith(DEVICES) and not any(path.is_relative_to(root) for root in roots)
    }
    assert strange == set()
    own = {path.relative_to(place).as_posix() for path in read if path.is_relative_to(place)}
    kept = {name for name in own if name.startswith("cache/")}
    assert own - kept == {
        "fencepost.toml",
        "tide.xml",
        "fab.zip",
        *(f"fab/{file.name}" for file in (place / "fab").iterdir()),
    }


def test_only_the_cache_is_written_and_only_the_user_may_read_it(events, place: Path) -> None:
    cache = place / "cache"
    written = {path for path, writes in opened(opens(events), place) if writes}
    assert written
    assert {path.parent for path in written} == {cache}
    for event, arguments in events:
        if event.startswith(CHANGES):
            assert all(str(cache) in path for path in arguments[:2] if path.startswith(("/", "."))), (event, arguments)
    for path in (cache, *cache.iterdir()):
        assert not stat.S_IMODE(path.stat().st_mode) & 0o077, path


def test_the_job_file_names_files_and_opens_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A job file that speaks of paths elsewhere: they are names to compare with, and the package is read as it is."""
    from hostile.gate import FILES, check_files

    monkeypatch.chdir(tmp_path)
    entry = (
        b'{"Path": "/etc/passwd", "FileFunction": "Copper,L2,Inr"}, {"Path": "../../x", "FileFunction": "Profile,NP"}, '
    )
    job = FILES["b.gbrjob"].replace(b'"FilesAttributes": [', b'"FilesAttributes": [' + entry)
    assert job != FILES["b.gbrjob"]
    asked: list[str] = []
    monkeypatch.setattr(os, "open", watched(os.open, asked))
    assert check_files({**FILES, "b.gbrjob": job}, "", "--fail-on", "never", "--no-cache").code == 0
    assert sorted(Path(path).name for path in asked if "fab" in path) == sorted(FILES)


def watched(function, asked: list[str]):
    """The function, whose first arguments are noted."""

    def call(path, *arguments, **named):
        asked.append(os.fspath(path))
        return function(path, *arguments, **named)

    return call
