"""Baselines: what is known stays known through a re-export, and nothing else does."""

from __future__ import annotations

import json
import random
from dataclasses import replace

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencepost.checking.baseline import SCHEMA, Baseline, read_baseline, sift, written
from fencepost.checking.finding import Finding, Place, Severity
from fencepost.errors import InputError
from fencepost.source import Location

FAULT = Finding("some-rule", Severity.WARNING, "m", Place(Location("f", 1, 1), 10.0, 5.0), ("L1",), ("A", "B"))


def at(x: float, y: float = 5.0, line: int = 1, **changes: object) -> Finding:
    return replace(FAULT, place=Place(Location("f", line, 1), x, y), **changes)


def through_a_file(tmp_path, packages):
    file = tmp_path / "known.json"
    file.write_text(written(packages))
    return read_baseline(file, "known.json")


@pytest.fixture
def known(tmp_path):
    def known(*findings: Finding):
        return through_a_file(tmp_path, {"fab": findings}).of("fab", ["fab"])

    return known


SAME = [
    at(10.0, line=99),
    replace(FAULT, place=replace(FAULT.place, location=Location("renamed.gbr", 7, 3))),
    replace(FAULT, message="said otherwise"),
    replace(FAULT, severity=Severity.ERROR),
    replace(FAULT, nets=("B", "A")),
    at(10.0 + 1.3e-5),
    at(10.019),
]
OTHER = [
    replace(FAULT, rule="other-rule"),
    replace(FAULT, nets=("A",)),
    replace(FAULT, layers=("L2",)),
    at(10.021),
    at(10.0, 5.021),
]


@pytest.mark.parametrize("finding", SAME)
def test_what_a_re_export_changes_is_not_new(known, finding):
    sifted = sift([finding], known(FAULT))
    assert (sifted.new, sifted.known, sifted.gone) == ((), 1, 0)


@pytest.mark.parametrize("finding", OTHER)
def test_another_fault_is_new_and_the_known_one_gone(known, finding):
    sifted = sift([finding], known(FAULT))
    assert (sifted.new, sifted.known, sifted.gone) == ((finding,), 0, 1)


def test_findings_of_one_fingerprint_are_counted(known):
    sifted = sift([FAULT, FAULT, FAULT], known(FAULT, FAULT))
    assert (len(sifted.new), sifted.known, sifted.gone) == (1, 2, 0)


@given(
    st.lists(st.sampled_from([*SAME, *OTHER]), max_size=12),
    st.floats(-0.004, 0.004),
    st.floats(-0.004, 0.004),
    st.randoms(use_true_random=False),
)
def test_a_board_that_only_trembles_has_no_new_finding(findings, dx, dy, shuffle):
    """Any number of findings, in any order, none of them moved by more than an export rounds off."""
    moved = [
        replace(one, place=replace(one.place, x_mm=one.place.x_mm + dx, y_mm=one.place.y_mm + dy)) for one in findings
    ]
    shuffle.shuffle(moved)
    known = msgspec.convert(json.loads(written({"fab": findings})), Baseline).of("fab", ["fab"])
    sifted = sift(moved, known)
    assert (sifted.new, sifted.known, sifted.gone) == ((), len(findings), 0)


@given(st.integers(-400_000, 400_000), st.sampled_from([0.001, 0.00254]), st.floats(-2e-5, 2e-5))
def test_the_rounding_of_an_export_does_not_change_a_fingerprint_on_the_usual_grids(step, grid, off):
    """Boards are drawn on grids of 1 µm or 0.1 mil; inch files with six decimals are off by 13 nm."""
    assert at(step * grid).fingerprint == at(step * grid + off).fingerprint


@given(st.text())
def test_a_fingerprint_can_be_taken_of_any_name(name):
    assert len(replace(FAULT, nets=(name,)).fingerprint) == 16


def test_the_file_does_not_depend_on_order_and_lines():
    findings = [*SAME, *OTHER]
    shuffled = [replace(one, place=replace(one.place, location=Location("x", 3, 3))) for one in findings]
    random.Random(1).shuffle(shuffled)
    assert written({"b": findings, "a": ()}) == written({"a": (), "b": shuffled})


@pytest.mark.parametrize("name", ["\x1b[31m\n", "::error::", "\ud800", "\x7f漢"])
def test_the_file_is_safe_to_print_and_gives_any_name_back(tmp_path, name):
    fault = replace(FAULT, nets=(name,), message=name)
    text = written({name: [fault]})
    assert all(" " <= char <= "~" or char == "\n" for char in text)
    known = through_a_file(tmp_path, {name: [fault]}).of(name, [name])
    assert sift([fault], known).new == ()


@pytest.mark.parametrize(
    ("package", "checked", "expected"),
    [
        ("a", ["a", "b"], "a"),
        ("a", ["a"], "a"),
        ("moved", ["moved"], "ab"),
        ("moved", ["moved", "a"], "b"),
        ("moved", ["moved", "a", "b"], ""),
    ],
)
def test_a_package_under_a_new_name_gets_what_no_other_one_of_the_run_has(tmp_path, package, checked, expected):
    faults = {name: replace(FAULT, nets=(name,)) for name in "ab"}
    baseline = through_a_file(tmp_path, {name: [fault] for name, fault in faults.items()})
    assert "".join(one.nets[0] for one in baseline.of(package, checked)) == expected


GOOD = {"schema": SCHEMA, "packages": {}}


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"", "no baseline"),
        (b"[]", "no baseline"),
        (b"\xff\xfe\x00", "no baseline"),
        (b"[" * 100_000, "no baseline"),
        (json.dumps({**GOOD, "schema": "fencepost/findings/1"}).encode(), "schema"),
        (json.dumps({"schema": SCHEMA}).encode(), "packages"),
        (json.dumps({**GOOD, "packages": {"a": [{}]}}).encode(), "rule"),
    ],
)
def test_what_is_no_baseline_is_an_error_and_not_an_empty_one(tmp_path, data, word):
    (tmp_path / "b.json").write_bytes(data)
    with pytest.raises(InputError, match=word):
        read_baseline(tmp_path / "b.json", "b.json")


def test_a_baseline_that_is_not_there_is_an_error(tmp_path):
    with pytest.raises(InputError, match=r"b\.json: error: cannot be read"):
        read_baseline(tmp_path / "b.json", "b.json")
