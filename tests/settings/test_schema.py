"""The JSON schema for editors agrees with what the check accepts; jsonschema is the judge."""

from __future__ import annotations

import datetime
import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from fencepost.checking.options import rule_options
from fencepost.checking.registry import installed_rules
from fencepost.cli import main
from fencepost.errors import SettingsError
from fencepost.settings.decode import decode
from fencepost.settings.load import load
from fencepost.settings.model import Settings

EXAMPLES = sorted((Path(__file__).parents[2] / "fixtures").glob("*/fencepost.toml"))
RULES = installed_rules()


@pytest.fixture(scope="module")
def schema() -> dict:
    from fencepost.settings.schema import settings_schema

    made = settings_schema({name: (rule.summary, rule.Options) for name, rule in RULES.items()})
    jsonschema.Draft7Validator.check_schema(made)
    return made


def as_json(value):
    """Editors see dates as text."""
    if isinstance(value, dict):
        return {key: as_json(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_json(item) for item in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


def accepted(schema, text: str) -> bool:
    return jsonschema.Draft7Validator(schema).is_valid(as_json(tomllib.loads(text)))


def decoded(text: str) -> bool:
    try:
        rule_options(RULES, decode(tomllib.loads(text), Settings, ""))
    except SettingsError:
        return False
    return True


CLASS = "[[class]]\nname = 'a'\nnets = ['A']\n"
SETTINGS = [
    "",
    "extends = 'x.toml'",
    "extends = 3",
    "[board]\nthickness = '1.6 mm'",
    "[board]\nthickness = '80mil'",
    "[board]\nthickness = ' +1e-1 in '",
    "[board]\nthickness = '0 mm'",
    "[board]\nthickness = '0.000 mm'",
    "[board]\nthickness = '-1 mm'",
    "[board]\nthickness = '1.6'",
    "[board]\nthickness = 1.6",
    "[board]\nthickness = '1 GHz'",
    "[board]\nthicknes = '1 mm'",
    "[board]\ndielectric_constant = 4",
    "[board]\ndielectric_constant = 4.2",
    "[board]\ndielectric_constant = 0",
    "[board]\ndielectric_constant = '4'",
    "[board]\nbuild_class = 2",
    "[board]\nbuild_class = 4",
    "[board]\nlevel = 'A'",
    "[[board.dielectric]]\nthickness = '1 mm'",
    "[[board.dielectric]]\n",
    "[nets]\nground = ['GND']",
    "[nets]\nground = 'GND'",
    "[nets]\nground_at = '1, 2, L2'",
    "[nets]\nground_at = ['1, 2', '3, 4']",
    "[nets]\nground_at = []",
    "[nets]\nground_at = '1'",
    CLASS + "frequency = '1 GHz'",
    CLASS + "fence = 1",
    "[[class]]\nnets = ['A']",
    "[[pair]]\nnets = ['A', 'B']",
    "[[pair]]\nnets = ['A']",
    "[layers]\n'a.gbr' = 'L1'",
    "[drill.'x.drl']\nplated = true\nspan = [1, 4]",
    "[drill.'x.drl']\nplated = true\nspan = [1]",
    "[drill.'x.drl']\nspan = [1, 4]",
    "[drill.'x.drl']\nplated = true\ntools = { T1 = '0.3 mm' }",
    "[drill.'x.drl']\nplated = true\ntools = { T1 = 3 }",
    "[[waive]]\nrule = 'a'\nreason = 'b'\nuntil = 2027-03-01",
    "[[waive]]\nrule = 'a'\nreason = 'b'\nat = '1, 2 mm'\nradius = '1 mm'",
    "[[waive]]\nrule = 'a'\nreason = 'b'\nat = '1, 2'\nradius = '1 mm'",
    "[[waive]]\nrule = 'a'",
    "[check]\nfail_on = 'never'",
    "[check]\nfail_on = 'fatal'",
    "[rules.fence-pitch]\ndistance = '2 mm'\nseverity = 'error'",
    "[rules.fence-pitch]\nseverity = 'fatal'",
    "[rules.fence-pitch]\ndistanse = '2 mm'",
    "[rules.fence-pitch]\ndistance = 2",
]


@pytest.mark.parametrize("text", SETTINGS)
def test_an_editor_marks_what_the_check_refuses_and_nothing_else(schema, text):
    assert accepted(schema, text) == decoded(text)


def test_a_rule_that_is_not_installed_is_marked(schema):
    assert not accepted(schema, "[rules.fence-pich]")


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.parent.name)
def test_the_demo_s_settings_fit(schema, file):
    assert accepted(schema, file.read_text("utf-8"))
    load(file)


@pytest.mark.parametrize("name", RULES)
def test_the_defaults_in_the_schema_are_the_rule_s_own(schema, name):
    properties = schema["properties"]["rules"]["properties"][name]["properties"]
    given = {key: value["default"] for key, value in properties.items() if "default" in value}
    options = RULES[name].Options
    assert decode(given, options, "") == options()
    assert set(properties) == set(options.__struct_fields__)
    unset = {key for key in properties if getattr(options(), key) in (None, ())}
    assert set(given) == set(properties) - unset


def test_the_command_prints_it(capsys, schema):
    with pytest.raises(SystemExit) as ended:
        main(["rules", "--schema"])
    assert ended.value.code == 0
    assert json.loads(capsys.readouterr().out) == schema
