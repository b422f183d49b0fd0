"""The `[rules]` tables of the settings, read as what each rule says its options are."""

from __future__ import annotations

from collections.abc import Mapping

from fencepost.checking.registry import Rules, unknown_rule
from fencepost.checking.rule import RuleOptions
from fencepost.errors import SettingsError
from fencepost.settings.decode import decode
from fencepost.settings.model import Settings
from fencepost.settings.written import key_part


def rule_options(rules: Rules, settings: Settings) -> Mapping[str, RuleOptions]:
    """The options of each of these rules, by name. Raises SettingsError, without the file's name."""
    return {
        name: decode(settings.rules.get(name, {}), rule.Options, "", f"rules.{name}") for name, rule in rules.items()
    }


def check_rule_settings(rules: Rules, settings: Settings) -> None:
    """Whatever the settings say of rules must fit the rules that are installed. Raises SettingsError likewise."""
    for name in settings.rules:
        if name not in rules:
            raise SettingsError("", f"rules.{key_part(name)}", unknown_rule(name, rules))
    for i, waiver in enumerate(settings.waive):
        if waiver.rule not in rules:
            raise SettingsError("", f"waive[{i}].rule", unknown_rule(waiver.rule, rules))
    for key, names in (("rules", settings.check.rules), ("skip", settings.check.skip)):
        for i, name in enumerate(names):
            if name not in rules:
                raise SettingsError("", f"check.{key}[{i}]", unknown_rule(name, rules))
    rule_options(rules, settings)
