"""hole-wall: how walls become findings. What a wall measures is tested in tests/fabrication/test_walls.py."""

from __future__ import annotations

import pytest
from fencepost_rules.hole_wall import HoleWall

from boards import board_of, findings_of
from fencepost.checking.finding import Finding, Severity
from sketch import Sketch


def check(sketch: Sketch, settings: str = "", **options) -> list[Finding]:
    return findings_of(HoleWall, board_of(sketch, settings, **options), settings)


def pairs(apart: float, count: int = 1, nets: str = "AB") -> Sketch:
    """Pairs of vias of 0.3 mm, drilled 0.4 mm wide."""
    sketch = Sketch(layers=4)
    for i in range(count):
        for net, x in zip(nets, (5, 5 + apart), strict=True):
            sketch.via(net, (x, 2 + 2 * i), drill=0.3, pad=0.32)
    return sketch


@pytest.mark.parametrize(
    ("apart", "settings", "wall"),
    [
        (0.602, "", None),
        (0.6, "", None),
        (0.598, "", 0.198),
        (0.65, '[board]\nlevel = "B"', None),
        (0.648, '[board]\nlevel = "B"', 0.248),
        (0.7, '[board]\nlevel = "A"', None),
        (0.698, '[board]\nlevel = "A"', 0.298),
        (0.55, '[board]\nplating = "50 um"', None),
        (0.548, '[board]\nplating = "50 um"', 0.198),
        (0.5, '[rules.hole-wall]\nminimum = "0.1 mm"', None),
        (0.5, '[board]\nlevel = "A"\n[rules.hole-wall]\nminimum = "0.1 mm"', None),
        (0.498, '[rules.hole-wall]\nminimum = "0.1 mm"', 0.098),
    ],
)
@pytest.mark.parametrize("nets", ["AB", "AA"])
def test_at_just_over_and_just_under_each_limit(apart: float, settings: str, wall: float | None, nets: str) -> None:
    """Of one net or of two."""
    measured = [finding.measured.value for finding in check(pairs(apart, nets=nets), settings)]
    assert measured == ([] if wall is None else [pytest.approx(wall, abs=1e-6)])


@pytest.mark.parametrize(
    ("apart", "message", "severity"),
    [
        (0.5, "the via of A and the via of B leave a wall of 0.100 mm as drilled, less than 0.20 mm", Severity.WARNING),
        (0.4, "the via of A and the via of B leave a wall of 0.000 mm as drilled, less than 0.20 mm", Severity.WARNING),
        (0.35, "the via of A and the via of B overlap by 0.050 mm as drilled", Severity.ERROR),
        (0.0, "two vias of A are drilled at the same place", Severity.ERROR),
    ],
)
def test_what_a_finding_says(apart: float, message: str, severity: Severity) -> None:
    (finding,) = check(pairs(apart, nets="AB" if apart else "AA"))
    assert (finding.message, finding.severity) == (message, severity)
    assert finding.place.location.file.endswith("PTH.drl")
    assert [remark.message for remark in finding.remarks] == [f"here is the via of {'B' if apart else 'A'}"]


def test_two_holes_alike_are_named_together() -> None:
    sketch = Sketch(layers=2)
    sketch.hole((5, 5), 1.0)
    sketch.hole((6.1, 5), 1.0)
    messages = [finding.message for finding in (*check(pairs(0.5, nets="AA")), *check(sketch))]
    said = "leave a wall of 0.100 mm as drilled, less than 0.20 mm"
    assert messages == [f"two vias of A {said}", f"two unplated holes {said}"]


@pytest.mark.parametrize(("count", "findings"), [(3, 3), (4, 1), (8, 1)])
def test_many_pairs_are_one_finding(count: int, findings: int) -> None:
    found = check(pairs(0.5, count))
    assert len(found) == findings
    if count > findings:
        who = f"{count} pairs of holes of different nets"
        assert found[0].message == f"{who} leave walls of as little as 0.100 mm as drilled, less than 0.20 mm"
        assert len(found[0].remarks) == 1 + min(count - 1, 4)


@pytest.mark.parametrize("options", [{"turn": 30.0}, {"move": (40.0, -7.0)}, {"units": "inch"}, {"drill": "gerber"}])
def test_however_the_board_lies_and_is_written(options: dict) -> None:
    assert [finding.measured.value for finding in check(pairs(0.5), **options)] == [pytest.approx(0.1, abs=1e-5)]
    assert check(pairs(0.6), **options) == []


def test_pairs_of_one_net_are_told_from_others() -> None:
    sketch = pairs(0.5, 5)
    for y in (12, 14, 16, 18):
        sketch.vias("A", [(10, y), (10.45, y)], drill=0.3, pad=0.32)
    said = sorted(finding.message.split(" leave ")[0] for finding in check(sketch))
    assert said == ["4 pairs of holes of one net", "5 pairs of holes of different nets"]
