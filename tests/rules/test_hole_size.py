"""hole-size: finished diameter and 0.1 mm of plating against the thinnest drill, 0.25 mm at level C."""

from __future__ import annotations

import pytest
from fencepost_rules.hole_size import HoleSize

from boards import board_of, findings_of
from fencepost.checking.finding import Finding, Severity
from sketch import Sketch


def check(sketch: Sketch, settings: str = "", **options) -> list[Finding]:
    return findings_of(HoleSize, board_of(sketch, settings, **options), settings)


def via(drill: float, **options) -> Sketch:
    sketch = Sketch(layers=4)
    sketch.via("A", (10, 10), drill=drill, pad=0.6, **options)
    return sketch


@pytest.mark.parametrize(
    ("drill", "settings", "size"),
    [
        (0.16, "", None),
        (0.15, "", None),
        (0.1495, "", None),
        (0.148, "", 0.248),
        (0.10, "", 0.20),
        (0.20, '[board]\nlevel = "B"', None),
        (0.198, '[board]\nlevel = "B"', 0.298),
        (0.25, '[board]\nlevel = "A"', None),
        (0.248, '[board]\nlevel = "A"', 0.348),
        (0.20, '[board]\nplating = "50 um"', None),
        (0.198, '[board]\nplating = "50 um"', 0.248),
        (0.10, '[rules.hole-size]\nminimum = "0.2 mm"', None),
        (0.10, '[board]\nlevel = "A"\n[rules.hole-size]\nminimum = "0.2 mm"', None),
        (0.098, '[rules.hole-size]\nminimum = "0.2 mm"', 0.198),
    ],
)
def test_at_just_over_and_just_under_each_limit(drill: float, settings: str, size: float | None) -> None:
    measured = [finding.measured.value for finding in check(via(drill), settings)]
    assert measured == ([] if size is None else [pytest.approx(size, abs=1e-6)])


@pytest.mark.parametrize(
    ("width", "plated", "faulty"), [(0.25, False, 0), (0.24, False, 1), (0.2, True, 0), (0.14, True, 1)]
)
@pytest.mark.parametrize("end", [10.0, 12.0])
def test_holes_without_plating_and_slots(width: float, plated: bool, faulty: int, end: float) -> None:
    """Without plating nothing is added."""
    sketch = Sketch(layers=2)
    sketch.slot((10, 10), (end, 10), width, plated=plated, net="A" if plated else None, pad=1.0 if plated else None)
    assert len(check(sketch)) == faulty


def test_what_a_finding_says() -> None:
    (finding,) = check(via(0.1))
    assert finding.message == "the via of A of 0.10 mm needs a drill of 0.200 mm, and the thinnest is 0.250 mm"
    assert (finding.severity, finding.nets, finding.limit.value) == (Severity.WARNING, ("A",), 0.25)
    assert finding.place.location.file.endswith("PTH.drl")


def test_all_holes_of_one_tool_are_one_finding() -> None:
    """And those of other tools and spans are others."""
    sketch = Sketch(layers=4)
    for i in range(30):
        sketch.via(f"N{i % 7}", (2 + 0.5 * i, 10), drill=0.1, pad=0.3)
    sketch.via("A", (10, 15), drill=0.12, pad=0.3)
    sketch.via("A", (12, 15), drill=0.1, pad=0.3, span=(1, 2))
    messages = sorted(finding.message for finding in check(sketch))
    assert [message.split(" need")[0] for message in messages] == [
        "30 vias of 0.10 mm", "the blind via of A of 0.10 mm", "the via of A of 0.12 mm",
    ]  # fmt: skip


@pytest.mark.parametrize("options", [{"turn": 30.0}, {"move": (40.0, -7.0)}, {"units": "inch"}, {"drill": "gerber"}])
def test_however_the_board_lies_and_is_written(options: dict) -> None:
    assert [finding.measured.value for finding in check(via(0.1), **options)] == [pytest.approx(0.2, abs=1e-5)]
    assert check(via(0.15), **options) == []


def test_sizes_that_a_drill_file_in_inches_has_rounded_are_forgiven() -> None:
    """0.0059 in, the nearest to 0.15 mm with four decimals, are 0.14986 mm."""
    assert check(via(0.14986)) == []
