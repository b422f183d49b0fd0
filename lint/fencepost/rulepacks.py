"""Which rule packs are installed: whatever is under the entry point group `fencepost.rules`."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Sequence
from importlib import import_module
from importlib.machinery import PathFinder
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from fencepost.frozen import dataclass

if TYPE_CHECKING:
    from importlib.metadata import EntryPoint

GROUP = "fencepost.rules"

OWN = "fencepost"
"""The project that the built-in rules come with."""

_ENTRIES = re.compile(rf"^\s*\[{re.escape(GROUP)}\]\s*$(.*?)(?=^\s*\[|\Z)", re.MULTILINE | re.DOTALL)
_ENTRY = re.compile(r"\s*([\w.-]+)\s*=\s*([\w.]+)\s*")


@dataclass(frozen=True)
class OwnPack:
    """An entry point of our own project, which names a package or module."""

    name: str
    value: str
    dist: None = None

    def load(self) -> Any:
        """What it names, imported."""
        return import_module(self.value)


RulePack: TypeAlias = "EntryPoint | OwnPack"


def installed_packs() -> Sequence[RulePack]:
    """All of them.

    The library that knows every way to install one takes longer to import than most rules to run. It is not asked where
    a look into the folders tells that our own project has the only ones.
    """
    own = _own_alone()
    if own:
        return own
    from importlib.metadata import entry_points

    return tuple(entry_points(group=GROUP))


def _own_alone() -> tuple[OwnPack, ...]:
    """Those of our own project, where surely no other has any; none where that cannot be told."""
    found = set(_declared())
    if {project for project, _ in found} != {OWN} or len(found) > 1:
        return ()
    lines = [line for _, entries in found for line in entries.splitlines() if line.strip()]
    read = [entry for line in lines if (entry := _ENTRY.fullmatch(line))]
    return tuple(OwnPack(entry[1], entry[2]) for entry in read) if len(read) == len(lines) else ()


def _declared() -> Iterator[tuple[str, str]]:
    """The project and the entries of each that has some (packaging.python.org: Entry points specification, and
    Recording installed projects); two empty texts for what may hold some and is no plain folder of such projects."""
    if any(hasattr(finder, "find_distributions") for finder in sys.meta_path if finder is not PathFinder):
        yield "", ""
    for folder in map(Path, sys.path):
        try:
            projects = [file for file in folder.iterdir() if file.suffix in (".dist-info", ".egg-info", ".egg")]
        except FileNotFoundError:
            continue
        except OSError:  # An archive, or a folder that is not ours to read.
            yield "", ""
            continue
        for project in projects:
            if project.suffix == ".egg":
                yield "", ""
            for entries in _ENTRIES.findall(_text(project / "entry_points.txt")):
                yield project.stem.partition("-")[0], entries.strip()


def _text(file: Path) -> str:
    try:
        return file.read_text("utf-8", errors="replace")
    except OSError:
        return ""
