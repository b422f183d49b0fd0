"""Which file each value of merged settings was written in, and under which key there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import field
from typing import Any

from fencepost.frozen import dataclass
from fencepost.settings.written import key_part

COMMAND_LINE = "command line"
JOINED = ("class", "pair", "waive")
"""Lists of tables that a file adds to those of the file it extends. Every other list takes the place of the other."""

Written = tuple[str, str]
"""A file, and the key's path in it."""


@dataclass(frozen=True)
class Origins:
    """By the key's path in the merged settings, as in `class[1].nets`."""

    places: Mapping[str, Written] = field(default_factory=dict)

    def of(self, key: str) -> Written | None:
        """Where a value was written; of a value inside a list, where the list was. None where no file says it."""
        for end in range(len(key), 0, -1):
            if (end == len(key) or key[end] in ".[") and key[:end] in self.places:
                file, own = self.places[key[:end]]
                return file, own + key[end:]
        return None

    def exact(self, key: str) -> Written | None:
        """Where a single value was written, as itself or as part of a list of values; None where it is a default."""
        return self.places.get(key)

    def said(self, message: str) -> tuple[str, str]:
        """The file that a message about a key is about, "" where none is, and the message with that file's own key.

        A message begins with the key's path: `nets.ground[1]: no net fits "PGND"`.
        """
        ends = [end for end in range(len(message), 0, -1) if message.startswith(": ", end)]
        for end in reversed(ends):
            found = self.of(message[:end])
            if found is not None:
                return found[0], found[1] + message[end:]
        return "", message


@dataclass
class Merger:
    """Tables of several files laid over one another, the farthest first."""

    tables: dict[str, Any] = field(default_factory=dict)
    places: dict[str, Written] = field(default_factory=dict)

    def add(self, tables: Mapping[str, Any], file: str) -> None:
        """Lay the tables of one more file over those that are there. They must be of the right types already."""
        self._table(self.tables, tables, "", file)

    def _table(self, below: dict[str, Any], above: Mapping[str, Any], key: str, file: str) -> None:
        for name, value in above.items():
            path = join(key, name)
            if isinstance(value, dict):
                if not isinstance(below.get(name), dict):
                    below[name] = {}
                self.places.setdefault(path, (file, path))
                self._table(below[name], value, path, file)
            elif path in JOINED:
                self._list(below.setdefault(name, []), value, path, file)
            else:
                below[name] = value
                self._forget(path)
                self.places.update(_places(value, path, (file, path)))

    def _list(self, below: list[Any], above: list[Any], key: str, file: str) -> None:
        """Tables of one name take each other's place; others are added."""
        names = {item["name"]: i for i, item in enumerate(below) if "name" in item}
        for i, item in enumerate(above):
            at = names.get(item.get("name"), len(below))
            below[at : at + 1] = [item]
            path = f"{key}[{at}]"
            self._forget(path)
            self.places.update(_places(item, path, (file, f"{key}[{i}]")))

    def _forget(self, path: str) -> None:
        for key in [key for key in self.places if key == path or key.startswith((f"{path}.", f"{path}["))]:
            del self.places[key]


def _places(value: Any, path: str, written: Written) -> Iterator[tuple[str, Written]]:
    """A value and, of tables, all that is in it."""
    yield path, written
    file, own = written
    if isinstance(value, dict):
        for name, item in value.items():
            yield from _places(item, join(path, name), (file, join(own, name)))
    elif isinstance(value, list):
        for i, item in enumerate(value):
            if isinstance(item, dict):
                yield from _places(item, f"{path}[{i}]", (file, f"{own}[{i}]"))


def join(key: str, name: str) -> str:
    """The path of a key in a table."""
    return f"{key}.{key_part(name)}" if key else key_part(name)
