"""pour-resonance: boards that pass and boards that fail.

Unless said otherwise a board of 60 x 40 mm with ground on both of two layers, copper up to the edge less 0.3 mm, 1.5 mm
apart at er 4.5: 59.4 x 39.4 mm of ground over ground.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from fencepost_rules.pour_resonance import PourResonance

import tide_gauge
from boards import board_of, findings_of, outcome_of
from fencepost.checking.finding import Finding, Severity, Unchecked
from fencepost.grounds.cavities import SCREENS, Overlap, coarse_frequency, may_resonate
from fencepost.grounds.overlaps import Pair
from fencepost.physics.cavity import cavity_modes
from sketch import Sketch

C = 299.792458
"""mm GHz: SI Brochure, BIPM."""

ER = 4.5
LONG, WIDE = 59.4, 39.4


def pours(size: tuple[float, float] = (60.0, 40.0)) -> Sketch:
    sketch = Sketch(layers=2, size=size, gaps=[(1.5, ER)])
    sketch.pour("GND", 1)
    sketch.pour("GND", 2)
    return sketch


def along_one_side(drill: float = 0.3) -> Sketch:
    """Ties every 0.9 mm along the short side at the left: all but a wall."""
    sketch = pours()
    sketch.via_row("GND", (0.7, 0.7), (0.7, 39.3), 0.9, drill=drill, pad=0.6)
    return sketch


def settings(ghz: float, margin: float = 1) -> str:
    return f'[board]\nfrequency = "{ghz} GHz"\n[rules.pour-resonance]\nmargin = {margin}\n'


def check(sketch: Sketch, ghz: float, margin: float = 1, **options: object) -> list[Finding]:
    text = settings(ghz, margin)
    return findings_of(PourResonance, board_of(sketch, text, **options), text)


def ghz_of(finding: Finding) -> float:
    assert finding.measured is not None and finding.measured.unit == "Hz"
    return finding.measured.value / 1e9


QUARTER = C / (4 * math.sqrt(ER) * (LONG - 0.4 - 0.2))
"""A quarter of a wave from the wall of ties, 0.7 mm in from the edge of the board, to the far edge of the copper; the
wall's drilled rims (0.4 mm) are 0.2 mm nearer: 0.60 GHz."""


def test_tied_along_one_side_it_is_a_quarter_wave() -> None:
    (finding,) = check(along_one_side(), 0.868)
    assert ghz_of(finding) == pytest.approx(QUARTER, rel=0.02)
    assert finding.severity is Severity.WARNING
    assert finding.layers == ("L1", "L2")
    assert finding.place.x_mm == pytest.approx(59.4, abs=1.0)


@pytest.mark.parametrize(("share", "found"), [(1.03, True), (0.97, False)])
@pytest.mark.parametrize("margin", [1, 2])
def test_just_over_and_just_under(share: float, margin: float, found: bool) -> None:
    """The frequency in use, times the margin, 3 % to both sides of the quarter wave."""
    assert bool(check(along_one_side(), QUARTER * share / margin, margin)) is found


def test_at_the_resonance_itself_it_is_found() -> None:
    """`At or below`. What is looked at depends on the frequency a little, so the figure is taken twice."""
    (finding,) = check(along_one_side(), 0.868)
    (again,) = check(along_one_side(), ghz_of(finding) * (1 + 1e-6))
    assert ghz_of(again) == pytest.approx(ghz_of(finding), rel=1e-6)


def test_an_area_without_ties_is_a_bare_rectangle() -> None:
    """L2 is one piece with a bridge under an opening of L1: of the two overlaps only the left one, well tied, has ties.

    The right one is 33.7 x 39.4 mm but for a notch of 1 x 4.7 mm in a corner: f = c / (2 b sqrt(er)) = 1.79 GHz.
    """
    sketch = Sketch(layers=2, size=(60.0, 40.0), gaps=[(1.5, ER)])
    sketch.pour("GND", 1, holes=[shapely.box(24, 35, 27, 40)])
    sketch.pour("GND", 2, holes=[shapely.box(25, 0, 26, 35.5)])
    for x in (2, 9, 16, 23):
        sketch.via_row("GND", (x, 2), (x, 34), 8.0)
    (finding,) = check(sketch, 2.0)
    assert ghz_of(finding) == pytest.approx(C / (2 * math.sqrt(ER) * WIDE), rel=0.02)
    assert "no via ties it" in finding.remarks[0].message
    assert check(sketch, 1.7) == []


def test_one_tie_in_the_middle_leaves_the_first_mode_of_a_bare_rectangle() -> None:
    """That mode is zero all along the middle line: f = c / (2 a sqrt(er)); the pinned one, near it, is lower."""
    sketch = pours()
    sketch.via("GND", (30, 20))
    (finding,) = check(sketch, 1.5)
    bare = C / (2 * math.sqrt(ER) * LONG)
    assert ghz_of(finding) < bare
    assert "and again at 1.19 GHz" in finding.message
    assert f"{bare:.2f}" == "1.19"


def test_well_tied_it_is_clean() -> None:
    sketch = pours()
    for x in range(5, 60, 10):
        sketch.via_row("GND", (x, 5), (x, 36), 10.0)
    assert check(sketch, 1.5) == []


def unjoined() -> Sketch:
    sketch = pours()
    sketch.hole((30, 20), 1.0)
    return sketch


def test_pieces_that_nothing_joins_are_left_to_others() -> None:
    assert check(unjoined(), 5.0) == []


def test_a_power_plane_is_not_ground() -> None:
    sketch = Sketch(layers=2, size=(60.0, 40.0), gaps=[(1.5, ER)])
    sketch.pour("GND", 1)
    sketch.pour("VCC", 2)
    sketch.via("GND", (5, 5))
    assert check(sketch, 3.0) == []


def test_what_a_tie_does_there_is_what_the_rule_finds_with_it() -> None:
    """The suggestion is computed: the board with that tie has the resonance that was said."""
    sketch = along_one_side()
    (finding,) = check(sketch, 0.868)
    said = next(one.message for one in finding.remarks if one.message.startswith("with a ground via"))
    x, y = round(finding.place.x_mm, 3), round(finding.place.y_mm, 3)
    sketch.via("GND", (min(x, 59.3), min(max(y, 0.7), 39.3)), drill=0.3, pad=0.6)
    (after,) = check(sketch, 1.5)
    assert ghz_of(after) > ghz_of(finding) * 1.1
    value, unit = said.rsplit(" ", 2)[1:]
    assert float(value) * {"GHz": 1.0, "MHz": 1e-3}[unit] == pytest.approx(ghz_of(after), rel=0.04)
    (need,) = finding.mend
    assert need.at == (finding.place.x_mm, finding.place.y_mm)
    assert len(need.ties) == 2


@pytest.mark.parametrize("options", [{"turn": 30.0}, {"move": (-31.7, 12.3)}, {"units": "inch"}])
def test_turned_moved_and_in_inches_it_is_the_same(options: dict[str, object]) -> None:
    """Within 1 %: the grid of the solver lies otherwise."""
    (finding,) = check(along_one_side(), 0.868)
    (other,) = check(along_one_side(), 0.868, **options)
    assert ghz_of(other) == pytest.approx(ghz_of(finding), rel=0.01)


def test_small_holes_count_by_their_area() -> None:
    """266 holes of 1 mm in the copper, 17 % of it, against the same copper solved with every hole.

    The oracle is the cavity solver itself on the whole outline, which the rule does not ask.
    """
    sketch = Sketch(layers=2, size=(42.0, 30.0), gaps=[(1.5, ER)])
    spots = [(3.0 + 2.0 * i, 2.0 + 2.0 * j) for i in range(19) for j in range(14)]
    holes = [shapely.Point(at).buffer(0.5, quad_segs=4) for at in spots]
    for layer in (1, 2):
        sketch.pour("GND", layer, holes=holes)
    sketch.via_row("GND", (1.0, 1.0), (1.0, 29.0), 0.9)
    (finding,) = check(sketch, 1.0)
    box = shapely.box(0.3, 0.3, 41.7, 29.7)
    exact = cavity_modes(
        shapely.difference(box, shapely.union_all(holes)), [(1.0, 1.0 + 0.9 * i) for i in range(32)], 0.4, ER, 1
    )
    assert ghz_of(finding) == pytest.approx(exact.frequencies[0] / 1e9, rel=0.02)


def test_no_frequency_and_no_ground_are_said() -> None:
    for text in ("", '[board]\nfrequency = "1 GHz"\n[nets]\nground = ["NONE"]\n'):
        said = outcome_of(PourResonance, board_of(unjoined(), text), text)
        assert [type(one) for one in said] == [Unchecked]


def test_two_hits_at_one_place_are_one_tie() -> None:
    """Overlapping holes are no error."""
    sketch = along_one_side()
    sketch.via("GND", (30, 20))
    sketch.via("GND", (30.1, 20), drill=0.4, pad=0.7)
    assert len(check(sketch, 0.868)) == 1


def comb() -> shapely.Polygon:
    teeth = [shapely.box(2 * i, 1, 2 * i + 1.2, 20) for i in range(12)]
    return shapely.union_all([shapely.box(0, 0, 23.2, 1), *teeth])


def dumbbell(neck: float) -> shapely.Polygon:
    return shapely.union_all([shapely.box(0, 0, 10, 10), shapely.box(15, 0, 40, 25), shapely.box(9, 5, 16, 5 + neck)])


def spiral() -> shapely.Polygon:
    corners = [(0, 0), (20, 0), (20, 20), (3, 20), (3, 3), (17, 3), (17, 17), (6, 17), (6, 6), (14, 6)]
    return shapely.LineString(corners).buffer(1.0, cap_style="flat", join_style="mitre")


SHAPES = {
    "square": shapely.box(0, 0, 30, 30),
    "strip": shapely.box(0, 0, 60, 1),
    "comb": comb(),
    "neck of 0.1 mm": dumbbell(0.1),
    "neck of 2 mm": dumbbell(2),
    "spiral": spiral(),
}


@pytest.mark.parametrize("turn", [0.0, 30.0])
@pytest.mark.parametrize("name", SHAPES)
def test_coarse_grids_never_hide_a_resonance(name: str, turn: float) -> None:
    """Of copper that is tied at one spot: the coarse figure is never above the fine one by more than is allowed for."""
    shape = shapely.affinity.rotate(SHAPES[name], turn, origin=(0, 0))
    spot = np.array(shapely.affinity.rotate(shapely.Point(0.4, 0.3), turn, origin=(0, 0)).coords)
    pair = Pair(0, 1, (), (0, 0, 1, 1))
    shapely.prepare(shape)
    overlap = Overlap(pair, shape, 0.0, ER, np.array([0], dtype=np.int32), spot, np.array([0.3]))
    fine = float(cavity_modes(shape, spot, 0.3, ER, 1).frequencies[0])
    for cells, margin in SCREENS:
        assert coarse_frequency(overlap, cells) < margin * fine
    assert may_resonate(overlap, fine)
    assert not may_resonate(overlap, fine / 3)


class TestDemo:
    SETTINGS = (Path(tide_gauge.__file__).parent / "tide-gauge" / "fencepost.toml").read_text(encoding="utf-8")

    def test_the_loose_strip_is_a_quarter_wave(self) -> None:
        """56.7 mm from the slot's left end to its right one at er 4.2: c / (4 L sqrt(er)) = 0.645 GHz, and a little
        lower, since the strip goes on past the end of the slot."""
        board = board_of(tide_gauge.tide_gauge(["loose-strip"]), self.SETTINGS)
        (finding,) = findings_of(PourResonance, board, self.SETTINGS)
        assert ghz_of(finding) == pytest.approx(C / (4 * math.sqrt(4.2) * 56.7), rel=0.03)
        assert finding.place.y_mm < 2.3 and finding.place.x_mm > 55

    def test_the_clean_board_is_clean(self) -> None:
        board = board_of(tide_gauge.tide_gauge(), self.SETTINGS)
        assert findings_of(PourResonance, board, self.SETTINGS) == []
