"""Settings as they hold, a line for each key, with where its value comes from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import msgspec

from fencepost.checking.options import check_rule_settings, rule_options
from fencepost.checking.registry import Rules
from fencepost.cli.order import Order
from fencepost.cli.parcel import named_settings
from fencepost.cli.printing import print_text
from fencepost.errors import UsageError
from fencepost.report.escape import escape
from fencepost.settings.load import Loaded, find_settings, load, shown_path
from fencepost.settings.origins import COMMAND_LINE, Origins, join
from fencepost.settings.written import written

DEFAULT = "default"
SELDOM = ("layers", "drill", "class", "pair", "waive")
"""Tables of which nothing is said where they are empty."""


def show(paths: Sequence[Path], order: Order, rules: Rules) -> None:
    """Print the settings of each package. Raises SettingsError, and UsageError where there is nothing at a path."""
    over: dict[str, Any] = {} if order.fail_on is None else {"check.fail_on": order.fail_on}
    over |= {f"check.{key}": names for key, names in (("rules", order.only), ("skip", order.skip)) if names}
    for path in paths:
        if not path.exists():
            raise UsageError(f"{shown_path(path)}: no such file or folder")
        loaded = load(order.config or find_settings(path), order.given)
        with named_settings(loaded.file, loaded.origins):
            check_rule_settings(rules, loaded.settings)
        title = f"# settings of {shown_path(path)}: {loaded.file or 'no file'}"
        print_text("".join(f"{escape(line)}\n" for line in (title, *shown(loaded, rules, over))))


def shown(loaded: Loaded, rules: Rules, given: Mapping[str, Any]) -> Iterator[str]:
    """`key = value  # where from`; a key that is not set is a comment. `given` are keys that options stand for.

    Raises SettingsError.
    """
    with named_settings(loaded.file, loaded.origins):
        options = rule_options(rules, loaded.settings)
    pairs = [pair for key, value in _tables(loaded, options) for pair in _flat(key, value)]
    for key, value in pairs:
        if key in given:
            yield _line(key, given[key], COMMAND_LINE)
        else:
            yield _line(key, value, _origin(key, loaded.origins))


def _tables(loaded: Loaded, options: Mapping[str, msgspec.Struct]) -> Iterator[tuple[str, Any]]:
    for field in msgspec.structs.fields(loaded.settings):
        name, value = field.encode_name, getattr(loaded.settings, field.name)
        if name != "rules" and name != "extends" and (value or name not in SELDOM):
            yield name, value
    for name, value in options.items():
        yield join("rules", name), value


def _flat(key: str, value: Any) -> Iterator[tuple[str, Any]]:
    """Tables within tables, down to single values."""
    if isinstance(value, msgspec.Struct):
        for field in msgspec.structs.fields(value):
            yield from _flat(join(key, field.encode_name), getattr(value, field.name))
    elif isinstance(value, dict):
        for name, item in value.items():
            yield from _flat(join(key, name), item)
    elif isinstance(value, tuple) and value and isinstance(value[0], msgspec.Struct):
        for i, item in enumerate(value):
            yield from _flat(f"{key}[{i}]", item)
    else:
        yield key, value


def _origin(key: str, origins: Origins) -> str:
    found = origins.exact(key)
    return found[0] if found else DEFAULT


def _line(key: str, value: Any, origin: str) -> str:
    said = f"# {key} is not set" if value is None else f"{key} = {written(value)}"
    return said if value is None and origin == DEFAULT else f"{said}  # {origin}"
