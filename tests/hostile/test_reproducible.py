"""The same input gives the same bytes: whatever the order of files, the seed of hashes, jobs, locale and time zone."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

from fuzz.faulty import routed
from hostile.gate import check
from sketch import write_package

DEMO = Path(__file__).parents[2] / "fixtures/tide-gauge"
FORMATS = ("text", "json", "sarif", "junit", "github", "gitlab", "html")
ELAPSED = re.compile(rb'"elapsed_s": [\d.e-]+|\btime="[\d.e-]+"|\b[\d.]+ s\b')
"""How long something took is all that may differ."""

ENVIRONMENTS: list[tuple[dict[str, str], list[str]]] = [
    ({"PYTHONHASHSEED": "0", "LC_ALL": "C", "TZ": "UTC"}, ["--jobs", "1"]),
    ({"PYTHONHASHSEED": "1", "LC_ALL": "C.UTF-8", "TZ": "Pacific/Kiritimati", "LANG": "tr_TR.UTF-8"}, ["--jobs", "2"]),
]


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Folders of reports: of the demo's archive, its files in one order and then the other, and of a small board."""
    folders = []
    files = sorted((DEMO / "fab").iterdir())
    for (environment, options), order in zip(ENVIRONMENTS, (files, files[::-1]), strict=True):
        place = tmp_path_factory.mktemp("run")
        with zipfile.ZipFile(place / "demo.zip", "w") as zipped:
            for file in order:
                zipped.writestr(file.name, file.read_bytes())
        (place / "fencepost.toml").write_bytes((DEMO / "fencepost.toml").read_bytes())
        small = routed().gerber()
        write_package(place / "small", dict(sorted(small.items(), reverse=bool(folders))))
        outputs = [part for kind in FORMATS for part in ("--output", f"{kind}=report.{kind}")]
        line = [
            "check",
            "demo.zip",
            "small",
            "--no-cache",
            "--skip",
            "pour-resonance,barrel-stub",
            "--fail-on",
            "never",
            "--quiet",
            *options,
            *outputs,
        ]
        done = subprocess.run(
            [sys.executable, "-m", "fencepost", *line],
            cwd=place, env={**os.environ, **environment}, capture_output=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        (place / "report.stdout").write_bytes(done.stdout)
        folders.append(place)
    return folders


@pytest.mark.parametrize("kind", [*FORMATS, "stdout"])
def test_a_report_is_the_same_byte_for_byte(runs: list[Path], kind: str) -> None:
    first, second = ((place / f"report.{kind}").read_bytes() for place in runs)
    assert first
    assert ELAPSED.sub(b"", first) == ELAPSED.sub(b"", second)


def test_other_names_of_the_files_find_the_same() -> None:
    """Read in another order, under names that sort the other way; of two holes that are at fault either is named."""
    files = routed().gerber()
    renamed = {f"{99 - i}-{name}": data for i, (name, data) in enumerate(sorted(files.items()))}
    found = []
    for folder, given in (("one", files), ("other", renamed)):
        write_package(folder, given)
        outcome = check(folder, "--fail-on", "never", "--format", "json", "--no-cache", "--quiet")
        found.append(sorted(map(essence, json.loads(outcome.out)["findings"])))
    assert found[0]
    assert found[0] == found[1]


def essence(finding: dict[str, Any]) -> str:
    """What is found and where, without the names of files and in no order of places."""
    places = sorted([one["x_mm"], one["y_mm"]] for one in (finding, *finding["notes"]))
    return json.dumps([finding[key] for key in ("rule", "severity", "measured", "limit")] + places)
