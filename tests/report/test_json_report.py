"""The JSON report, held against a schema written from the design's contract."""

from __future__ import annotations

import json
from dataclasses import replace

import jsonschema
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencepost.checking.finding import Figure, Finding, Severity
from fencepost.checking.waivers import Waived
from fencepost.report import renderer
from handmade import FINDING, RESULT, place

DESIGN = {
    "schema": "fencepost/findings/1",
    "version": "0.1.0",
    "package": "fab",
    "board": {"copper_layers": 4, "holes": 120, "nets": 31, "size_mm": [60.0, 40.0]},
    "assumptions": ["ground nets by name: GND"],
    "findings": [
        {
            "rule": "transition-return",
            "severity": "warning",
            "message": FINDING.message,
            "file": "fab/tide-L1.gbr",
            "line": 412,
            "column": 1,
            "x_mm": 31.2,
            "y_mm": 18.45,
            "layers": ["L1", "L4"],
            "nets": ["QSPI_IO2"],
            "measured": {"quantity": "distance", "value": 3.42, "unit": "mm"},
            "limit": {"quantity": "distance", "value": 1.5, "unit": "mm"},
            "notes": [
                {
                    "message": FINDING.remarks[0].message,
                    "file": "fab/tide-PTH.drl",
                    "line": 88,
                    "column": 1,
                    "x_mm": 34.6,
                    "y_mm": 18.1,
                }
            ],
            "suggestion": {"x_mm": 31.95, "y_mm": 18.45, "drill_mm": 0.25, "pad_mm": 0.5, "layers": ["L1", "L4"]},
            "fingerprint": FINDING.fingerprint,
        }
    ],
    "unchecked": [{"rule": "rim-pitch", "reason": "the package has no profile"}],
    "waived": [],
    "known": 0,
    "summary": {"error": 0, "warning": 1, "note": 0},
    "elapsed_s": 0.84,
}
"""The example of the design, with the finding of the text example, and what waivers and baselines set aside."""


def exactly(optional: bool = False, **properties: object) -> dict[str, object]:
    """An object with these keys and no other."""
    shape = {"properties": properties, "required": list(properties), "additionalProperties": False}
    return {"type": ["object", "null"] if optional else "object", **shape}


TEXT, NUMBER = {"type": "string"}, {"type": "number"}
COUNT = {"type": "integer", "minimum": 0}
PLACE = {"file": TEXT, "line": COUNT, "column": COUNT, "x_mm": NUMBER, "y_mm": NUMBER}
LAYERS = {"type": "array", "items": {"type": "string", "pattern": "^L[1-9][0-9]*$"}}
FIGURE = exactly(optional=True, quantity=TEXT, value=NUMBER, unit=TEXT)


def list_of(items: object) -> dict[str, object]:
    return {"type": "array", "items": items}


FOUND = dict(
    rule=TEXT,
    severity={"enum": ["error", "warning", "note"]},
    message=TEXT,
    **PLACE,
    layers=LAYERS,
    nets=list_of(TEXT),
    measured=FIGURE,
    limit=FIGURE,
    notes=list_of(exactly(message=TEXT, **PLACE)),
    suggestion=exactly(optional=True, x_mm=NUMBER, y_mm=NUMBER, drill_mm=NUMBER, pad_mm=NUMBER, layers=LAYERS),
    fingerprint={"type": "string", "pattern": "^[0-9a-f]{16,}$"},
)

SCHEMA = exactly(
    schema={"const": "fencepost/findings/1"},
    version=TEXT,
    package=TEXT,
    board=exactly(
        copper_layers=COUNT, holes=COUNT, nets=COUNT, size_mm={**list_of(NUMBER), "minItems": 2, "maxItems": 2}
    ),
    assumptions=list_of(TEXT),
    findings=list_of(exactly(**FOUND)),
    unchecked=list_of(exactly(rule=TEXT, reason=TEXT)),
    waived=list_of(exactly(**FOUND, reason=TEXT)),
    known=COUNT,
    summary=exactly(error=COUNT, warning=COUNT, note=COUNT),
    elapsed_s={"type": "number", "minimum": 0},
)

BARE = Finding("some-rule", Severity.NOTE, "m", place())

render = renderer("json")


def test_the_design_s_example_is_written_key_by_key():
    written = json.loads(render([RESULT]))
    assert written == DESIGN
    assert list(written) == list(DESIGN)


@pytest.mark.parametrize("findings", [(), (FINDING,), (BARE,), (FINDING, BARE)])
def test_the_contract_holds_with_and_without_what_is_optional(findings):
    waived = tuple(Waived(finding, "known and harmless") for finding in findings)
    written = json.loads(render([replace(RESULT, findings=findings, waived=waived, known=3)]))
    jsonschema.validate(written, SCHEMA)
    assert [one["reason"] for one in written["waived"]] == ["known and harmless"] * len(findings)
    assert written["known"] == 3


def test_several_packages_are_a_list_of_the_same_objects():
    other = replace(RESULT, package="other", findings=(BARE,))
    written = json.loads(render([RESULT, other]))
    assert written == [json.loads(render([RESULT])), json.loads(render([other]))]


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_names_come_back_as_the_files_have_them_and_the_text_is_visible_ascii(name):
    text = render([replace(RESULT, package=name, findings=(replace(BARE, message=name, nets=(name,)),))])
    written = json.loads(text)
    assert (written["package"], written["findings"][0]["nets"]) == (name, [name])
    assert text.endswith("\n")
    assert all(" " <= char <= "~" for char in text[:-1])
    assert "##" not in text


@pytest.mark.parametrize("number", [3.4199999, np.float64(3.4199999), np.float32(3.42)])
def test_numbers_are_rounded_and_numpy_s_are_taken(number):
    finding = replace(BARE, measured=Figure("distance", number, "mm"), place=replace(place(), x_mm=np.float64(-0.0001)))
    (written,) = json.loads(render([replace(RESULT, findings=(finding,), elapsed_s=1.23456)]))["findings"]
    assert written["measured"]["value"] == 3.42
    assert str(written["x_mm"]) == "0.0"
