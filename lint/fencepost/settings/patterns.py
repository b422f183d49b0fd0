"""Patterns of net names, the class that a net is in, and what in the settings names nothing.

A pattern is shell-style and minds case: `*`, `?` and `[...]`. Names of buses often hold brackets themselves, so a
pattern is also read with its brackets as plain characters: `DATA[*]` means DATA[0], DATA[1] and so on, `USB_D[PN]`
means USB_DP and USB_DN.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fnmatch import translate
from functools import lru_cache
from pathlib import PurePath

from fencepost.errors import SettingsError
from fencepost.settings.model import NetClass, Settings
from fencepost.settings.written import key_part

_NOTHING = r"(?!)"
_SPECIAL = re.compile(r"[*?[]")


Compiled = tuple[frozenset[str], re.Pattern[str]]
"""Names without anything special in them, and one expression for all other patterns."""


def matches(name: str, patterns: Iterable[str]) -> bool:
    """Whether a name fits at least one of these patterns."""
    return _fits(name, _compiled(tuple(patterns)))


def _fits(name: str, patterns: Compiled) -> bool:
    names, others = patterns
    return name in names or others.fullmatch(name) is not None


@lru_cache(maxsize=1024)
def _compiled(patterns: tuple[str, ...]) -> Compiled:
    """The patterns that are plain names, and all others."""
    names = frozenset(pattern for pattern in patterns if not _SPECIAL.search(pattern))
    others = [pattern for pattern in patterns if pattern not in names]
    readings = [reading for pattern in others for reading in {pattern, pattern.replace("[", "[[]")}]
    return names, re.compile("|".join(translate(reading) for reading in readings) or _NOTHING)


def net_class_of(settings: Settings, net_name: str) -> NetClass | None:
    """The class of a net, None where it is in no class. Raises SettingsError where it is in two."""
    found = [i for i, entry in enumerate(settings.classes) if matches(net_name, entry.nets)]
    if len(found) > 1:
        first, second = (_membership(settings.classes[i], net_name) for i in found[:2])
        message = f'net "{net_name}" is in {first} and in {second}; a net can be in one class only'
        raise SettingsError("", f"class[{found[1]}].nets", message)
    return settings.classes[found[0]] if found else None


def check_classes(settings: Settings, net_names: Iterable[str]) -> None:
    """Raise SettingsError where one of these nets is in two classes."""
    classes = [_compiled(tuple(entry.nets)) for entry in settings.classes]
    for name in net_names:
        if sum(_fits(name, patterns) for patterns in classes) > 1:
            net_class_of(settings, name)


def _membership(entry: NetClass, net_name: str) -> str:
    pattern = next(pattern for pattern in entry.nets if matches(net_name, (pattern,)))
    return f'class "{entry.name}" by "{pattern}"'


def unmatched_patterns(net_names: Iterable[str], settings: Settings) -> list[str]:
    """A message for each pattern of net names that none of these names fits, with the key's path."""
    names = tuple(net_names)
    lists = [
        ("nets.ground", settings.nets.ground or ()),
        ("nets.power", settings.nets.power or ()),
        *((f"class[{i}].nets", entry.nets) for i, entry in enumerate(settings.classes)),
        *((f"waive[{i}].nets", entry.nets) for i, entry in enumerate(settings.waive)),
    ]
    return [
        f'{key}[{i}]: no net fits "{pattern}"'
        for key, patterns in lists
        for i, pattern in enumerate(patterns)
        if not any(matches(name, (pattern,)) for name in names)
    ]


def unmatched_files(file_names: Iterable[str], settings: Settings) -> list[str]:
    """A message for each entry of `[layers]` and `[drill]` that names none of these files."""
    paths = [PurePath(name) for name in file_names]
    return [
        f"{table}.{key_part(name)}: no file of this name in the package"
        for table, entries in (("layers", settings.layers), ("drill", settings.drill))
        for name in entries
        if not any(path.match(name) for path in paths)
    ]
