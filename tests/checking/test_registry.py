"""Rules are found through entry points, whoever wrote them; a pack that is not right is refused by name."""

from __future__ import annotations

import os
import subprocess
import sys
from importlib.metadata import EntryPoint
from itertools import count
from pathlib import Path

import pytest

from fencepost.checking.registry import RulePackError, chosen, rules_from
from fencepost.errors import UsageError
from fencepost.rulepacks import GROUP

IMPORTS = """
from fencepost.checking.finding import Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
"""

RULE = """
class {cls}(Rule):
    name = "{name}"
    summary = "finds nothing"

    def check(self, board, options, settings):
        return ()
"""

_numbers = count()


def rule(name: str, cls: str = "Mine") -> str:
    return RULE.format(cls=cls, name=name)


@pytest.fixture
def pack(tmp_path, monkeypatch):
    """Writes the modules of a package under a fresh name; returns its entry point."""
    monkeypatch.syspath_prepend(tmp_path)

    def write(modules: dict[str, str], target: str = "") -> EntryPoint:
        name = f"pack{next(_numbers)}"
        for module, text in modules.items():
            file = tmp_path / name / f"{module.replace('.', '/')}.py"
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(IMPORTS + text)
        return EntryPoint(name, f"{name}{target}", GROUP)

    return write


def test_a_package_gives_the_rules_of_all_its_modules_sorted_by_name(pack):
    point = pack(
        {
            "__init__": rule("b-rule"),
            "one": rule("c-rule") + rule("a2", "Second"),
            "below.__init__": "",
            "below.deep": rule("a1"),
            "__main__": "raise SystemExit('not to be run')",
        }
    )
    assert list(rules_from([point])) == ["a1", "a2", "b-rule", "c-rule"]


@pytest.mark.parametrize("target", [".one", ".one:Mine"])
def test_an_entry_point_may_name_a_module_or_a_class(pack, target):
    rules = rules_from([pack({"__init__": rule("not-me"), "one": rule("me")}, target)])
    assert list(rules) == ["me"]


def test_what_a_module_only_imports_and_what_is_abstract_is_no_rule_of_it(pack):
    text = rule("me").replace("(Rule)", "(Base)")
    base = "class Base(Rule):\n    def helper(self):\n        return 1\n"
    point = pack({"__init__": "", "base": base + rule("base-rule"), "one": "from .base import Base, Mine\n" + text})
    rules = rules_from([point])
    assert {name: rule.__module__.rsplit(".", 1)[1] for name, rule in rules.items()} == {
        "base-rule": "base",
        "me": "one",
    }


def test_the_same_class_by_two_entry_points_is_one_rule(pack):
    point = pack({"__init__": rule("me")})
    again = EntryPoint("again", f"{point.value}:Mine", GROUP)
    assert list(rules_from([point, again])) == ["me"]


def test_two_rules_of_one_name_are_refused_and_both_are_named(pack):
    first, second = pack({"__init__": rule("same")}), pack({"__init__": "", "far": rule("same", "Other")})
    with pytest.raises(RulePackError) as caught:
        rules_from([first, second])
    for word in ("same", f"{first.value}.Mine", f"{second.value}.far.Other"):
        assert word in str(caught.value)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("import no_such_module_at_all", "ModuleNotFoundError: No module named 'no_such_module_at_all'"),
        ("def (", "SyntaxError"),
        ("1 / 0", "ZeroDivisionError"),
        ("raise SystemExit(0)", "SystemExit"),
        ("", "holds no rule"),
        (rule("Upper"), "'Upper'"),
        (rule("9lives"), "'9lives'"),
        (rule("a_b"), "'a_b'"),
        (rule("a\\n"), "a name of"),
        (rule("x").replace('name = "x"', ""), "None"),
        (rule("x").replace('"finds nothing"', '""'), "no summary"),
        (rule("x") + "    severity = 'error'\n", "Severity"),
        (rule("x") + "    class Options:\n        pass\n", "RuleOptions"),
    ],
)
def test_a_pack_that_is_not_right_is_refused_by_name(pack, text, word):
    point = pack({"__init__": "", "one": text})
    with pytest.raises(RulePackError) as caught:
        rules_from([point])
    assert point.name in str(caught.value)
    assert word in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("value", ["no_such_pack", "os.path:join", "os:no_such_thing"])
def test_an_entry_point_that_leads_nowhere_is_refused_by_name(value):
    with pytest.raises(RulePackError, match="rule pack mine"):
        rules_from([EntryPoint("mine", value, GROUP)])


@pytest.mark.parametrize(
    ("only", "skip", "left"),
    [
        ([], [], ["aa", "bb", "cc"]),
        (["bb", "aa"], [], ["aa", "bb"]),
        ([], ["bb"], ["aa", "cc"]),
        (["aa", "bb"], ["bb"], ["aa"]),
    ],
)
def test_rules_are_chosen_by_name(pack, only, skip, left):
    rules = rules_from([pack({"__init__": rule("aa", "A") + rule("bb", "B") + rule("cc", "C")})])
    assert list(chosen(rules, only, skip)) == left


@pytest.mark.parametrize(
    ("only", "skip", "word"),
    [
        (["fence-pich"], [], 'did you mean "fence-pitch"'),
        ([], ["zzz"], '"zzz"'),
        (["fence-pitch"], ["fence-pitch"], "no rule is left"),
    ],
)
def test_a_choice_that_makes_no_sense_is_refused(pack, only, skip, word):
    rules = rules_from([pack({"__init__": rule("fence-pitch")})])
    with pytest.raises(UsageError, match=word):
        chosen(rules, only, skip)


PROJECT = """
[build-system]
requires = ["setuptools"]
build-backend = "setuptools.build_meta"

[project]
name = "tide-rules"
version = "2.1"

[project.entry-points."fencepost.rules"]
tide = "tide_rules"

[tool.setuptools]
packages = ["tide_rules"]
"""

RUN = """
from handmade import board
from fencepost.checking.registry import chosen, installed_rules
from fencepost.checking.runner import run
from fencepost.settings.model import Settings

rules = chosen(installed_rules(), ["tide-mark"], [])
print(run(board(), rules, Settings()).unchecked[0].reason)
"""


def run_python(code: str, *folders: Path) -> subprocess.CompletedProcess[str]:
    path = os.pathsep.join(map(str, [*folders, Path(__file__).parents[1]]))
    environment = {**os.environ, "PYTHONPATH": path}
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=environment, check=False)


@pytest.fixture
def project(tmp_path) -> Path:
    """A rule pack as anyone would write it, with a folder and a pyproject.toml of its own."""
    (tmp_path / "pyproject.toml").write_text(PROJECT)
    (tmp_path / "tide_rules").mkdir()
    (tmp_path / "tide_rules/__init__.py").touch()
    mark = rule("tide-mark").replace("return ()", 'yield self.unchecked(f"{len(board.nets)} nets seen")')
    (tmp_path / "tide_rules/mark.py").write_text(IMPORTS + mark)
    return tmp_path


def test_a_rule_pack_that_is_built_from_its_own_project_is_found_and_run(project):
    """setuptools itself writes the metadata from pyproject.toml, in place: no network and no copy."""
    pytest.importorskip("setuptools")
    build = [sys.executable, "-c", "import setuptools; setuptools.setup()", "-q", "egg_info"]
    subprocess.run(build, cwd=project, check=True, capture_output=True)
    done = run_python(RUN, project)
    assert done.stdout == "2 nets seen\n", done.stderr


def test_a_rule_pack_is_found_by_the_metadata_that_an_installer_writes(project):
    """Core metadata and entry_points.txt as the packaging specifications (packaging.python.org) lay them down."""
    metadata = project / "tide_rules-2.1.dist-info"
    metadata.mkdir()
    (metadata / "METADATA").write_text("Metadata-Version: 2.1\nName: tide-rules\nVersion: 2.1\n")
    (metadata / "entry_points.txt").write_text("[fencepost.rules]\ntide = tide_rules\n")
    done = run_python(RUN, project)
    assert done.stdout == "2 nets seen\n", done.stderr
