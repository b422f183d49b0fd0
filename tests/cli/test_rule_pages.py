"""`rules` and `explain`: what there is to know of a rule without a board."""

from __future__ import annotations

import tomllib

import pytest

from fencepost.checking.registry import installed_rules
from fencepost.cli import main
from fencepost.settings.decode import decode
from fencepost.settings.written import written

RULES = installed_rules()


def run(capsys, *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    said = capsys.readouterr()
    return ended.value.code, said.out, said.err


def test_every_rule_is_listed_in_a_line_with_severity_and_summary(capsys):
    code, out, _ = run(capsys, "rules")
    assert code == 0
    assert [line.split(maxsplit=2) for line in out.splitlines() if not line.startswith(" ")] == [
        [name, rule.severity.label, rule.summary] for name, rule in RULES.items()
    ]


def test_the_list_says_every_setting_with_its_default(capsys):
    _, out, _ = run(capsys, "rules")
    said = " ".join(out.split())
    for rule in RULES.values():
        options = rule.Options()
        for name in set(options.__struct_fields__) - {"severity"}:
            value = getattr(options, name)
            assert f"{name} {'not set' if value is None else written(value)}" in said


@pytest.mark.parametrize("name", RULES)
def test_a_rule_s_page_holds_its_docstring_and_the_caution(capsys, name):
    code, out, _ = run(capsys, "explain", name)
    assert code == 0
    for line in RULES[name].page().splitlines():
        assert line in out
    for word in ("measurement", "fabricator", "radio approval", "safety", "Local codes", "licensed practice"):
        assert word in out


@pytest.mark.parametrize("name", RULES)
def test_the_settings_on_a_rule_s_page_can_be_pasted_and_change_nothing(capsys, name):
    """The block is read by the standard library's TOML reader and then as the rule's own options."""
    _, out, _ = run(capsys, "explain", name)
    block = out[out.index(f"    [rules.{name}]") : out.index("What fencepost finds")]
    table = tomllib.loads(block)["rules"][name]
    options = RULES[name].Options
    assert decode(table, options, "") == options()
    for field in options.__struct_fields__:
        assert field in block


def test_a_rule_that_is_not_there_is_an_error_with_the_nearest_name(capsys):
    code, out, err = run(capsys, "explain", "transition-retrun")
    assert (code, out) == (2, "")
    assert err.startswith("fencepost: error: ")
    assert '"transition-return"' in err
