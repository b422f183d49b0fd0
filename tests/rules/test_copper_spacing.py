"""copper-spacing: how distances become findings. What is measured is tested in tests/fabrication/test_spacing.py."""

from __future__ import annotations

import pytest
from fencepost_rules.copper_spacing import CopperSpacing

from boards import board_of, findings_of
from fencepost.checking.finding import Finding, Severity
from sketch import Sketch


def check(sketch: Sketch, settings: str = "", **options) -> list[Finding]:
    return findings_of(CopperSpacing, board_of(sketch, settings, **options), settings)


def near(away: float, layers: tuple[int, ...] = (2,), count: int = 1, **options) -> Sketch:
    """Vias of 0.3/0.6 mm of net A in a row, and traces of net B whose edge passes their middles at this distance."""
    sketch = Sketch(layers=4)
    for i in range(count):
        sketch.via("A", (3 + 2 * i, 10), **{"drill": 0.3, "pad": 0.6, **options})
    for layer in layers:
        sketch.trace("B", layer, [(1, 10.1 + away), (19, 10.1 + away)], 0.2)
    return sketch


def unplated(away: float) -> Sketch:
    sketch = Sketch(layers=4)
    sketch.hole((10, 10), 1.0)
    sketch.trace("B", 2, [(1, 10.1 + away), (19, 10.1 + away)], 0.2)
    return sketch


def rule(line: str) -> str:
    return f"[rules.copper-spacing]\n{line}\n"


LEVEL_A = '[board]\nlevel = "A"\n'


@pytest.mark.parametrize(
    ("sketch", "settings", "distance"),
    [
        (near(0.4), "", None),
        (near(0.398), "", 0.098),
        (near(0.5), LEVEL_A, None),
        (near(0.498), LEVEL_A, 0.198),
        (near(0.38), rule('minimum = "0.08 mm"'), None),
        (near(0.38), LEVEL_A + rule('minimum = "0.08 mm"'), None),
        (near(0.378), rule('minimum = "0.08 mm"'), 0.078),
        (near(0.35, pads=(1, 4)), "", None),
        (near(0.348, pads=(1, 4)), "", 0.148),
        (near(0.45, pads=(1, 4)), LEVEL_A, None),
        (near(0.448, pads=(1, 4)), LEVEL_A, 0.248),
        (near(0.35, pads=(1, 4)), '[board]\nplating = "0.12 mm"', 0.14),
        (near(0.3, pads=(1, 4)), rule('barrel = "0.1 mm"'), None),
        (near(0.298, pads=(1, 4)), rule('barrel = "0.1 mm"'), 0.098),
        (unplated(0.7), "", None),
        (unplated(0.698), "", 0.198),
        (unplated(0.8), LEVEL_A, None),
        (unplated(0.798), LEVEL_A, 0.298),
        (unplated(0.6), rule('unplated = "0.1 mm"'), None),
        (unplated(0.598), rule('unplated = "0.1 mm"'), 0.098),
    ],
)
def test_at_and_just_under_each_limit(sketch: Sketch, settings: str, distance: float | None) -> None:
    measured = [finding.measured.value for finding in check(sketch, settings)]
    assert measured == ([] if distance is None else [pytest.approx(distance, abs=1e-6)])


@pytest.mark.parametrize(
    ("sketch", "message", "severity"),
    [
        (near(0.35), "the pad of the via of A is 0.050 mm from copper of B on L2, less than 0.10 mm", Severity.WARNING),
        (
            near(0.3, pads=(1, 4)),
            "the via of A without a pad is, as drilled, 0.100 mm from copper of B on L2, less than 0.15 mm",
            Severity.WARNING,
        ),
        (
            unplated(0.6),
            "the unplated hole of 1.00 mm is 0.100 mm from copper of B on L2, less than 0.20 mm",
            Severity.WARNING,
        ),
        (unplated(0.4), "copper of B reaches the edge of the unplated hole of 1.00 mm on L2", Severity.ERROR),
    ],
)
def test_what_a_finding_says(sketch: Sketch, message: str, severity: Severity) -> None:
    (finding,) = check(sketch)
    assert (finding.message, finding.severity) == (message, severity)
    assert finding.place.location.file.endswith(".drl")
    (remark,) = finding.remarks
    assert remark.message == "here is the copper of B on L2"
    assert remark.place.location.file.endswith("L2.gbr")
    assert remark.place.x_mm == pytest.approx(finding.place.x_mm, abs=1e-6), "the nearest point of a trace that passes"


def test_one_hole_and_one_net_are_one_finding_whatever_the_layers() -> None:
    (finding,) = check(near(0.35, layers=(1, 3, 4)))
    assert finding.layers == ("L1", "L3", "L4")
    assert finding.nets == ("A", "B")


def test_two_pads_that_face_each_other_are_one_finding() -> None:
    sketch = Sketch(layers=2)
    sketch.via("A", (10, 10))
    sketch.via("B", (10.65, 10))
    (finding,) = check(sketch)
    assert finding.nets == ("A", "B")


@pytest.mark.parametrize(("count", "findings"), [(3, 3), (4, 1), (8, 1)])
def test_many_holes_of_one_tool_are_one_finding(count: int, findings: int) -> None:
    found = check(near(0.35, count=count))
    assert len(found) == findings
    if count > findings:
        said = f"pads of {count} vias of 0.30 mm are as little as 0.050 mm from copper of B on L2, less than 0.10 mm"
        assert found[0].message == said
        assert len(found[0].remarks) == 1 + min(count - 1, 4)


@pytest.mark.parametrize("options", [{"turn": 30.0}, {"move": (40.0, -7.0)}, {"units": "inch"}, {"drill": "gerber"}])
def test_however_the_board_lies_and_is_written(options: dict) -> None:
    assert [finding.measured.value for finding in check(near(0.35), **options)] == [pytest.approx(0.05, abs=0.0005)]
    assert check(near(0.4), **options) == []
