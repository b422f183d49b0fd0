"""The isolation of a fence around an opening, against the same posts put to the physics by hand.

The physics has its own tests, against published closed forms. These here prove that the right posts, the right piece of
trace and the right figures reach it, and that the finding says what comes back.
"""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely
from fencepost_rules.fence_pitch import MOST_SOLVED, FencePitch

from boards import board_of, outcome_of
from fencepost.checking.finding import Finding, Unchecked
from fencepost.physics.fence import isolation
from fencepost.physics.grid import endless_isolation
from fencepost.signals.isolation import MOST_POSTS
from sketch import Path, Sketch

Point = tuple[float, float]

SAID = re.compile(
    r"the fence here isolates by ([0-9.]+) dB at ([0-9.]+) GHz; with the gap closed by (\d+) vias?, by ([0-9.]+) dB"
)
HIGH, LOW = 9.0, 2.4
"""GHz. At er 4 a wavelength is 16.66 and 62.46 mm."""


def settings(gigahertz: float, distance: float = 2.0) -> str:
    said = f'name = "radio"\nnets = ["RF*"]\nfrequency = "{gigahertz} GHz"\nfence = true\n'
    return f'[[class]]\n{said}[rules.fence-pitch]\ndistance = "{distance} mm"\n'


def board(path: Path | list[Point], posts: list[tuple[float, float, float]], size: Point = (70.0, 30.0)) -> Sketch:
    """A trace of 0.3 mm over ground, and posts (x, y, diameter); er 4."""
    sketch = Sketch(layers=2, size=size, gaps=[(0.3, 4.0)])
    sketch.pour("GND", 1)
    sketch.pour("GND", 2)
    sketch.trace("RF", 1, path if isinstance(path, Path) else Path.line(path), 0.3)
    for x, y, drill in posts:
        sketch.via("GND", (x, y), drill=drill, pad=drill + 0.3)
    return sketch


def row(y: float, start: float, end: float, drill: float = 0.3, pitch: float = 2.0) -> list[tuple[float, float, float]]:
    count = round((end - start) / pitch)
    return [(start + i * pitch, y, drill) for i in range(count + 1)]


def figures(sketch: Sketch, given: str) -> list[tuple[float, float, int, float]]:
    """For each finding: dB as it stands, GHz, vias, dB when closed."""
    found = []
    for entry in outcome_of(FencePitch, board_of(sketch, given), given):
        assert isinstance(entry, Finding), entry
        (match,) = (match for remark in entry.remarks if (match := SAID.fullmatch(remark.message)))
        standing, hertz, vias, closed = match.groups()
        found.append((float(standing), float(hertz), int(vias), float(closed)))
    return found


def by_hand(posts: list[tuple[float, float, float]], gigahertz: float, trace: list[Point]) -> float:
    rows = np.array(posts)
    return isolation(rows[:, :2], rows[:, 2], gigahertz * 1e9, 4.0, trace)


UPPER, LOWER = 16.2, 13.8
TRACE = [(5.0, 15.0), (65.0, 15.0)]


@pytest.mark.parametrize("gigahertz", [HIGH, LOW])
@pytest.mark.parametrize("drill", [0.3, 0.6])
def test_a_gap_in_a_straight_fence(gigahertz: float, drill: float) -> None:
    """Posts every 2 mm, those at x = 35 and 37 missing: half a wavelength to both sides of x = 36, or 9 mm."""
    whole = row(UPPER, 5, 65, drill)
    upper = [post for post in whole if post[0] not in (35, 37)]
    half = max(299.792458 / (gigahertz * 2) / 2, 1.5 * 6)
    begin, end = max(36 - half, 5), min(36 + half, 65)
    trace = [(begin, 15.0), (end, 15.0)]
    standing, closed = ([post for post in one if begin <= post[0] <= end] for one in (upper, whole))
    ((now, hertz, vias, then),) = figures(board(TRACE, upper + row(LOWER, 5, 65)), settings(gigahertz))
    assert (hertz, vias) == (gigahertz, 2)
    assert now == pytest.approx(by_hand(standing, gigahertz, trace), abs=0.06)
    assert then == pytest.approx(by_hand(closed, gigahertz, trace), abs=0.06)
    assert then > now + 3


def test_a_fence_closed_is_as_good_as_the_endless_one() -> None:
    """A fence of one wavelength, which is what is looked at, is some 1 dB above one that never ends."""
    upper = [post for post in row(UPPER, 5, 65) if post[0] != 35]
    ((_, _, _, then),) = figures(board(TRACE, upper + row(LOWER, 5, 65)), settings(HIGH))
    assert then == pytest.approx(endless_isolation(2.0, 0.3, HIGH * 1e9, 4.0), abs=1.5)


def test_a_side_without_any_post() -> None:
    """It isolates nothing; 31 posts at 2 mm would go from one end of 60 mm to the other."""
    ((now, _, vias, then),) = figures(board(TRACE, row(UPPER, 5, 65)), settings(HIGH))
    assert (now, vias) == (0.0, 31)
    assert 8 < then < 25


def test_an_end_without_posts() -> None:
    """From x = 57 to the end at 65: four more."""
    ((now, _, vias, then),) = figures(board(TRACE, row(UPPER, 5, 57) + row(LOWER, 5, 65)), settings(HIGH))
    assert vias == 4
    assert then > now


def test_posts_of_different_size_in_two_rows() -> None:
    """Each with its own diameter: large ones behind small ones, 1 mm apart and staggered."""
    small = [post for post in row(UPPER, 5, 65, 0.3, 4.0) if post[0] != 33]
    large = row(UPPER + 1, 7, 63, 0.8, 4.0)
    posts = small + large
    ((now, _, vias, _),) = figures(board(TRACE, posts + row(LOWER, 5, 65)), settings(6.0, distance=2.9))
    half = 299.792458 / (6.0 * 2) / 2
    begin, end = 33 - half, 33 + half
    near = [post for post in posts if begin <= post[0] <= end]
    assert vias == 1  # in the middle of the 4 mm from one large post to the next
    assert now == pytest.approx(by_hand(near, 6.0, [(begin, 15.0), (end, 15.0)]), abs=0.06)


CURVES = {
    "a bend": Path.line([(5, 5), (35, 5), (35, 25)]),
    "two bends": Path.line([(5, 5), (20, 5), (30, 15), (50, 15)]),
    "a half circle": Path.arc((6, 8), (38, 8), (22, 8), clockwise=True),
    "a zigzag": Path.line([(5, 20), (20, 8), (35, 20), (50, 8)]),
}


@pytest.mark.parametrize("gigahertz", [HIGH, LOW])
@pytest.mark.parametrize("path", CURVES.values(), ids=CURVES)
@pytest.mark.parametrize("left", [True, False])
def test_fences_that_bend_with_the_trace(path: Path, left: bool, gigahertz: float) -> None:
    """Posts 1.2 mm from the trace; one is missing, on the inside or on the outside. Closing it never makes it worse."""
    posts = []
    for side in (True, False):
        curve = shapely.LineString(path.coords()).offset_curve(1.2 if side else -1.2, quad_segs=32)
        count = math.ceil(curve.length / 1.9)
        spots = [curve.interpolate(i / count, normalized=True) for i in range(count + 1)]
        missing = count // 2 if side is left else -1
        posts += [(round(p.x, 4), round(p.y, 4), 0.3) for i, p in enumerate(spots) if i != missing]
    ((now, _, vias, then),) = figures(board(path, posts), settings(gigahertz))
    assert vias == 1
    assert 0 < now < then < 60


def test_a_row_that_serves_two_traces_is_looked_at_from_each() -> None:
    sketch = board(TRACE, [post for post in row(UPPER, 5, 65) if post[0] != 35] + row(LOWER, 5, 65))
    sketch.trace("RF_B", 1, [(5, 17.4), (65, 17.4)], 0.3)
    for x, y, _ in row(18.6, 5, 65):
        sketch.via("GND", (x, y), drill=0.3, pad=0.6)
    one, other = figures(sketch, settings(HIGH))
    assert one == pytest.approx(other, abs=0.11)  # each is 1.2 mm away from it


def test_what_the_physics_refuses_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise ValueError("2 posts to the left of the trace and 1 to its right")

    monkeypatch.setattr("fencepost.signals.isolation.isolation", refuse)
    sketch = board(TRACE, [post for post in row(UPPER, 5, 65) if post[0] != 35] + row(LOWER, 5, 65))
    (finding,) = outcome_of(FencePitch, board_of(sketch, settings(HIGH)), settings(HIGH))
    assert isinstance(finding, Finding)
    assert finding.remarks[-1].message == (
        "what the fence here isolates was not worked out: 2 posts to the left of the trace and 1 to its right"
    )


def test_a_meander_gets_figures_or_a_reason() -> None:
    """Its bends bring posts of one side to the other side of its next leg."""
    path = Path.line([(5, 5), (11, 5), (11, 8.2), (5, 8.2), (5, 11.4), (11, 11.4), (11, 14.6), (5, 14.6)])
    sketch = board(path, [(8.0, 3.8, 0.3), (12.2, 6.6, 0.3), (8.0, 6.6, 0.3), (8.0, 9.8, 0.3)])
    for entry in outcome_of(FencePitch, board_of(sketch, settings(HIGH)), settings(HIGH)):
        assert isinstance(entry, Finding)
        said = [r.message for r in entry.remarks if "isolates" in r.message]
        assert len(said) == 1
        assert SAID.fullmatch(said[0]) or said[0].startswith("what the fence here isolates was not worked out: ")
        assert "nan" not in said[0]


def test_a_long_fence_is_looked_at_near_its_gap_only() -> None:
    """At 1 GHz half a wavelength is 75 mm: of 156 posts 0.75 mm apart the nearest hundred are taken."""
    upper = [post for post in row(6.2, 5, 125, pitch=0.75) if not 63 < post[0] < 67]
    sketch = board([(5.0, 5.0), (125.0, 5.0)], upper + row(3.8, 5, 125), size=(130.0, 10.0))
    ((now, _, vias, then),) = figures(sketch, settings(1.0))
    assert vias >= 1 and now < then
    assert all(math.isfinite(value) for value in (now, then))


def test_no_more_than_a_stated_number_of_posts_is_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    """The fence has 25 posts left: with 110 in all, the widest two of three openings have the remark."""
    assert MOST_SOLVED >= 2 * MOST_POSTS
    monkeypatch.setattr("fencepost_rules.fence_pitch.MOST_SOLVED", 110)
    gone = (13, 15, 33, 35, 37, 55)
    sketch = board(TRACE, [post for post in row(UPPER, 5, 65) if post[0] not in gone] + row(LOWER, 5, 65))
    outcome = outcome_of(FencePitch, board_of(sketch, settings(HIGH)), settings(HIGH))
    findings = [entry for entry in outcome if isinstance(entry, Finding)]
    solved = [f for f in findings if any("isolates" in remark.message for remark in f.remarks)]
    assert sorted(f.measured.value for f in solved if f.measured) == pytest.approx([6, 8])
    assert [entry.reason for entry in outcome if isinstance(entry, Unchecked)] == [
        "isolation was worked out for the 2 widest of 3 openings only"
    ]
