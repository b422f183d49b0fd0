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

_ENTRIES = re.compile(rf"^\s*\[{re.escape(GROUP)}\]\s*$(.*?)(?=^\s*\[|\Z)", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class OwnPack:
    """The entry point of the rules that come with fencepost."""

    name: str = "builtin"
    value: str = "fencepost_rules"
    dist: None = None

    def load(self) -> Any:
        """The package."""
        return import_module(self.value)


RulePack: TypeAlias = "EntryPoint | OwnPack"


def installed_packs() -> Sequence[RulePack]:
    """All of them.

    The library that knows every way to install one takes longer to import than most rules to run. It is not asked where
    a look into the folders tells that there is only our own.
    """
    if _only_ours():
        return (OwnPack(),)
    from importlib.metadata import entry_points

    return tuple(entry_points(group=GROUP))


def _only_ours() -> bool:
    """Whether our own pack is installed and surely no other."""
    own = OwnPack()
    found = set(_declared())
    return found == {("fencepost", f"{own.name} = {own.value}")}


def _declared() -> Iterator[tuple[str, str]]:
    """The project and the entries of each pack (packaging.python.org: Entry points specification, and Recording
    installed projects); two empty texts for what may hold some and is no plain folder of such projects."""
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
