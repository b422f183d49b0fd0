"""The report as SARIF 2.1.0: a run for each package.

Source: Static Analysis Results Interchange Format (SARIF) Version 2.1.0 Plus Errata 01, OASIS Standard, 28 August 2023.
Waived findings and those of a baseline are left out, and counted in the run's properties: not every service minds
suppressions.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any
from urllib.parse import quote

from fencepost.checking.finding import Finding, Place, Severity
from fencepost.report.escape import escape
from fencepost.report.json import figure_json, micron, one_line, suggestion_json
from fencepost.report.result import Result, RuleInfo
from fencepost.report.text import suggestion_place, suggestion_text
from fencepost.report.told_apart import numbered
from fencepost.source import Location

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
FINGERPRINT = "fencepost/v1"
HASH_OF_PLACE = "primaryLocationLineHash"
"""The one that code scanning by GitHub tells alerts apart by; it would make its own from the text of the line."""


def render(results: Sequence[Result]) -> str:
    """One line."""
    return one_line({"$schema": SCHEMA, "version": "2.1.0", "runs": [_run(result) for result in results]})


def _run(result: Result) -> dict[str, Any]:
    rules = _rules(result)
    index = {rule.name: i for i, rule in enumerate(rules)}
    driver = {
        "name": "fencepost",
        "version": result.version,
        "semanticVersion": result.version,
        "shortDescription": {"text": "Checks from fabrication data that the ground of a printed circuit board holds"},
        "rules": [_rule(rule) for rule in rules],
    }
    return {
        "tool": {"driver": driver},
        "automationDetails": {"id": f"fencepost/{_text(result.package)}/"},
        "columnKind": "unicodeCodePoints",
        "invocations": [_invocation(result, index)],
        "results": [_result(finding, number, index) for finding, number in numbered(result.findings)],
        "properties": {
            "package": result.package,
            "copper_layers": result.board.copper_layers,
            "holes": result.board.holes,
            "nets": result.board.nets,
            "size_mm": [micron(length) for length in result.board.size_mm],
            "assumptions": list(result.assumptions),
            "waived": len(result.waived),
            "known": result.known,
        },
    }


def _rules(result: Result) -> list[RuleInfo]:
    """Those that ran, and of any other that is spoken of the name."""
    known = {rule.name: rule for rule in result.rules}
    for name in result.rules_named:
        known.setdefault(name, RuleInfo(name, name, name, Severity.WARNING))
    return list(known.values())


def _rule(rule: RuleInfo) -> dict[str, Any]:
    first, _, _ = rule.page.partition("\n\n")
    return {
        "id": _text(rule.name),
        "name": _text(rule.name),
        "shortDescription": {"text": _message(rule.summary)},
        "fullDescription": {"text": _message(" ".join(first.split()))},
        "help": {"text": "\n".join(escape(line) for line in rule.page.splitlines()) or _text(rule.name)},
        "defaultConfiguration": {"level": rule.severity.label},
        "properties": {"tags": ["printed-circuit-board"]},
    }


def _invocation(result: Result, index: dict[str, int]) -> dict[str, Any]:
    notices = [
        {
            "level": "warning",
            "message": {"text": _message(f"not checked: {one.reason}")},
            "associatedRule": {"id": _text(one.rule), "index": index[one.rule]},
        }
        for one in result.unchecked
    ]
    notices += [{"level": "warning", "message": {"text": _message(text)}} for text in result.warnings]
    return {"executionSuccessful": True, "toolConfigurationNotifications": notices}


def _result(finding: Finding, number: int, index: dict[str, int]) -> dict[str, Any]:
    place = finding.place
    return {
        "ruleId": _text(finding.rule),
        "ruleIndex": index[finding.rule],
        "level": finding.severity.label,
        "message": {"text": _message(finding.message)},
        "locations": [_location(place.location)],
        "relatedLocations": list(_related(finding)),
        "partialFingerprints": {
            FINGERPRINT: f"{finding.fingerprint}:{number}",
            HASH_OF_PLACE: f"{finding.fingerprint}:{number}",
        },
        "properties": {
            **_position(place),
            "nets": list(finding.nets),
            "layers": list(finding.layers),
            "measured": figure_json(finding.measured),
            "limit": figure_json(finding.limit),
            "suggestion": suggestion_json(finding.suggestion),
        },
    }


def _related(finding: Finding) -> Iterator[dict[str, Any]]:
    said: list[tuple[str, Location, dict[str, Any]]] = [
        (remark.message, remark.place.location, _position(remark.place)) for remark in finding.remarks
    ]
    via = finding.suggestion
    if via is not None:
        position = {"x_mm": micron(via.x_mm), "y_mm": micron(via.y_mm)}
        said.append((suggestion_text(finding, via), suggestion_place(finding, via), position))
    for i, (message, where, properties) in enumerate(said):
        yield {"id": i, **_location(where), "message": {"text": _message(message)}, "properties": properties}


def _location(where: Location) -> dict[str, Any]:
    region = {"startLine": max(where.line, 1), "startColumn": max(where.column, 1)}
    return {"physicalLocation": {"artifactLocation": {"uri": uri(where.file)}, "region": region}}


def _position(place: Place) -> dict[str, float]:
    return {"x_mm": micron(place.x_mm), "y_mm": micron(place.y_mm)}


def uri(file: str) -> str:
    """A file's name as a reference (RFC 3986): relative to where the check ran, or absolute where the name is."""
    said = quote(file.encode("utf-8", "surrogatepass"), safe="/")
    return f"file://{said}" if said.startswith("/") else said


def _message(text: str) -> str:
    """A plain message: what would be a link or a placeholder in it is text (sections 3.11.5 and 3.11.6)."""
    return _text(text).replace("](", "]\\x28").replace("{", "{{").replace("}", "}}")


def _text(text: str) -> str:
    return escape(text) or "-"
