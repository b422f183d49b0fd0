"""The JSON schema of fencepost.toml, from the types that it is read as.

For editors: what they complete and mark is what the check itself accepts, but for what two keys say together. Defaults
are given as the file would write them.
"""

from __future__ import annotations

import datetime
import inspect
import re
import tomllib
from collections.abc import Mapping
from enum import IntEnum
from typing import Annotated, Any, Literal, get_args, get_origin, get_type_hints

import msgspec

from fencepost.settings.areas import Box, Point
from fencepost.settings.decode import bare_type
from fencepost.settings.model import Settings
from fencepost.settings.spots import Spots
from fencepost.settings.written import written
from fencepost.units import Quantity, Ratio

DRAFT = "http://json-schema.org/draft-07/schema#"
"""The one that editors of TOML know."""

NUMBER = r"(?:\d+\.?\d*|\.\d+)"
PLAIN: dict[Any, dict[str, Any]] = {
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    str: {"type": "string"},
    datetime.date: {"type": "string", "format": "date"},
}
SPOT = {"type": "string", "pattern": rf"^\s*[+-]?{NUMBER}\s*,\s*[+-]?{NUMBER}\s*(?:,\s*L[1-9]\d{{0,2}})?\s*$"}


def settings_schema(rules: Mapping[str, tuple[str, type[msgspec.Struct]]]) -> dict[str, Any]:
    """The whole file's; `rules` gives the summary and the options of each rule by its name."""
    schema = _struct(Settings)
    tables = {name: {**_struct(options), "description": summary} for name, (summary, options) in rules.items()}
    schema["properties"]["rules"] = {
        "type": "object",
        "description": "options by rule name",
        "properties": tables,
        "additionalProperties": False,
    }
    return {"$schema": DRAFT, "title": "fencepost.toml", **schema}


def _struct(kind: type[msgspec.Struct]) -> dict[str, Any]:
    hints = get_type_hints(kind, include_extras=True)
    properties, required = {}, []
    for field in msgspec.structs.fields(kind):
        schema = _value(hints[field.name])
        if field.required:
            required.append(field.encode_name)
        elif isinstance(field.default, int | float | str | tuple) and field.default != ():
            schema["default"] = tomllib.loads(f"x = {written(field.default)}")["x"]
        properties[field.encode_name] = schema
    schema = {"type": "object", "properties": properties, "additionalProperties": False}
    return schema | ({"required": required} if required else {})


def _value(kind: Any) -> dict[str, Any]:
    said = _description(kind)
    return _shape(bare_type(kind)) | ({"description": said} if said else {})


def _shape(bare: Any) -> dict[str, Any]:
    origin, inner = get_origin(bare), get_args(bare)
    if origin is dict:
        return {"type": "object", "additionalProperties": _value(inner[1])}
    if origin is tuple and inner[-1] is Ellipsis:
        return {"type": "array", "items": _value(inner[0])}
    if origin is tuple:
        return {
            "type": "array",
            "items": [_value(item) for item in inner],
            "minItems": len(inner),
            "maxItems": len(inner),
        }
    if origin is Literal:
        return {"enum": list(inner)}
    return _single(bare) if inspect.isclass(bare) else {}


def _single(bare: type[Any]) -> dict[str, Any]:
    if issubclass(bare, msgspec.Struct):
        return _struct(bare)
    if issubclass(bare, Quantity):
        return _quantity(bare)
    if issubclass(bare, Ratio):
        return {"type": "number", "exclusiveMinimum": 0}
    if issubclass(bare, Spots):
        return {"anyOf": [SPOT, {"type": "array", "items": SPOT, "minItems": 1}]}
    if issubclass(bare, Point | Box):
        return {"type": "string", "pattern": bare.pattern(), "examples": [bare.example]}
    if issubclass(bare, IntEnum):
        return {"enum": [member.name.lower() for member in bare]}
    return dict(PLAIN.get(bare, {}))


def _quantity(bare: type[Quantity]) -> dict[str, Any]:
    units = "|".join(re.escape(unit) for unit in bare.units)
    number = rf"\+?(?=[\d.]*[1-9]){NUMBER}(?:[eE][+-]?\d+)?"
    return {"type": "string", "pattern": rf"^\s*{number}\s*(?:{units})\s*$", "examples": [bare.example]}


def _description(kind: Any) -> str:
    """What the type says of itself, inside `| None` as well."""
    if get_origin(kind) is not Annotated:
        return ""
    notes = [note for note in kind.__metadata__ if isinstance(note, msgspec.Meta)]
    return next((note.description for note in notes if note.description), "")
