"""Finding the rules: whatever is installed under the entry point group `fencepost.rules`.

An entry point names a Rule subclass, a module or a package. Of a module or package every concrete Rule subclass that is
defined in it, or in a module below it, is taken.
"""

from __future__ import annotations

import inspect
import pkgutil
import re
from collections.abc import Iterable, Iterator
from importlib import import_module
from types import ModuleType

from fencepost.checking.finding import Severity
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.errors import FencepostError, UsageError
from fencepost.rulepacks import RulePack, installed_packs
from fencepost.settings.decode import did_you_mean

RuleType = type[Rule]
Rules = dict[str, RuleType]
"""By name, in the order of their names."""

_NAME = re.compile(r"[a-z][a-z0-9-]*")


class RulePackError(FencepostError):
    """A rule pack that cannot be used; the text names it."""


def installed_rules() -> Rules:
    """All rules that are installed. Raises RulePackError."""
    return rules_from(installed_packs())


def rules_from(points: Iterable[RulePack]) -> Rules:
    """The rules behind these entry points. Raises RulePackError."""
    found: Rules = {}
    for point in sorted(points, key=lambda point: (point.name, point.value)):
        pack = _pack_name(point)
        for rule in _rules_of(point, pack):
            _check(rule, pack)
            other = found.setdefault(rule.name, rule)
            if other is not rule:
                raise RulePackError(f"two rules are called {rule.name}: {_path(other)} and {_path(rule)}")
    return dict(sorted(found.items()))


def chosen(rules: Rules, only: Iterable[str], skip: Iterable[str]) -> Rules:
    """Those named in `only`, all where it is empty, without those in `skip`. Raises UsageError."""
    only, skip = set(only), set(skip)
    for name in sorted(only | skip):
        if name not in rules:
            raise UsageError(unknown_rule(name, rules))
    left = {name: rule for name, rule in rules.items() if (not only or name in only) and name not in skip}
    if not left:
        raise UsageError("no rule is left to run")
    return left


def unknown_rule(name: str, rules: Iterable[str]) -> str:
    """A message for a rule's name that nobody knows."""
    return f'there is no rule "{name}"{did_you_mean(name, rules) or "; fencepost rules lists them"}'


def _rules_of(point: RulePack, pack: str) -> list[RuleType]:
    try:
        target = point.load()
        modules = tuple(_modules(target)) if isinstance(target, ModuleType) else ()
    except (Exception, SystemExit) as error:  # Importing runs the pack's code, which may fail in any way.
        reason = str(error).partition("\n")[0]
        raise RulePackError(f"{pack} cannot be imported: {type(error).__name__}: {reason}") from error
    if isinstance(target, ModuleType):
        rules = [rule for module in modules for rule in _defined_in(module)]
    else:
        rules = [target] if _is_rule(target) else []
    if not rules:
        raise RulePackError(f"{pack} holds no rule")
    return rules


def _modules(top: ModuleType) -> Iterator[ModuleType]:
    """A module and all below it."""
    yield top
    for info in pkgutil.iter_modules(getattr(top, "__path__", ()), f"{top.__name__}."):
        if not info.name.endswith(".__main__"):
            yield from _modules(import_module(info.name))


def _defined_in(module: ModuleType) -> list[RuleType]:
    """Not what it only imports."""
    return [each for each in vars(module).values() if _is_rule(each) and each.__module__ == module.__name__]


def _is_rule(thing: object) -> bool:
    return inspect.isclass(thing) and issubclass(thing, Rule) and not inspect.isabstract(thing)


def _check(rule: RuleType, pack: str) -> None:
    """What the rest of the engine takes for granted of a rule."""
    name = getattr(rule, "name", None)
    if not isinstance(name, str) or not _NAME.fullmatch(name):
        raise RulePackError(
            f"{pack}: {_path(rule)} needs a name of lower-case letters, digits and hyphens, not {name!r}"
        )
    summary = getattr(rule, "summary", None)
    if not isinstance(summary, str) or not summary:
        raise RulePackError(f"{pack}: {_path(rule)} has no summary")
    if not isinstance(rule.severity, Severity):
        raise RulePackError(f"{pack}: the severity of {_path(rule)} is not a Severity")
    if not inspect.isclass(rule.Options) or not issubclass(rule.Options, RuleOptions):
        raise RulePackError(f"{pack}: the Options of {_path(rule)} are not RuleOptions")


def _pack_name(point: RulePack) -> str:
    project = f" of {point.dist.name} {point.dist.version}" if point.dist else ""
    return f"rule pack {point.name}{project} ({point.value})"


def _path(rule: RuleType) -> str:
    return f"{rule.__module__}.{rule.__qualname__}"
