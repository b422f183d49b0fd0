"""Keys that change whenever what they stand for would come out differently."""

from __future__ import annotations

import hashlib
import platform
import sys
from collections.abc import Iterable, Iterator
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from fencepost._version import VERSION
from fencepost.rulepacks import installed_packs
from fencepost.source import SourceFile


def digest(parts: Iterable[bytes | str]) -> str:
    """One digest of several things, each told apart from the next."""
    whole = hashlib.sha256()
    for part in parts:
        data = part.encode() if isinstance(part, str) else part
        whole.update(len(data).to_bytes(8, "big") + data)
    return whole.hexdigest()


@cache
def program() -> str:
    """Of our own version, our own code and grammars: an edited engine reads nothing that another one wrote."""
    return digest([VERSION, code_of("fencepost"), code_of("fencepost.grammars")])


def rule_packs() -> str:
    """Of every rule pack that is installed, without importing any: of the whole package that it is a part of."""
    found = sorted((entry.name, entry.value) for entry in installed_packs())
    return digest(part for name, value in found for part in (name, value, code_of(value.split(":")[0].split(".")[0])))


@cache
def environment() -> str:
    """Of the interpreter, the machine's kind, and the names of all that is installed, which tell its versions."""
    return digest([sys.version, platform.machine(), sys.platform, *sorted(_installed())])


def _installed() -> Iterator[str]:
    for folder in map(Path, filter(None, sys.path)):
        if folder.is_dir():
            yield from (entry.name for entry in folder.iterdir() if entry.suffix in (".dist-info", ".egg-info"))


def code_of(module: str) -> str:
    """Of all files of a module or package and of what lies below it, as they are now."""
    top = find_spec(module.partition(".")[0])
    spec = find_spec(module) if top is not None else None
    if spec is None:
        return "none"
    folders = [Path(folder) for folder in spec.submodule_search_locations or ()]
    files = [file for folder in folders for file in sorted(folder.rglob("*")) if _counts(file)]
    if not folders and spec.origin:
        files = [Path(spec.origin)]
    return digest(part for file in files for part in (file.name, file.read_bytes()))


def _counts(file: Path) -> bool:
    return file.suffix != ".pyc" and file.is_file()


def content(source: SourceFile) -> str:
    """Of a file's bytes, not of its name."""
    return hashlib.sha256(source.data).hexdigest()
