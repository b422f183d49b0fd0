"""Sides of traces, the posts along them, and the gaps between these."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from boards import board_of
from fencepost.board.model import Board
from fencepost.signals.fences import END, Fence, fence_along, openings_in
from fencepost.signals.posts import Posts
from fencepost.signals.runs import Run, runs_of
from fencepost.signals.sides import Side, sides_of
from sketch import Path, Sketch

LIMIT = 2.0


def run_of(*points: tuple[float, float], spots: tuple[int, int] = (0, 1)) -> Run:
    legs = len(points) - 1
    return Run(0, 1, np.array(points, dtype=float), np.full(legs, 0.3), np.zeros(legs, dtype=np.int32), spots)


def corners(side: Side) -> list[tuple[float, float]]:
    return [(round(x, 4), round(y, 4)) for x, y in side.path.xy.tolist()]


class TestSides:
    def test_a_run_has_two(self) -> None:
        first, second = sides_of((run_of((0, 0), (5, 0), (5, 5)),), LIMIT)
        assert corners(first) == [(0, 0), (5, 0), (5, 5)]
        assert corners(second) == [(5, 5), (5, 0), (0, 0)]
        assert not first.closed and not second.closed

    def test_at_a_junction_of_three_each_side_goes_around_its_corner(self) -> None:
        """Arms to the west, east and north. With the side to the left, one comes in from the west and leaves to the
        north, comes in from the north and leaves to the east, comes in from the east and leaves to the west."""
        west, east, north = run_of((-5, 0), (0, 0)), run_of((0, 0), (5, 0), spots=(1, 2)), run_of((0, 5), (0, 0))
        north = Run(0, 1, north.xy, north.width, north.feature, (3, 1))
        found = [corners(side) for side in sides_of((west, east, north), LIMIT)]
        assert sorted(found) == [
            [(-5, 0), (0, 0), (0, 5)],
            [(0, 5), (0, 0), (5, 0)],
            [(5, 0), (0, 0), (-5, 0)],
        ]

    @pytest.mark.parametrize("turn", [0.0, 30.0, 100.0, 190.0, 275.0])
    def test_at_a_junction_of_four_too_however_it_is_turned(self, turn: float) -> None:
        """Every side leaves by the arm that is next clockwise from the one it came by, 90 degrees on."""
        angles = np.radians(turn + np.array([0.0, 90.0, 180.0, 270.0]))
        ends = [(4 * math.cos(a), 4 * math.sin(a)) for a in angles[[2, 0, 3, 1]]]
        arms = tuple(run_of(end, (0, 0), spots=(i, 9)) for i, end in enumerate(ends))
        sides = sides_of(arms, LIMIT)
        assert len(sides) == 4
        for side in sides:
            begin, _, end = side.path.xy
            came, left = (math.degrees(math.atan2(y, x)) for x, y in (begin, end))
            assert (came - left) % 360 == pytest.approx(90)

    def test_a_short_dead_end_is_left_out(self) -> None:
        line = run_of((-5, 0), (0, 0)), run_of((0, 0), (5, 0), spots=(1, 2))
        for length, expected in ((1.9, 2), (2.1, 3)):
            stub = run_of((0, 0), (0, length), spots=(1, 3))
            assert len(sides_of((*line, stub), LIMIT)) == expected

    def test_of_three_short_arms_the_two_longer_ones_are_one_path(self) -> None:
        arms = [run_of((0, 0), end, spots=(0, i)) for i, end in enumerate([(-1.8, 0), (1.9, 0), (0, 1.7)], 1)]
        assert sorted(corners(side) for side in sides_of(tuple(arms), LIMIT)) == [
            [(-1.8, 0), (0, 0), (1.9, 0)],
            [(1.9, 0), (0, 0), (-1.8, 0)],
        ]

    def test_a_ring_has_an_inside_and_an_outside(self) -> None:
        ring = run_of((0, 0), (5, 0), (5, 5), (0, 5), (0, 0), spots=(0, 0))
        first, second = sides_of((ring,), LIMIT)
        assert first.closed and second.closed
        assert shapely.LinearRing(first.path.xy).is_ccw != shapely.LinearRing(second.path.xy).is_ccw

    def test_a_ring_on_a_stick_has_an_inside_and_a_way_around(self) -> None:
        ring = run_of((0, 0), (5, -2), (5, 2), (0, 0), spots=(0, 0))
        stick = run_of((-5, 0), (0, 0), spots=(1, 0))
        sides = sides_of((ring, stick), LIMIT)
        assert sorted(side.closed for side in sides) == [False, True]
        around = next(side for side in sides if not side.closed)
        assert around.path.length == pytest.approx(2 * stick.length + ring.length)


def posts_at(points: list[tuple[float, float]]) -> Posts:
    """Posts along the x axis, in order."""
    centre = np.array(sorted(points), dtype=float).reshape(-1, 2)
    return Posts(np.arange(len(points), dtype=np.int32), centre[:, 0], centre[:, 1], centre)


def widths(points: list[tuple[float, float]], length: float = 20.0, limit: float = LIMIT) -> list[list[float]]:
    """The widths of the gaps of each opening, to 1 µm."""
    openings = openings_in(posts_at(points), 0.0, length, limit)
    return [[round(gap.width, 3) for gap in opening.gaps] for opening in openings]


def row(first: float, last: float, pitch: float, away: float = 1.0) -> list[tuple[float, float]]:
    count = round((last - first) / pitch) + 1
    return [(first + i * pitch, away) for i in range(count)]


class TestGaps:
    @pytest.mark.parametrize(
        ("posts", "expected"),
        [
            (row(0, 20, 2), []),
            (row(1, 19, 2), []),
            (row(0, 20, 2.5), [[2.5] * 8]),
            ([], [[20]]),
            (row(1, 9, 2) + row(13, 19, 2), [[4]]),
            (row(1, 5, 2) + row(9, 9, 2) + row(13, 19, 2), [[4, 4]]),
            (row(1, 3, 2) + row(7, 13, 2) + row(17, 19, 2), [[4], [4]]),
            (row(3, 19, 2), [[3]]),
            (row(1, 17, 2), [[3]]),
            ([(10, 1)], [[10, 10]]),
        ],
        ids=[
            "at the limit", "half a pitch from the ends", "too wide all along", "none", "one is missing",
            "two apart in a row", "two apart from one another", "missing at the beginning", "missing at the end",
            "a single post",
        ],
    )  # fmt: skip
    def test_of_one_row(self, posts, expected) -> None:
        assert widths(posts) == expected

    def test_a_second_row_closes_what_the_first_leaves_open(self) -> None:
        """Two rows of 3 mm pitch, the second halfway between and 1 mm behind: sqrt(1.5^2 + 1^2) = 1.803 mm."""
        assert widths(row(1, 19, 3, 1.0)) == [[3] * 6]
        assert widths(row(1, 19, 3, 1.0) + row(2.5, 17.5, 3, 2.0)) == []
        assert widths(row(1, 19, 3, 1.0) + row(2.5, 17.5, 3, 2.0), limit=1.7) == [[1.803] * 12]

    def test_a_far_post_does_not_lengthen_the_bridge_of_its_neighbours(self) -> None:
        """Posts 1.8 mm apart with one 3 mm out between them: from it to either of them it is more than 2 mm."""
        assert widths([*row(1, 19, 1.8), (4.1, 3.0)]) == []

    def test_nor_does_it_make_two_gaps_of_one(self) -> None:
        """Posts at 5 and 7 mm, with one 2 mm behind between them: the shortest bridge is from the first to the last."""
        assert widths([*row(0, 5, 1), (6, 3.0), *row(7, 20, 1)], limit=1.5) == [[2]]

    def test_the_ends_of_the_widest_gap_are_known(self) -> None:
        posts = posts_at(row(1, 5, 2) + row(10, 18, 2))
        (opening,) = openings_in(posts, 0.0, 19.0, LIMIT)
        gap = opening.widest
        assert posts.centre[[gap.before, gap.after]].tolist() == [[5, 1], [10, 1]]
        assert (gap.begin, gap.end, gap.middle) == (5, 10, 7.5)

    def test_at_an_end_the_gap_has_a_post_on_one_side_only(self) -> None:
        (opening,) = openings_in(posts_at(row(1, 15, 2)), 0.0, 20.0, LIMIT)
        assert (opening.widest.before, opening.widest.after) == (7, END)
        assert (opening.widest.begin, opening.widest.end) == (15, 20)

    @settings(max_examples=200, deadline=None)
    @given(
        st.lists(st.tuples(st.floats(0, 20).map(lambda x: round(x, 2)), st.floats(0.4, 3).map(lambda y: round(y, 2))),
                 max_size=14, unique_by=lambda post: post[0])
    )  # fmt: skip
    def test_every_place_has_the_shortest_bridge_over_it(self, points: list[tuple[float, float]]) -> None:
        """Against trying all pairs at places all along the trace."""
        posts = posts_at(points)
        openings = openings_in(posts, 0.0, 20.0, LIMIT)
        edges = sorted({0.0, 20.0, *(x for x, _ in points)})
        for left, right in pairwise(edges):
            place = (left + right) / 2
            before, after = [p for p in points if p[0] < place], [p for p in points if p[0] > place]
            bridges = [math.dist(a, b) for a in before for b in after]
            shortest = min([20.0, *(20 - x for x, _ in before), *(x for x, _ in after), *bridges])
            over = [gap for opening in openings for gap in opening.gaps if gap.begin <= place <= gap.end]
            if shortest > LIMIT + 0.001:
                assert min(gap.width for gap in over) <= shortest + 1e-9
                assert shortest in [pytest.approx(gap.width) for gap in over]
            else:
                spaces = [gap for gap in over if (gap.begin, gap.end) == (left, right)]
                assert not spaces


def sketch_of(path: Path | list[tuple[float, float]], posts: list[tuple[float, float]]) -> Sketch:
    """A trace of net A on L1 over ground on L2, without ground beside it, and ground vias."""
    sketch = Sketch(layers=2, size=(30.0, 30.0))
    sketch.pour("GND", 2)
    sketch.trace("A", 1, path, 0.3)
    sketch.vias("GND", [*posts, (29, 29)], drill=0.2, pad=0.4)
    return sketch


def fences(board: Board, net: str = "A", limit: float = LIMIT, **options: object) -> list[Fence]:
    said = {"reach": 3.0, "together": 1.0, "partners": (), **options}
    runs = runs_of(board, board.net_index[net])
    return [fence_along(board, side, limit, **said) for side in sides_of(runs, limit)]


def posts_of(fence: Fence) -> list[tuple[float, float]]:
    return [(round(x, 3), round(y, 3)) for x, y in fence.posts.centre.tolist()]


class TestPosts:
    def test_each_stands_on_one_side(self) -> None:
        upper, lower = [(5, 11), (8, 12), (11, 11)], [(6, 9), (9, 9)]
        left, right = fences(board_of(sketch_of([(3, 10), (13, 10)], upper + lower)))
        assert posts_of(left) == upper
        assert posts_of(right) == lower[::-1]
        assert left.posts.station.tolist() == pytest.approx([2, 5, 8])
        assert left.posts.away.tolist() == pytest.approx([1, 2, 1])

    @pytest.mark.parametrize(("away", "seen"), [(3.14, True), (3.16, False)])
    def test_reach_goes_from_the_edge_of_the_trace(self, away: float, seen: bool) -> None:
        """The trace is 0.3 mm wide and reach 3 mm: 3.15 mm from its middle."""
        left, _ = fences(board_of(sketch_of([(3, 10), (13, 10)], [(8, 10 + away)])))
        assert bool(len(left.posts)) is seen

    def test_beyond_the_ends_of_a_trace_there_are_none(self) -> None:
        left, right = fences(board_of(sketch_of([(3, 10), (13, 10)], [(2.9, 11), (3, 12), (13, 11), (13.1, 9)])))
        assert posts_of(left) == [(3, 12), (13, 11)]
        assert posts_of(right) == []

    def test_they_are_in_order_around_an_outer_corner(self) -> None:
        """All of them have the corner for their foot; one passes them clockwise, on the left of a turn to the right."""
        around = [(10 + 2 * math.cos(a), 10 + 2 * math.sin(a)) for a in np.radians([85, 60, 45, 20, 5])]
        expected = [(round(x, 3), round(y, 3)) for x, y in around]
        shuffled = [around[i] for i in (3, 0, 4, 2, 1)]
        left, right = fences(board_of(sketch_of([(3, 10), (10, 10), (10, 3)], shuffled)))
        assert posts_of(left) == expected
        assert left.posts.station.tolist() == pytest.approx([7] * 5)
        assert posts_of(right) == []

    def test_a_gap_in_an_outer_corner_is_found(self) -> None:
        """Posts every 2 mm, 3 mm away from both legs: around the corner it is 4.24 mm from the last to the first."""
        posts = [(float(x), 13.0) for x in range(3, 11, 1)] + [(13.0, float(y)) for y in range(10, 2, -1)]
        left, _ = fences(board_of(sketch_of([(3, 10), (10, 10), (10, 3)], posts)))
        (opening,) = left.openings
        assert [round(gap.width, 3) for gap in opening.gaps] == [round(3 * math.sqrt(2), 3)]
        assert left.path.at(opening.widest.middle).tolist() == pytest.approx([10, 10])
        posts += [(10 + 3 * math.cos(math.radians(a)), 10 + 3 * math.sin(math.radians(a))) for a in (30, 60)]
        left, _ = fences(board_of(sketch_of([(3, 10), (10, 10), (10, 3)], posts)))
        assert left.openings == ()

    def test_an_inner_corner_needs_no_more_than_a_straight_bridge(self) -> None:
        """On the inside, posts 1 mm from both legs, 1.41 mm apart though 4 mm of trace lie between them."""
        posts = [(float(x), 9.0) for x in (3, 5, 7)] + [(8.0, 8.0)] + [(9.0, float(y)) for y in (7, 5, 3)]
        _, right = fences(board_of(sketch_of([(3, 10), (10, 10), (10, 3)], posts)))
        assert posts_of(right).count((8, 8)) == 2, "the post in the corner is passed on both legs"
        assert right.openings == ()

    def test_along_an_arc_the_gap_is_from_post_to_post(self) -> None:
        """A half circle of radius 8 mm with posts 1.2 mm outside every 12 degrees: chords of 2 * 9.2 * sin 6 degrees.

        The first and last gap are shorter along the trace, from its end: 8 mm * 12 degrees = 1.68 mm.
        """
        angles = np.radians(np.arange(0, 181, 12.0))
        posts = [(15 + 9.2 * math.cos(a), 10 + 9.2 * math.sin(a)) for a in angles]
        path = Path.arc((23, 10), (7, 10), (15, 10))
        chord = 2 * 9.2 * math.sin(math.radians(6))
        assert 1.9 < chord < 2.0
        outer = fences(board_of(sketch_of(path, posts)))[1]
        assert len(outer.posts) == 16 and outer.openings == ()
        (opening,) = fences(board_of(sketch_of(path, posts)), limit=1.9)[1].openings
        assert [gap.width for gap in opening.gaps] == pytest.approx([chord] * 13, abs=1e-4)

    def test_one_post_may_serve_two_stretches_of_a_trace(self) -> None:
        """A hairpin with 3 mm between its legs and one row of posts in the middle."""
        posts = [(float(x), 10.0) for x in range(3, 14, 2)]
        path = [(3, 11.5), (15, 11.5), (15, 8.5), (3, 8.5)]
        inner = fences(board_of(sketch_of(path, posts)))[1]
        assert all(posts_of(inner).count(post) >= 2 for post in posts)
        assert inner.openings == ()

    def test_none_beyond_another_stretch_of_the_trace_counts(self) -> None:
        """A hairpin with 2 mm between its legs; the posts stand 0.8 mm outside it, 2.8 mm from the other leg."""
        posts = [(float(x), 8.2) for x in range(4, 12)]
        outer, inner = fences(board_of(sketch_of([(3, 11), (15, 11), (15, 9), (3, 9)], posts)))
        assert len(outer.posts) == 8 and len(inner.posts) == 0

    def test_the_mouth_of_a_horseshoe_does_not_fence_it(self) -> None:
        """Two posts in the mouth, 1.6 mm apart, and none inside along 3/4 of a circle of radius 8 mm."""
        at = [(15 + 7 * math.cos(a), 15 + 7 * math.sin(a)) for a in np.radians([-172, 172])]
        start, end = ((15 + 8 * math.cos(a), 15 + 8 * math.sin(a)) for a in np.radians([-170, 170]))
        inner = fences(board_of(sketch_of(Path.arc(start, end, (15, 15)), at)))[0]
        assert inner.openings

    def test_none_counts_behind_another_trace(self) -> None:
        sketch = sketch_of([(3, 10), (13, 10)], [(5, 12), (8, 12), (11, 12)])
        sketch.trace("B", 1, [(7, 11), (9, 11)], 0.2)
        left, _ = fences(board_of(sketch))
        assert posts_of(left) == [(5, 12), (11, 12)]
        assert [hole.reason for hole in left.refused] == ["is behind another trace"]

    def test_one_that_ends_at_the_plane_without_a_pad_on_the_layer_of_the_trace_is_none(self) -> None:
        sketch = sketch_of([(3, 10), (13, 10)], [(5, 11)])
        sketch.via("GND", (8, 11), drill=0.2, pad=0.4, pads=(2,))
        left, _ = fences(board_of(sketch))
        assert posts_of(left) == [(5, 11)]
        assert [hole.reason for hole in left.refused] == ["touches ground on one layer only"]

    def test_the_ground_next_to_the_trace_is_what_it_must_touch(self) -> None:
        """A strip of ground runs along the trace; posts in other ground behind it do not tie the strip."""
        sketch = sketch_of([(3, 10), (13, 10)], [(5, 11.8), (7, 10.7)])
        sketch.copper("GND", 1, (2.0, 10.4, 14.0, 11.0))
        sketch.copper("GND", 1, (2.0, 11.2, 14.0, 13.0))
        left, _ = fences(board_of(sketch))
        assert posts_of(left) == [(7, 10.7)]

    def test_ground_beside_the_trace_that_is_shorter_than_the_limit_does_not_matter(self) -> None:
        """Some ground in front of a post, 1.3 mm across and then 2.2 mm, more than the 2 mm of the limit."""
        for width, seen in ((1.2, True), (2.2, False)):
            sketch = sketch_of([(3, 10), (13, 10)], [(8, 12)])
            sketch.copper("GND", 1, (8 - width / 2, 10.4, 8 + width / 2, 10.8))
            left, _ = fences(board_of(sketch))
            assert bool(len(left.posts)) is seen, width

    def test_every_point_within_reach_is_on_one_side_of_a_bent_trace(self) -> None:
        """Against the area within reach, cut in two by the trace and by the normals at its ends."""
        path = [(6.0, 8.0), (12.0, 8.0), (16.0, 14.0), (22.0, 14.0)]
        points = [(x + 0.13, y + 0.07) for x in range(7, 22, 2) for y in range(5, 18, 2)]
        points = [p for p in points if 0.5 < shapely.LineString(path).distance(shapely.Point(p)) < 3.1]
        left, right = fences(board_of(sketch_of(path, points)))
        long = shapely.Polygon([(0, 8), *path, (30, 14), (30, 30), (0, 30)])
        expected = {(round(x, 3), round(y, 3)) for x, y in points if long.contains(shapely.Point(x, y))}
        assert set(posts_of(left)) == expected
        assert set(posts_of(right)) == {(round(x, 3), round(y, 3)) for x, y in points} - expected


class TestStretches:
    def pair(self, spacing: float, posts: list[tuple[float, float]]) -> Sketch:
        sketch = sketch_of([(3, 10), (17, 10)], posts)
        sketch.trace("B", 1, [(3, 10 + spacing), (17, 10 + spacing)], 0.3)
        return sketch

    def test_between_the_traces_of_a_pair_nothing_is_needed(self) -> None:
        """0.3 mm from edge to edge."""
        board = board_of(self.pair(0.6, []))
        left, right = fences(board, partners=[board.net_index["B"]])
        assert len(left.stretches) == 0
        assert right.stretches.tolist() == [[0, 14]]

    @pytest.mark.parametrize(("spacing", "needed"), [(1.29, False), (1.31, True)])
    def test_up_to_the_distance_at_which_they_count_as_one(self, spacing: float, needed: bool) -> None:
        """1 mm from edge to edge is 1.3 mm from middle to middle."""
        board = board_of(self.pair(spacing, []))
        left, _ = fences(board, partners=[board.net_index["B"]])
        assert bool(len(left.stretches)) is needed

    def test_beside_a_trace_of_another_class_a_fence_is_needed(self) -> None:
        left, _ = fences(board_of(self.pair(0.6, [])))
        assert left.stretches.tolist() == [[0, 14]]

    def test_where_a_pair_parts_the_fence_goes_on(self) -> None:
        """B leaves A after 6 of 14 mm; the rest of A needs a fence on that side."""
        sketch = sketch_of([(3, 10), (17, 10)], [])
        sketch.trace("B", 1, [(3, 10.6), (9, 10.6), (9, 16)], 0.3)
        board = board_of(sketch)
        left, _ = fences(board, partners=[board.net_index["B"]])
        assert left.stretches.tolist() == [[pytest.approx(6, abs=0.11), 14]]

    def test_inside_a_narrow_meander_nothing_is_needed(self) -> None:
        """Legs of 8 mm, 0.5 mm from edge to edge; with 2.5 mm there is room for a post."""
        for spacing, openings in ((0.8, 0), (2.8, 1)):
            path = [(3, 10), (11, 10), (11, 10 + spacing), (3, 10 + spacing)]
            inner = fences(board_of(sketch_of(path, [])))[0]
            assert len(inner.openings) == openings, spacing

    def test_in_an_acute_bend_it_is(self) -> None:
        """60 degrees: near the corner, the legs are close together, but they do not run beside one another."""
        board = board_of(sketch_of([(3, 10), (13, 10), (8, 10 + 5 * math.sqrt(3))], []))
        inner = fences(board, partners=[board.net_index["A"]])[0]
        assert inner.stretches.tolist() == [[0, pytest.approx(20)]]

    def test_a_trace_no_longer_than_the_limit_needs_no_fence(self) -> None:
        for length, needed in ((2.0, False), (2.1, True)):
            found = fences(board_of(sketch_of([(3, 10), (3 + length, 10)], [])))
            assert [bool(len(fence.stretches)) for fence in found] == [needed] * 2


class TestRings:
    def ring(self, missing: int) -> list[Fence]:
        """A ring of radius 8 mm with 24 posts outside, 1.2 mm away and 2.402 mm apart, and some missing in a row."""
        angles = np.radians(np.arange(0, 360, 15.0))[missing:]
        posts = [(15 + 9.2 * math.cos(a), 15 + 9.2 * math.sin(a)) for a in angles]
        return fences(board_of(sketch_of(Path.arc((23, 15), (23, 15), (15, 15)), posts)), limit=2.5)

    def test_a_closed_fence_has_no_ends(self) -> None:
        outer = next(fence for fence in self.ring(0) if len(fence.posts))
        assert outer.openings == ()

    def test_a_gap_over_the_place_where_the_ring_was_begun_is_found(self) -> None:
        """The post at 0 degrees is missing, where the ring begins: 2 * 9.2 * sin 15 degrees."""
        outer = next(fence for fence in self.ring(1) if len(fence.posts))
        (opening,) = outer.openings
        assert [gap.width for gap in opening.gaps] == pytest.approx([2 * 9.2 * math.sin(math.radians(15))], abs=1e-3)
        assert outer.path.at(opening.widest.middle).tolist() == pytest.approx([23, 15], abs=1e-3)
