"""The page and the pictures from the command line, and evidence from rules to report."""

from __future__ import annotations

import datetime
import json
import math
import pickle
from collections.abc import Callable
from pathlib import Path

import pytest
from lxml import etree

from fencepost.checking.evidence import ROLES, Circle, Heat, Line, Spot
from fencepost.checking.finding import Finding
from fencepost.cli import main
from fencepost.cli.job import Job, check_package
from fencepost.cli.order import Order
from fencepost.report.page.shown import shown
from fencepost.report.result import Result


@pytest.fixture
def run() -> Callable[..., int]:
    """Run the program with these arguments; its exit code."""

    def code(*args: str) -> int:
        with pytest.raises(SystemExit) as stop:
            main(list(args))
        return int(stop.value.code or 0)

    return code


TIDE = Path(__file__).parents[2] / "fixtures" / "tide-gauge" / "fab"


@pytest.fixture(scope="module")
def checked() -> Result:
    result = check_package(Job(TIDE, Order(datetime.date(2026, 1, 1), drawn=True))).result
    assert result is not None
    return result


def test_one_run_writes_page_pictures_and_json_of_the_same_findings(
    run: Callable[..., int], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page, folder = tmp_path / "report.html", tmp_path / "pictures"
    rules = "transition-return,fence-pitch"
    args = ["check", str(TIDE), "--rules", rules, "--format", "json"]
    code = run(*args, "--output", f"html={page}", "--output", f"svg={folder}")
    report = json.loads(capsys.readouterr().out)
    names = {f"{finding['rule']}-{finding['fingerprint']}.svg" for finding in report["findings"]}
    assert code == 1
    assert names
    assert {file.name for file in folder.iterdir()} == names
    text = page.read_text(encoding="utf-8")
    assert all(f'id="{finding["fingerprint"]}"' in text for finding in report["findings"])
    for file in folder.iterdir():
        assert etree.parse(str(file)).getroot().get("viewBox")
        assert file.stat().st_size < 200_000


def test_the_page_can_go_to_stdout(run: Callable[..., int], capsys: pytest.CaptureFixture[str]) -> None:
    run("check", str(TIDE), "--rules", "ring-width", "--format", "html")
    assert capsys.readouterr().out.startswith("<!DOCTYPE html>\n")


def test_pictures_go_to_a_folder_and_nowhere_else(run: Callable[..., int], capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", str(TIDE), "--format", "svg") == 2
    assert "svg" in capsys.readouterr().err


def test_describe_writes_an_inventory_beside_its_text(
    run: Callable[..., int], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "inventory.html"
    assert run("describe", str(TIDE), "--html", str(page)) == 0
    assert "transitions" in capsys.readouterr().out
    text = page.read_text(encoding="utf-8")
    assert "nothing was checked" in text
    assert 'class="finding"' not in text
    assert "RS485" in text


def _of(result: Result, rule: str) -> list[Finding]:
    found = [finding for finding in result.findings if finding.rule == rule]
    assert found
    return found


def test_evidence_can_be_handed_between_processes_and_has_known_roles(checked: Result) -> None:
    assert pickle.loads(pickle.dumps(checked.findings)) == checked.findings
    for finding in checked.findings:
        assert {shape.role for shape in shown(finding)} <= set(ROLES)
        assert all(math.isfinite(number) for shape in shown(finding) for number in shape.numbers())


def test_evidence_of_a_transition_agrees_with_its_figures(checked: Result) -> None:
    """The tie that is drawn is as far from the via as the finding says, and the traces begin in the via."""
    for finding in _of(checked, "transition-return"):
        spots = {shape.role: shape for shape in finding.evidence if isinstance(shape, Spot)}
        via, tie = spots["signal via"], spots["tie"]
        assert finding.measured is not None
        assert math.dist((via.x, via.y), (tie.x, tie.y)) == pytest.approx(finding.measured.value)
        traces = {shape.layer: shape for shape in finding.evidence if isinstance(shape, Line) and shape.layer}
        assert set(traces) == set(finding.layers)
        for trace in traces.values():
            assert min(math.dist(point, (via.x, via.y)) for point in trace.points) < 0.5
        references = [one for one in finding.evidence if one.role.startswith("reference")]
        assert {one.layer for one in references} == {"L2", "L3"}


def test_evidence_of_a_fence_is_as_wide_as_its_gap(checked: Result) -> None:
    for finding in _of(checked, "fence-pitch"):
        widest = [shape for shape in finding.evidence if isinstance(shape, Line) and shape.role == "widest"]
        assert finding.measured is not None
        assert len(widest) == 1
        assert math.dist(*widest[0].points) == pytest.approx(finding.measured.value, abs=0.01)


def test_evidence_of_a_resonance_is_strongest_where_the_finding_stands(checked: Result) -> None:
    for finding in _of(checked, "pour-resonance"):
        (field,) = (shape for shape in finding.evidence if isinstance(shape, Heat))
        strongest = max(max(row) for row in field.rows)
        column = int((finding.place.x_mm - field.x) / field.cell)
        row = int((finding.place.y_mm - field.y) / field.cell)
        assert field.rows[row][column] == pytest.approx(strongest, abs=0.1)


def test_the_limit_is_a_circle_of_its_radius_around_the_finding(checked: Result) -> None:
    for finding in _of(checked, "transition-return"):
        (circle,) = (shape for shape in shown(finding) if isinstance(shape, Circle) and shape.role == "limit")
        assert finding.limit is not None
        assert (circle.x, circle.y) == (finding.place.x_mm, finding.place.y_mm)
        assert circle.radius == finding.limit.value
