"""fence-pitch: boards that pass and boards that fail.

The boards have one trace of 0.3 mm on L1, from (5, 10) to (25, 10), with ground on L2 and beside it on L1, and a row
of ground vias 1.2 mm above and below it, 2 mm apart. The class's frequency is chosen so that an eighth of the
wavelength at er 4 is 2 mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from fencepost_rules.fence_pitch import FencePitch

from boards import board_from, board_of, findings_of, outcome_of
from fencepost.checking.finding import Finding, Severity, Unchecked
from sketch import Path, Sketch
from sketch.items import Pour, Via

Point = tuple[float, float]

FREQUENCY = 299_792_458 / (8 * 0.002 * math.sqrt(4.0)) / 1e9
RADIO = f"""
[[class]]
name = "radio"
nets = ["RF*"]
frequency = "{FREQUENCY:.9f} GHz"
fence = true
"""
UPPER, LOWER = 11.2, 8.8


def bare(layers: int = 2, beside: bool = True) -> Sketch:
    """Ground on L2, and on L1 where asked for; er 4 everywhere; one hole."""
    sketch = Sketch(layers=layers, size=(30.0, 20.0), gaps=[(0.3, 4.0)] * (layers - 1))
    sketch.pour("GND", 2)
    if beside:
        sketch.pour("GND", 1)
    sketch.hole((28.5, 18.5), 1.0)
    return sketch


def line(sketch: Sketch, net: str = "RF", path: Path | list[Point] | None = None, layer: int = 1) -> Sketch:
    """With a trace on it, and a pad at each of its ends."""
    path = path or [(5.0, 10.0), (25.0, 10.0)]
    path = path if isinstance(path, Path) else Path.line(path)
    sketch.trace(net, layer, path, 0.3)
    for number, at in enumerate((path.start, path.end), 1):
        if layer == 1:
            sketch.pad(f"{net}{number}", "1", net, 1, at, (0.6, 0.6))
    return sketch


def fence(sketch: Sketch, y: float, start: float = 5.0, end: float = 25.0, pitch: float = 2.0, **options) -> list[Via]:
    return sketch.via_row("GND", (start, y), (end, y), pitch, **{"drill": 0.3, "pad": 0.6, **options})


def fenced(**options) -> Sketch:
    """The board with both rows."""
    sketch = line(bare())
    fence(sketch, UPPER, **options)
    fence(sketch, LOWER, **options)
    return sketch


def post(sketch: Sketch, x: float, y: float = UPPER) -> Via:
    """A post, found by its place."""
    (via,) = (via for via in sketch.find(Via, net="GND") if math.dist(via.at, (x, y)) < 1e-6)
    return via


def check(sketch: Sketch, settings: str = RADIO, **options) -> list[Finding]:
    return findings_of(FencePitch, board_of(sketch, settings, **options), settings)


def brief(findings: list[Finding]) -> list[tuple[float, float, float]]:
    """Measured, x and y of each, to 1 µm."""
    return [
        (round(f.measured.value, 3), round(f.place.x_mm, 3), round(f.place.y_mm, 3)) for f in findings if f.measured
    ]


# One change to the fenced board, and the gaps that it makes: width and where its middle is on the trace.

CASES: dict[str, tuple[Callable[[Sketch], object], list[tuple[float, float]]]] = {
    "nothing is changed": (lambda s: None, []),
    "a post is missing": (lambda s: s.remove(post(s, 13)), [(4, 13)]),
    "a post is moved by 0.05 mm": (lambda s: move(s, 13, 0.05), [(2.05, 12.025)]),
    "two neighbours are missing": (lambda s: s.remove(post(s, 13), post(s, 15)), [(6, 14)]),
    "every second of four is missing": (lambda s: s.remove(post(s, 11), post(s, 15)), [(4, 11)]),
    "two are missing far apart": (lambda s: s.remove(post(s, 9), post(s, 17)), [(4, 9), (4, 17)]),
    "one is missing on each side": (lambda s: s.remove(post(s, 9), post(s, 9, LOWER)), [(4, 9), (4, 9)]),
    "the first two are missing": (lambda s: s.remove(post(s, 5), post(s, 7)), [(4, 7)]),
    "the last two are missing": (lambda s: s.remove(post(s, 23), post(s, 25)), [(4, 23)]),
    "the first is missing": (lambda s: s.remove(post(s, 5)), []),
    "one side has none": (lambda s: s.remove(*row_at(s, LOWER)), [(20, 15)]),
    "neither side has any": (lambda s: s.remove(*row_at(s, LOWER), *row_at(s, UPPER)), [(20, 15), (20, 15)]),
    "only one post is left on a side": (lambda s: s.remove(*set(row_at(s, LOWER)) - {post(s, 11, LOWER)}), [(14, 18)]),
    "a post is not plated": (lambda s: change(s, plated=False), [(4, 13)]),
    "the plane keeps off a post": (lambda s: cut_off(s, 2), [(4, 13)]),
    "the plane keeps off a post by a clear": (lambda s: cut_off(s, 2, cut="clear"), [(4, 13)]),
    "the ground beside the trace keeps off a post": (lambda s: cut_off(s, 1), [(4, 13)]),
    "two posts stand behind a missing one": (lambda s: behind(s, [(12, 12), (14, 12)]), []),
    "two posts too far apart stand behind it": (lambda s: behind(s, [(11.9, 12), (14.1, 12)]), [(2.2, 13)]),
    "a post stands farther out": (lambda s: move(s, 13, 0.0, 0.2), [(2.01, 12)]),
    "the missing post is beyond reach": (lambda s: move(s, 13, 0.0, 2.0), [(4, 13)]),
}  # fmt: skip


def row_at(sketch: Sketch, y: float) -> list[Via]:
    return [via for via in sketch.find(Via, net="GND") if via.at[1] == y]


def move(sketch: Sketch, x: float, dx: float, dy: float = 0.0) -> None:
    old = post(sketch, x)
    sketch.remove(old)
    sketch.via("GND", (x + dx, UPPER + dy), drill=0.3, pad=0.6)


def cut_off(sketch: Sketch, layer: int, cut: str = "region") -> None:
    """The pour of a layer keeps off the post at x = 13."""
    sketch.replace(post(sketch, 13), isolate=(layer,))
    (pour,) = sketch.find(Pour, layer=layer)
    sketch.replace(pour, cut=cut)


def behind(sketch: Sketch, places: list[Point]) -> None:
    """Vias instead of the post at x = 13."""
    sketch.remove(post(sketch, 13))
    sketch.vias("GND", places)


def change(sketch: Sketch, **changes) -> None:
    """Change how the post at x = 13 is drilled."""
    old = post(sketch, 13)
    sketch.replace(old, drill=replace(old.drill, **changes))


@pytest.mark.parametrize(("change_board", "expected"), CASES.values(), ids=CASES)
def test_gaps_in_a_fence(change_board: Callable[[Sketch], object], expected: list[tuple[float, float]]) -> None:
    sketch = fenced()
    change_board(sketch)
    found = check(sketch)
    assert sorted((width, x) for width, x, _ in brief(found)) == sorted(expected)
    assert all(y == 10 for _, _, y in brief(found))


@pytest.mark.parametrize(("pitch", "faulty"), [(1.999, False), (2.0, False), (2.003, True), (2.5, True)])
def test_the_limit_is_an_eighth_of_the_wavelength(pitch: float, faulty: bool) -> None:
    sketch = line(bare())
    for y in (UPPER, LOWER):
        fence(sketch, y, end=25.1, pitch=pitch)
    assert bool(check(sketch)) is faulty


@pytest.mark.parametrize(
    ("said", "faulty"),
    [
        ("frequency", False),
        ('frequency = "9.5 GHz"', True),
        ('frequency = "9.2 GHz"', False),
        ('rise_time = "38 ps"', False),  # 0.35 / 38 ps = 9.21 GHz
        ('rise_time = "36 ps"', True),  # 9.72 GHz
    ],
)
def test_the_frequency_is_that_of_the_class(said: str, faulty: bool) -> None:
    settings = RADIO if said == "frequency" else f'[[class]]\nname = "a"\nnets = ["RF"]\nfence = true\n{said}\n'
    assert bool(check(fenced(), settings)) is faulty


@pytest.mark.parametrize(
    ("options", "faulty"),
    [
        ('distance = "1.9 mm"', True),
        ('distance = "80 mil"', False),
        ("fraction = 9", True),
        ("fraction = 7", False),
        ('reach = "1.04 mm"', True),  # posts are 1.05 mm from the edge
        ('reach = "1.06 mm"', False),
    ],
)
def test_options(options: str, faulty: bool) -> None:
    assert bool(check(fenced(), f"{RADIO}\n[rules.fence-pitch]\n{options}\n")) is faulty


def test_without_a_frequency_that_asks_for_less_the_plain_distance_holds() -> None:
    """868 MHz asks for 21.6 mm at er 4; the plain distance is 5 mm."""
    settings = RADIO.replace(f"{FREQUENCY:.9f} GHz", "868 MHz")
    for pitch, expected in ((5.0, []), (6.0, [6.0, 6.0])):
        sketch = line(bare())
        for y in (UPPER, LOWER):
            fence(sketch, y, pitch=pitch, end=23.0 if pitch == 6.0 else 25.0)
        found = check(sketch, settings)
        assert [f.measured.value for f in found if f.measured] == pytest.approx(expected)
        assert all("5.00 mm (the distance in the settings)" in f.message for f in found)


class TestWhatIsSaid:
    def test_of_a_gap(self) -> None:
        sketch = fenced()
        sketch.remove(post(sketch, 13))
        board = board_of(sketch, RADIO)
        (finding,) = findings_of(FencePitch, board, RADIO)
        assert finding.message == (
            "RF on L1 has a gap of 4.00 mm in the fence on its upper side, more than 2.00 mm "
            "(1/8 of a wavelength at 9.37 GHz)"
        )
        assert (finding.rule, finding.severity) == ("fence-pitch", Severity.WARNING)
        assert (finding.layers, finding.nets) == (("L1",), ("RF",))
        assert finding.measured is not None and finding.limit is not None
        assert (finding.measured.value, finding.limit.value) == pytest.approx((4.0, 2.0), abs=1e-6)

    def test_it_stands_at_the_stroke_and_its_remarks_at_the_hits(self) -> None:
        sketch = fenced()
        sketch.remove(post(sketch, 13))
        files = sketch.gerber()
        (finding,) = check(sketch)
        places = [finding.place.location, *(remark.place.location for remark in finding.remarks[:2])]
        lines = [files[place.file.split("/")[-1]].decode().splitlines()[place.line - 1] for place in places]
        assert lines == ["X25000000Y10000000D01*", "X11.0Y11.2", "X15.0Y11.2"]
        assert {(r.place.x_mm, r.place.y_mm) for r in finding.remarks[:2]} == {(11.0, 11.2), (15.0, 11.2)}

    def test_of_several_gaps_in_a_row(self) -> None:
        sketch = fenced()
        sketch.remove(post(sketch, 11), post(sketch, 15), post(sketch, 17))
        (finding,) = check(sketch)
        assert "has 2 gaps in a row in the fence on its upper side, the widest 6.00 mm" in finding.message
        assert finding.place.x_mm == pytest.approx(16)

    def test_of_a_side_without_a_fence(self) -> None:
        sketch = fenced()
        sketch.remove(*row_at(sketch, LOWER))
        (finding,) = check(sketch)
        assert "has no fence on its lower side over 20.00 mm" in finding.message
        assert [remark.message for remark in finding.remarks[:2]] == ["the trace ends here"] * 2

    def test_of_an_end_without_a_fence(self) -> None:
        sketch = fenced()
        sketch.remove(post(sketch, 5), post(sketch, 7))
        (finding,) = check(sketch)
        assert "has 4.00 mm without a fence on its upper side" in finding.message
        assert "the trace ends here" in [remark.message for remark in finding.remarks]

    @pytest.mark.parametrize(
        ("change_board", "reason"),
        [
            (lambda s: change(s, plated=False), "is not plated"),
            (lambda s: cut_off(s, 2), "does not touch the ground on L2 that the trace runs over"),
            (lambda s: cut_off(s, 1), "does not touch the ground beside the trace on L1"),
        ],
    )
    def test_of_a_hole_that_is_no_post(self, change_board: Callable[[Sketch], object], reason: str) -> None:
        """It is labelled GND in the file, and stands in the row."""
        sketch = fenced()
        change_board(sketch)
        (finding,) = check(sketch)
        *_, remark, _ = finding.remarks
        assert remark.message == f"no post: this hole {reason}"
        assert (remark.place.x_mm, remark.place.y_mm) == (13.0, 11.2)

    def test_holes_elsewhere_are_not_spoken_of(self) -> None:
        sketch = fenced()
        sketch.remove(post(sketch, 13))
        sketch.hole((20, 12.4), 0.8)
        (finding,) = check(sketch)
        assert [remark.message for remark in finding.remarks[:-1]] == ["a post at one end of the gap"] * 2

    @pytest.mark.parametrize(
        ("turn", "side"), [(0, "lower"), (45, "lower right"), (90, "right"), (180, "upper"), (225, "upper left")]
    )
    def test_of_the_side_in_question(self, turn: float, side: str) -> None:
        sketch = fenced()
        sketch.remove(*row_at(sketch, LOWER))
        (finding,) = check(sketch, turn=float(turn))
        assert f"on its {side} side" in finding.message


class TestLayers:
    """A board of four layers; er 4 everywhere."""

    def stripline(self, span: tuple[int, int] | None = None, **options) -> Sketch:
        """The trace on L2 between ground on L1 and L3."""
        sketch = bare(layers=4, beside=False)
        sketch.remove(*sketch.find(Pour))
        sketch.pour("GND", 1)
        sketch.pour("GND", 3)
        line(sketch, layer=2)
        for y in (UPPER, LOWER):
            fence(sketch, y, span=span, **options)
        return sketch

    @pytest.mark.parametrize(("span", "findings"), [(None, 0), ((1, 3), 0), ((1, 2), 2), ((2, 4), 2), ((3, 4), 2)])
    def test_between_two_planes_a_post_ties_both(self, span: tuple[int, int] | None, findings: int) -> None:
        """Blind vias that stop short of one of them are no posts."""
        assert len(check(self.stripline(span))) == findings

    @pytest.mark.parametrize("cut_off", [1, 3])
    def test_a_post_that_one_of_the_planes_keeps_off_is_none(self, cut_off: int) -> None:
        assert [w for w, _, _ in brief(check(self.stripline(isolate=(cut_off,))))] == [20, 20]

    @pytest.mark.parametrize(("span", "findings"), [((1, 2), 0), ((1, 3), 0), ((2, 4), 2)])
    def test_over_one_plane_a_blind_via_is_enough_where_it_passes_the_trace(self, span, findings: int) -> None:
        sketch = line(bare(layers=4))
        sketch.pour("GND", 3)
        for y in (UPPER, LOWER):
            fence(sketch, y, span=span)
        assert len(check(sketch)) == findings

    def test_a_power_plane_is_looked_through_to_the_ground_below_it(self) -> None:
        sketch = bare(layers=4)
        sketch.remove(*sketch.find(Pour, layer=2))
        sketch.pour("VCC", 2)
        sketch.pour("GND", 3)
        line(sketch)
        for y in (UPPER, LOWER):
            fence(sketch, y)
        assert check(sketch) == []
        sketch.remove(post(sketch, 13))
        sketch.via("GND", (13, UPPER), drill=0.3, pad=0.6, span=(1, 2))
        assert [w for w, _, _ in brief(check(sketch))] == [4]

    def test_the_shortest_wavelength_counts_where_dielectrics_differ(self) -> None:
        """Between er 4 and er 4.5 the wave in the latter is 1.886 mm / eighth: 2 mm is too much."""
        sketch = self.stripline()
        assert check(sketch) == []
        sketch.gaps = ((0.3, 4.0), (0.3, 4.5), (0.3, 4.0))
        found = check(sketch)
        assert [f.limit.value for f in found if f.limit] == pytest.approx([2 * math.sqrt(4 / 4.5)] * 2)

    def test_without_ground_beside_the_trace_posts_need_none(self) -> None:
        """They have a pad on L1, and the plane on L2."""
        sketch = line(bare(beside=False))
        for y in (UPPER, LOWER):
            fence(sketch, y)
        assert check(sketch) == []

    def test_but_they_must_pass_its_layer(self) -> None:
        """Buried vias from L2 to L4 tie the plane under the trace to others, and do not reach up to it."""
        sketch = line(bare(layers=4, beside=False))
        sketch.pour("GND", 3)
        for y in (UPPER, LOWER):
            fence(sketch, y, span=(2, 4))
        found = check(sketch)
        assert [w for w, _, _ in brief(found)] == [20, 20]
        assert "no post: this hole does not pass L1" in [remark.message for remark in found[0].remarks]

    @pytest.mark.parametrize(("patch", "slot", "findings"), [(0.8, 0.0, 0), (20.0, 0.8, 1), (20.0, 6.0, 0)])
    def test_what_covers_little_of_the_trace_near_a_post_need_not_be_tied(self, patch, slot, findings: int) -> None:
        """The trace is on L2 over a whole plane on L3. Above, around x = 13, lies some ground on L1 with a slot in it;
        the post at x = 13 goes from L2 to L3 only, all others go through."""
        sketch = bare(layers=4, beside=False)
        sketch.remove(*sketch.find(Pour))
        sketch.pour("GND", 3)
        sketch.pour("GND", 1, (13 - patch / 2, 5, 13 + patch / 2, 15), holes=[(13 - slot / 2, 9.5, 13 + slot / 2, 15)])
        line(sketch, layer=2)
        for y in (UPPER, LOWER):
            fence(sketch, y)
        old = post(sketch, 13)
        sketch.remove(old)
        sketch.via("GND", old.at, span=(2, 3))
        assert len(check(sketch)) == findings

    def test_a_plane_that_carries_less_than_a_fifth_of_the_return_need_not_be_tied(self) -> None:
        """L3 lies 0.2 mm over L4 and 1.4 mm under L2: 12.5 % of the current is on L2. At 0.6 mm it is 25 %."""
        for above, findings in ((1.4, 0), (0.6, 2)):
            sketch = Sketch(layers=4, size=(30.0, 20.0), gaps=[(0.1, 4.0), (above, 4.0), (0.2, 4.0)], copper=0.018)
            sketch.pour("GND", 2)
            sketch.pour("GND", 4)
            line(sketch, layer=3)
            for y in (UPPER, LOWER):
                fence(sketch, y, span=(3, 4))
            assert len(check(sketch)) == findings, above

    def test_each_layer_of_a_net_has_its_fence(self) -> None:
        """The trace goes on on L4 over L3, without a fence there."""
        sketch = bare(layers=4)
        sketch.pour("GND", 3)
        sketch.trace("RF", 1, [(5, 10), (15, 10)], 0.3)
        sketch.via("RF", (15, 10), drill=0.2, pad=0.45)
        sketch.trace("RF", 4, [(15, 10), (25, 10)], 0.3)
        for y in (UPPER, LOWER):
            fence(sketch, y, end=15.0)
        found = check(sketch)
        assert [f.layers for f in found] == [("L4",), ("L4",)]
        assert [w for w, _, _ in brief(found)] == [10, 10]


class TestShapes:
    def around(self, path: Path, away: float, pitch: float, left: bool) -> list[Point]:
        """Points every `pitch` or less along a line at a distance from the path."""
        import shapely

        curve = shapely.LineString(path.coords()).offset_curve(away if left else -away, quad_segs=32)
        count = math.ceil(curve.length / pitch)
        spots = (curve.interpolate(i / count, normalized=True) for i in range(count + 1))
        return [(round(p.x, 4), round(p.y, 4)) for p in spots]

    PATHS = (
        Path.line([(5, 5), (15, 5), (15, 14)]),
        Path.line([(5, 5), (12, 5), (16, 9), (25, 9)]),
        Path.line([(5, 15), (10, 6), (16, 15), (22, 6)]),
        Path.arc((6, 10), (22, 10), (14, 10)),
        Path.arc((6, 10), (14, 18), (14, 10), clockwise=True),
    )

    @pytest.mark.parametrize("path", PATHS, ids=["bend", "two bends", "zigzag", "half circle", "quarter circle"])
    def test_a_fence_that_follows_the_trace_is_clean(self, path: Path) -> None:
        sketch = line(bare(), path=path)
        for left in (True, False):
            sketch.vias("GND", self.around(path, 1.2, 1.9, left), drill=0.3, pad=0.6)
        assert check(sketch) == []

    @pytest.mark.parametrize("path", PATHS, ids=["bend", "two bends", "zigzag", "half circle", "quarter circle"])
    def test_and_one_without_a_post_is_not(self, path: Path) -> None:
        """The gap is measured straight from post to post."""
        sketch = line(bare(), path=path)
        for left in (True, False):
            posts = self.around(path, 1.2, 1.9, left)
            if left:
                del posts[4]
                expected = math.dist(posts[3], posts[4])
            sketch.vias("GND", posts, drill=0.3, pad=0.6)
        assert [w for w, _, _ in brief(check(sketch))] == [pytest.approx(expected, abs=0.001)]

    def test_two_staggered_rows_of_twice_the_pitch_are_a_fence(self) -> None:
        sketch = line(bare())
        for y, out in ((UPPER, 0.5), (LOWER, -0.5)):
            fence(sketch, y, pitch=3.6, start=6.0)
            fence(sketch, y + out, pitch=3.6, start=7.8, end=24.2)
        assert check(sketch) == []

    def test_one_row_serves_two_traces(self) -> None:
        """Two traces of the class 2.4 mm apart, with one row between them."""
        sketch = line(bare())
        line(sketch, "RF_B", [(5, 12.4), (25, 12.4)])
        for y in (LOWER, UPPER, 13.6):
            fence(sketch, y)
        assert check(sketch) == []
        sketch.remove(post(sketch, 13))
        assert [f.nets for f in check(sketch)] == [("RF",), ("RF_B",)]

    def test_a_pair_is_fenced_as_one(self) -> None:
        """Two traces of the class, 0.5 mm from edge to edge; the fence goes around both."""
        sketch = line(bare(), "RF_P", [(5, 10.4), (25, 10.4)])
        line(sketch, "RF_N", [(5, 9.6), (25, 9.6)])
        for y in (10.4 + 1.2, 9.6 - 1.2):
            fence(sketch, y)
        assert check(sketch) == []
        sketch.remove(post(sketch, 13, 9.6 - 1.2))
        assert [(f.nets, f.place.y_mm) for f in check(sketch)] == [(("RF_N",), 9.6)]

    def test_two_traces_of_different_classes_are_no_pair(self) -> None:
        sketch = line(bare(), "RF_P", [(5, 10.4), (25, 10.4)])
        line(sketch, "LO_N", [(5, 9.6), (25, 9.6)])
        for y in (10.4 + 1.2, 9.6 - 1.2):
            fence(sketch, y)
        assert [f.nets for f in check(sketch)] == [("RF_P",)]

    def test_posts_behind_another_trace_do_not_fence(self) -> None:
        sketch = fenced()
        sketch.trace("LED", 1, [(7, 10.6), (23, 10.6)], 0.15)
        (finding,) = check(sketch)
        assert "no post: this hole is behind another trace" in [remark.message for remark in finding.remarks]

    @pytest.mark.parametrize(("length", "findings"), [(1.9, 0), (4.0, 2)])
    def test_a_stub_to_a_shunt_part_needs_no_fence_when_it_is_short(self, length: float, findings: int) -> None:
        """At x = 14, between two posts of the upper row, to a pad; a longer one has two sides without posts."""
        sketch = fenced()
        line(sketch, path=[(14, 10), (14, 10 + length)])
        assert len(check(sketch)) == findings

    @pytest.mark.parametrize(("length", "findings"), [(1.95, 0), (2.1, 2)])
    def test_nor_does_a_trace_no_longer_than_the_limit(self, length: float, findings: int) -> None:
        assert len(check(line(bare(), path=[(10, 10), (10 + length, 10)]))) == findings

    def test_a_trace_through_a_test_point_is_one_trace(self) -> None:
        """The post beside it is missing; the gap is not cut in two by the pad."""
        sketch = fenced()
        sketch.pad("TP1", "1", "RF", 1, (13, 10), 0.8, "round")
        assert check(sketch) == []
        sketch.remove(post(sketch, 13))
        assert [w for w, _, _ in brief(check(sketch))] == [4]

    def test_ground_pins_of_a_socket_are_posts(self) -> None:
        sketch = fenced()
        sketch.remove(post(sketch, 25), post(sketch, 23), post(sketch, 25, LOWER), post(sketch, 23, LOWER))
        assert len(check(sketch)) == 2
        for pin, at in enumerate([(23.2, 12.0), (23.2, 8.0)], 2):
            sketch.through_pad("J1", str(pin), "GND", at, drill=1.0, pad=1.6)
        assert [w for w, _, _ in brief(check(sketch, RADIO.replace(f"{FREQUENCY:.9f}", "7.8")))] == []


class TestWhatIsNotLookedAt:
    def test_without_a_class_nothing(self) -> None:
        assert outcome_of(FencePitch, board_of(line(bare()))) == []

    def test_a_class_without_a_fence_nothing(self) -> None:
        settings = RADIO.replace("fence = true", "fence = false")
        assert outcome_of(FencePitch, board_of(line(bare()), settings), settings) == []

    def test_other_nets_nothing(self) -> None:
        sketch = fenced()
        line(sketch, "LED", [(5, 15), (25, 15)])
        assert check(sketch) == []

    def test_a_class_without_a_frequency_takes_that_of_the_board(self) -> None:
        """Settings are refused without one; a rule that is called with such settings still does the right thing."""
        settings = '[[class]]\nname = "radio"\nnets = ["RF"]\nfence = true\n'
        (entry,) = outcome_of(FencePitch, board_of(fenced(pitch=2.5)), settings)
        assert entry == Unchecked(
            "fence-pitch", 'class "radio" has no frequency and no rise time, and the board has no frequency'
        )
        board = f'[board]\nfrequency = "{FREQUENCY:.9f} GHz"\n' + settings
        assert len(check(fenced(pitch=2.5), board)) == 2
        assert check(fenced(), board) == []

    def test_without_any_ground_net_it_says_so(self) -> None:
        settings = RADIO + '\n[nets]\nground = ["MASS"]\n'
        (entry,) = outcome_of(FencePitch, board_of(fenced(), settings), settings)
        assert isinstance(entry, Unchecked) and "no ground net is known" in entry.reason

    def test_a_trace_drawn_as_an_area_is_said_not_to_be_checked(self) -> None:
        sketch = bare()
        sketch.copper("RF", 1, (5, 9.85, 25, 10.15))
        (entry,) = outcome_of(FencePitch, board_of(sketch, RADIO), RADIO)
        assert isinstance(entry, Unchecked)
        assert "board-L1.gbr:" in entry.reason and "RF is drawn as an area" in entry.reason

    @pytest.mark.parametrize(
        ("old", "new"),
        [
            (b"C,0.3*", b"C,0.3*"),
            (b"C,0.3*", b"R,0.3X0.3*"),
            (b"M02*", b"%ADD99C,0.1*%\n%LPC*%\nD99*\nX16000000Y10150000D03*\n%LPD*%\nM02*"),
        ],
        ids=["round", "a square aperture", "a nick by a clear"],
    )
    def test_one_that_is_not_drawn_with_a_round_aperture_is_measured_all_the_same(self, old: bytes, new: bytes) -> None:
        files = fenced().gerber()
        files["board-L1.gbr"] = files["board-L1.gbr"].replace(old, new)
        assert outcome_of(FencePitch, board_from(files, RADIO), RADIO) == []


def several(sketch: Sketch) -> None:
    """Faults of all kinds on one board."""
    sketch.remove(post(sketch, 9), post(sketch, 17, LOWER), post(sketch, 19, LOWER))
    sketch.replace(post(sketch, 19), isolate=(2,))
    line(sketch, "RF_B", Path.arc((8, 14), (20, 14), (14, 14), clockwise=True))
    sketch.trace("RF_B", 1, [(14, 20 - 1.5), (14, 14.5)], 0.3)


WAYS = [
    {"turn": 30.0},
    {"turn": 90.0, "move": (50.0, -20.0)},
    {"move": (-100.123456, 77.7)},
    {"units": "inch"},
    {"units": "inch", "turn": 30.0, "move": (120.0, 40.0)},
    {"mirror": True},
    {"mirror": True, "turn": 200.0},
    {"drill": "gerber"},
    {"attributes": "comments"},
]


@pytest.mark.parametrize("way", WAYS, ids=str)
def test_the_findings_move_with_the_board(way: dict[str, object]) -> None:
    """Turned, moved, mirrored, in inches or in another format: the same findings, to 1 µm, where they were before."""
    from sketch.path import Pose

    sketch = fenced()
    several(sketch)
    still, moved = check(sketch), check(sketch, **way)
    assert len(still) > 5
    pose = Pose(float(way.get("turn", 0.0)), way.get("move", (0.0, 0.0)), bool(way.get("mirror", False)))

    def facts(findings: list[Finding], to: Pose) -> list[tuple[object, ...]]:
        found = []
        for f in findings:
            x, y = to.point((f.place.x_mm, f.place.y_mm))
            assert f.measured and f.limit
            found.append((f.nets, f.layers, f.measured.value, f.limit.value, x, y, f.place.location.file))
        return sorted(found, key=lambda fact: (fact[0], [round(value, 1) for value in fact[2:6]]))

    for one, other in zip(facts(still, pose), facts(moved, Pose()), strict=True):
        assert one[:2] == other[:2]
        assert one[2:6] == pytest.approx(other[2:6], abs=0.001)
        assert one[6] == other[6]
