"""Findings that are known already: a file of them, and what is new against it.

A finding is known by its fingerprint, which does not depend on files and lines. Several findings may have the same one,
so they are counted. A place may fall on the other side of a step of the fingerprint when a board is exported anew, in
other units or with fewer digits: what is left over is matched by rule, nets and layers within TOLERANCE_MM.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec

from fencepost.checking.finding import Finding
from fencepost.errors import InputError
from fencepost.frozen import dataclass

SCHEMA = "fencepost/baseline/1"
TOLERANCE_MM = 0.02
"""Two steps of the fingerprint."""

LARGEST_BYTES = 64 * 1024 * 1024


class Known(msgspec.Struct, frozen=True):
    """A finding of the past. The message is for people who read the file."""

    rule: str
    nets: tuple[str, ...]
    layers: tuple[str, ...]
    x_mm: float
    y_mm: float
    fingerprint: Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{16,}$")]
    message: str = ""


class Baseline(msgspec.Struct, frozen=True):
    """By the names of packages, relative to the folder that the file lies in."""

    schema: Literal["fencepost/baseline/1"]
    packages: dict[str, tuple[Known, ...]]

    def of(self, package: str, checked: Iterable[str]) -> tuple[Known, ...]:
        """What is known of a package; `checked` are the names of all packages of this run.

        A package that the file does not name may be a known one that was exported under another name: it gets the
        findings of every package that the file names and this run does not check.
        """
        if package in self.packages:
            return self.packages[package]
        names = set(checked)
        return tuple(one for name, known in self.packages.items() if name not in names for one in known)


@dataclass(frozen=True)
class Sifted:
    """Findings that are new, and how many are known. `gone` counts what was known and is not there any more."""

    new: tuple[Finding, ...]
    known: int
    gone: int


def sift(findings: Sequence[Finding], known: Sequence[Known]) -> Sifted:
    """Take the known findings out, each as often as it was known."""
    counts = Counter(one.fingerprint for one in known)
    strangers = []
    for finding in findings:
        if counts[finding.fingerprint]:
            counts[finding.fingerprint] -= 1
        else:
            strangers.append(finding)
    left = []
    for one in reversed(known):
        if counts[one.fingerprint]:
            counts[one.fingerprint] -= 1
            left.append(one)
    new = [finding for finding in strangers if not _take(left, finding)]
    return Sifted(tuple(new), len(findings) - len(new), len(left))


def _take(left: list[Known], finding: Finding) -> bool:
    """Take the nearest known finding that this one is, if there is one."""
    alike = [(away, i) for i, one in enumerate(left) if (away := _away(one, finding)) <= TOLERANCE_MM]
    if alike:
        del left[min(alike)[1]]
    return bool(alike)


def _away(one: Known, finding: Finding) -> float:
    """In mm; infinite where it is another fault."""
    if one.rule != finding.rule or sorted(one.nets) != sorted(finding.nets) or one.layers != finding.layers:
        return math.inf
    return math.hypot(one.x_mm - finding.place.x_mm, one.y_mm - finding.place.y_mm)


def written(packages: Mapping[str, Iterable[Finding]]) -> str:
    """The file, a finding on a line, in an order that does not depend on files and lines."""
    known = {name: sorted(_line(finding) for finding in findings) for name, findings in sorted(packages.items())}
    tables = [f"    {_json(name)}: [{_block(lines)}]" for name, lines in known.items()]
    return f'{{\n  "schema": "{SCHEMA}",\n  "packages": {{\n' + ",\n".join(tables) + "\n  }\n}\n"


def _block(lines: Sequence[str]) -> str:
    return "\n      " + ",\n      ".join(lines) + "\n    " if lines else ""


def _line(finding: Finding) -> str:
    values: dict[str, Any] = {
        "rule": finding.rule,
        "nets": list(finding.nets),
        "layers": list(finding.layers),
        "x_mm": round(float(finding.place.x_mm), 3) + 0.0,
        "y_mm": round(float(finding.place.y_mm), 3) + 0.0,
        "fingerprint": finding.fingerprint,
        "message": finding.message,
    }
    return _json(values)


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=True, allow_nan=False).replace("\x7f", "\\u007f")


def read_baseline(path: Path, shown: str) -> Baseline:
    """Raises InputError, with the name to be shown, for what is not there or is no such file."""
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise InputError(shown, 0, 0, f"cannot be read: {error.strerror or error}") from None
    if len(data) > LARGEST_BYTES:
        raise InputError(shown, 0, 0, f"is larger than {LARGEST_BYTES:,} bytes")
    try:
        # Not msgspec's own reader, which refuses the half characters that names may hold.
        return msgspec.convert(json.loads(data), Baseline)
    except (ValueError, RecursionError) as error:
        raise InputError(shown, 0, 0, f"is no baseline: {error}") from None
