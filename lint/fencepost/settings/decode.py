"""Tables from a TOML file -> typed settings, with the key's path in every error.

The types are msgspec Structs. The tables are walked here, and not by msgspec itself, because its errors lose the keys
of tables (`[...]`) and cannot say which key was meant by a misspelt one. Single values are left to msgspec.
"""

from __future__ import annotations

import datetime
import inspect
from collections.abc import Iterable, Mapping
from enum import IntEnum
from functools import cache
from types import MappingProxyType, NoneType, UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

import msgspec

from fencepost.errors import SettingsError
from fencepost.settings.areas import Box, Point
from fencepost.settings.spots import Spots
from fencepost.settings.written import key_part
from fencepost.units import Quantity, Ratio

S = TypeVar("S", bound=msgspec.Struct)

PARSED = (Quantity, Ratio, Spots, Point, Box)
"""Types that read their own text, and say in what form."""

_WORDS = (
    (bool, "true or false"),
    (str, "text in quotes"),
    (int, "a whole number"),
    (float, "a number"),
    (datetime.datetime, "a date with a time"),
    (datetime.date, "a date as 2027-03-01"),
    (dict, "a table"),
    (list, "a list"),
)


def decode(raw: object, kind: type[S], file: str, key: str = "") -> S:
    """Read one table as a Struct. Raises SettingsError with `file`, the path of the key at fault, and the reason."""
    result: S = _Decoder(file).struct(raw, kind, key)
    return result


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """`; did you mean "rim-pitch"?`, or nothing where no known name is near."""
    from difflib import get_close_matches  # Seldom needed.

    near = get_close_matches(name, list(known), n=1, cutoff=0.6)
    return f'; did you mean "{near[0]}"?' if near else ""


@cache
def _fields_of(kind: type[msgspec.Struct]) -> Mapping[str, msgspec.structs.FieldInfo]:
    """By the names that a table has for them; worked out once, which is slow."""
    return MappingProxyType({field.encode_name: field for field in msgspec.structs.fields(kind)})


class _Decoder:
    """Knows the file whose name stands in the errors."""

    def __init__(self, file: str) -> None:
        self.file = file

    def error(self, key: str, message: str) -> SettingsError:
        return SettingsError(self.file, key, message)

    def struct(self, raw: object, kind: type[msgspec.Struct], key: str) -> Any:
        table = self._table(raw, key)
        fields = _fields_of(kind)
        hints = get_type_hints(kind, include_extras=True) if table else {}  # Slow, and most tables are left out.
        for name in table:
            if name not in fields:
                known = did_you_mean(name, fields) or f"; known here: {', '.join(fields)}"
                raise self.error(_join(key, name), f"there is no such key{known}")
        missing = [name for name, field in fields.items() if field.required and name not in table]
        if missing:
            raise self.error(key, f"{' and '.join(missing)} must be given")
        values = {
            fields[name].name: self.value(value, hints[fields[name].name], _join(key, name))
            for name, value in table.items()
        }
        try:
            return kind(**values)
        except (ValueError, TypeError) as error:
            raise self.error(key, str(error)) from None

    def value(self, raw: object, kind: Any, key: str) -> Any:
        bare = bare_type(kind)
        origin, inner = get_origin(bare), get_args(bare)
        if inspect.isclass(bare) and issubclass(bare, msgspec.Struct):
            return self.struct(raw, bare, key)
        if origin is dict:
            return {name: self.value(item, inner[1], _join(key, name)) for name, item in self._table(raw, key).items()}
        if origin is tuple:
            items = self._list(raw, key)
            if inner[-1] is Ellipsis:
                inner = inner[:1] * len(items)
            if len(items) != len(inner):
                raise self.error(key, f"must be a list of {len(inner)}, not of {len(items)}")
            return tuple(self.value(items[i], inner[i], f"{key}[{i}]") for i in range(len(items)))
        try:
            return _single(raw, kind, bare)
        except (ValueError, TypeError, OverflowError) as error:
            raise self.error(key, str(error)) from None

    def _table(self, raw: object, key: str) -> dict[str, Any]:
        if not isinstance(raw, dict):
            raise self.error(key, f"must be a table, not {_word(raw)}")
        return raw

    def _list(self, raw: object, key: str) -> list[Any]:
        if not isinstance(raw, list):
            raise self.error(key, f"must be a list, not {_word(raw)}")
        return raw


def _single(raw: object, kind: Any, bare: Any) -> Any:
    """One value that is no table and no list. Raises ValueError, TypeError or OverflowError."""
    if inspect.isclass(bare) and issubclass(bare, PARSED):
        return bare.parse(raw)
    if inspect.isclass(bare) and issubclass(bare, IntEnum):
        names = {member.name.lower(): member for member in bare}
        if not isinstance(raw, str) or raw not in names:
            raise ValueError(f"{_shown(raw)} is none of {', '.join(names)}{did_you_mean(str(raw), names)}")
        return names[raw]
    if get_origin(bare) is Literal:
        allowed = get_args(bare)
        if not any(type(raw) is type(each) and raw == each for each in allowed):
            raise ValueError(f"{_shown(raw)} is none of {', '.join(map(_shown, allowed))}")
        return raw
    expected = next((word for known, word in _WORDS if inspect.isclass(bare) and issubclass(bare, known)), "")
    if expected and _word(raw) != expected and not (bare is float and type(raw) is int):
        raise ValueError(f"must be {expected}, not {_word(raw)}")
    return msgspec.convert(raw, kind)


def bare_type(kind: Any) -> Any:
    """The type without what is annotated and without None, which TOML cannot write."""
    while True:
        if get_origin(kind) is Annotated:
            kind = get_args(kind)[0]
        elif get_origin(kind) in (Union, UnionType) and len(rest := _without_none(kind)) == 1:
            kind = rest[0]
        else:
            return kind


def _without_none(kind: Any) -> list[Any]:
    return [each for each in get_args(kind) if each is not NoneType]


def _word(raw: object) -> str:
    return next((word for known, word in _WORDS if isinstance(raw, known)), f"a {type(raw).__name__}")


def _shown(raw: object) -> str:
    return f'"{raw}"' if isinstance(raw, str) else str(raw)


def _join(key: str, name: str) -> str:
    return f"{key}.{key_part(name)}" if key else key_part(name)
