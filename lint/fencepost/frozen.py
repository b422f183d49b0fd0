"""Frozen dataclasses whose methods are functions at hand, and not made from text for each class.

`dataclasses` compiles up to six methods for a class. Of some two hundred classes that is a tenth of a second of each
check, as long as it takes to read a layer of a megabyte. What is made here is a dataclass all the same: `fields` and
`replace` take it, and it can be assigned to no more than any other frozen one.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from inspect import Parameter, Signature
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(cls: type | None = None, /, **options: bool) -> Any:
        """`dataclasses.dataclass`. The quick way is for frozen ones, which may also be asked to have no `eq`.

        No field of theirs may be one that `init` or `compare` leaves out.
        """
        quick = options.get("frozen", False) and options.keys() <= {"frozen", "eq"}

        def decorated(cls: type) -> type:
            return _frozen(cls, options.get("eq", True)) if quick else dataclasses.dataclass(cls, **options)

        return decorated if cls is None else decorated(cls)


Defaults = dict[str, Callable[[], Any]]

_SET = object.__setattr__
"""What a class that refuses assignment is filled with. To write to `__dict__` is quicker, and slows every reading."""


def _frozen(cls: type, eq: bool) -> type:
    dataclasses.dataclass(cls, init=False, repr=False, eq=False)
    fields = dataclasses.fields(cls)
    names = tuple(field.name for field in fields)
    methods: dict[str, Callable[..., Any]] = {
        "__init__": _init(names, fields, getattr(cls, "__post_init__", None)),
        "__repr__": _repr(tuple(field.name for field in fields if field.repr)),
        "__setattr__": _refused,
        "__delattr__": _refused,
    }
    if eq:
        methods |= {"__eq__": _eq(names), "__hash__": _hash(names)}
    for name, method in methods.items():
        if name not in cls.__dict__ or (name == "__hash__" and cls.__dict__[name] is None):
            setattr(cls, name, method)
    return cls


def _init(
    names: tuple[str, ...], fields: tuple[dataclasses.Field[Any], ...], settle: Callable[[Any], None] | None
) -> Callable[..., None]:
    defaults = {field.name: made for field in fields if (made := _default(field)) is not None}

    def __init__(self: Any, *args: Any, **given: Any) -> None:
        whole = len(args) == len(names) and not given
        for name, value in zip(names, args if whole else _values(names, defaults, args, given), strict=True):
            _SET(self, name, value)
        if settle is not None:
            settle(self)

    return __init__


def _values(names: tuple[str, ...], defaults: Defaults, args: tuple[Any, ...], given: dict[str, Any]) -> list[Any]:
    """For each name what was given, else its default. Raises TypeError as any function does."""
    known = dict(zip(names, args, strict=False)) | given
    if len(known) == len(args) + len(given) and given.keys() <= set(names):
        known |= {name: made() for name, made in defaults.items() if name not in known}
        if len(known) == len(names):
            return [known[name] for name in names]
    kind = Parameter.POSITIONAL_OR_KEYWORD
    likewise = [Parameter(name, kind, default=None if name in defaults else Parameter.empty) for name in names]
    raise TypeError(Signature(likewise).bind(*args, **given))  # To bind them fails, and says why.


def _default(field: dataclasses.Field[Any]) -> Callable[[], Any] | None:
    """What makes the value of a field that is not given; None for a field that must be."""
    if field.default_factory is not dataclasses.MISSING:
        return field.default_factory
    return None if field.default is dataclasses.MISSING else lambda: field.default


def _repr(names: tuple[str, ...]) -> Callable[[Any], str]:
    def __repr__(self: Any) -> str:
        return f"{type(self).__qualname__}({', '.join(f'{name}={getattr(self, name)!r}' for name in names)})"

    return __repr__


def _eq(names: tuple[str, ...]) -> Callable[[Any, object], bool]:
    def __eq__(self: Any, other: object) -> bool:
        if other.__class__ is not self.__class__:
            return NotImplemented
        return [getattr(self, name) for name in names] == [getattr(other, name) for name in names]

    return __eq__


def _hash(names: tuple[str, ...]) -> Callable[[Any], int]:
    def __hash__(self: Any) -> int:
        return hash(tuple([getattr(self, name) for name in names]))

    return __hash__


def _refused(self: object, name: str, *_: object) -> NoReturn:
    raise dataclasses.FrozenInstanceError(f"cannot change field {name!r}")
