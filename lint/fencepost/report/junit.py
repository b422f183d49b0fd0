"""The report as JUnit XML: a suite for each package, a case for each rule.

The format has no standard; this keeps to what its readers agree on: `testsuites`, `testsuite`, `testcase`, `failure`,
`skipped`, `system-out`. A rule with findings at or above the fail level has failed; milder findings are its output.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.etree import ElementTree as xml

from fencepost.checking.finding import Finding, Severity
from fencepost.report.escape import escape
from fencepost.report.result import Result, RuleInfo
from fencepost.report.text import counted, finding_lines

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'


def render(results: Sequence[Result]) -> str:
    """An XML document. Names in it are escaped, since XML cannot hold every character."""
    suites = [_suite(result) for result in results]
    top = xml.Element("testsuites", {"name": "fencepost", **_sums(suites)})
    top.extend(suites)
    xml.indent(top)
    return HEAD + xml.tostring(top, encoding="unicode") + "\n"


def _sums(suites: Iterable[xml.Element]) -> dict[str, str]:
    """Of whole numbers and of seconds."""
    known = [suite.attrib for suite in suites]
    sums = {key: str(sum(int(each[key]) for each in known)) for key in ("tests", "failures", "errors", "skipped")}
    return {**sums, "time": f"{sum(float(each['time']) for each in known):.3f}"}


def _suite(result: Result) -> xml.Element:
    names = {rule.name: rule for rule in result.rules}
    for name in result.rules_named:
        names.setdefault(name, RuleInfo(name, "", "", Severity.WARNING))
    cases = [_case(result, rule) for rule in names.values()]
    counts = {
        "tests": str(len(cases)),
        "failures": str(sum(case.find("failure") is not None for case in cases)),
        "errors": "0",
        "skipped": str(sum(case.find("skipped") is not None for case in cases)),
        "time": f"{result.elapsed_s:.3f}",
    }
    suite = xml.Element("testsuite", {"name": escape(result.package), **counts})
    suite.extend(cases)
    asides = [f"warning: {text}" for text in result.warnings] + [f"assumed: {text}" for text in result.assumptions]
    if asides:
        xml.SubElement(suite, "system-out").text = _lines(map(escape, asides))
    return suite


def _case(result: Result, rule: RuleInfo) -> xml.Element:
    known = {"name": escape(rule.name), "classname": escape(result.package), "time": f"{rule.seconds:.3f}"}
    case = xml.Element("testcase", known)
    found = [finding for finding in result.findings if finding.rule == rule.name]
    failing = [finding for finding in found if result.fails(finding)]
    reasons = [escape(one.reason) for one in result.unchecked if one.rule == rule.name]
    milder = [line for finding in found if not result.fails(finding) for line in _told(finding)]
    if failing:
        worst = max(finding.severity for finding in failing)
        said = escape(failing[0].message) if len(failing) == 1 else counted(len(failing), "finding")
        failure = xml.SubElement(case, "failure", {"message": said, "type": worst.label})
        failure.text = _lines(line for finding in failing for line in _told(finding))
        milder += [f"unchecked: {reason}" for reason in reasons]
    elif reasons:
        xml.SubElement(case, "skipped", {"message": "; ".join(reasons)})
    if milder:
        xml.SubElement(case, "system-out").text = _lines(milder)
    return case


def _told(finding: Finding) -> list[str]:
    return ["".join(piece for piece, _ in line) for line in finding_lines(finding)]


def _lines(lines: Iterable[str]) -> str:
    return "\n" + "".join(f"{line}\n" for line in lines)
