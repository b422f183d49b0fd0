"""Runs: the polylines that traces are, and where they begin and end."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from boards import board_from, board_of
from fencepost.board.model import Board
from fencepost.signals.runs import Run, areas_beyond, joined_runs, runs_of
from sketch import Path, Sketch

FAR_VIA = (18.5, 18.5)


def sketch_of(*points: tuple[float, float], width: float = 0.3) -> Sketch:
    """A board with one trace of net A on L1, and a ground via far from it, since a package has holes."""
    sketch = Sketch(layers=2)
    sketch.pour("GND", 2)
    sketch.via("GND", FAR_VIA)
    if points:
        sketch.trace("A", 1, points, width)
    return sketch


def runs(sketch: Sketch, net: str = "A", **options: object) -> tuple[Run, ...]:
    board = board_of(sketch, **options)
    return runs_of(board, board.net_index[net])


def points(run: Run) -> list[tuple[float, float]]:
    return [(round(x, 4), round(y, 4)) for x, y in run.xy.tolist()]


def drawn(board: Board, run: Run, station: float) -> str:
    """The line of the file that draws a run at a station."""
    location = board.copper[run.layer - 1].artwork.location(int(run.feature[run.leg(station)]))
    source = board.copper[run.layer - 1].artwork.source
    assert location.file == source.name
    return source.data.decode().splitlines()[location.line - 1]


def test_a_trace_with_bends_is_one_run() -> None:
    (run,) = runs(sketch_of((2, 2), (10, 2), (10, 8), (14, 12)))
    assert points(run) == [(2, 2), (10, 2), (10, 8), (14, 12)]
    assert run.length == pytest.approx(8 + 6 + math.hypot(4, 4))
    assert run.width.tolist() == pytest.approx([0.3] * 3)
    assert run.layer == 1


def test_a_station_gives_the_point_and_the_stroke() -> None:
    """8 mm to the first bend, 6 mm more to the second: the strokes end at their corners in the file."""
    board = board_of(sketch_of((2, 2), (10, 2), (10, 8), (14, 8)))
    (run,) = runs_of(board, board.net_index["A"])
    assert run.at(11.0).tolist() == pytest.approx([10, 5])
    assert run.at(np.array([0.0, 18.0])).ravel().tolist() == pytest.approx([2, 2, 14, 8])
    lines = [drawn(board, run, station) for station in (1.0, 11.0, 15.0, 18.0)]
    ends = ["X10000000Y2000000D01*", "X10000000Y8000000D01*", "X14000000Y8000000D01*", "X14000000Y8000000D01*"]
    assert lines == ends


def test_an_arc_is_part_of_the_run_and_belongs_to_its_stroke() -> None:
    """A quarter circle of radius 4 mm is 2 pi mm long, and every point of it 4 mm from the centre."""
    sketch = sketch_of((2, 2), (10, 2))
    sketch.arc("A", 1, (10, 2), (14, 6), (10, 6), 0.3)
    sketch.trace("A", 1, [(14, 6), (14, 12)], 0.3)
    board = board_of(sketch)
    (run,) = runs_of(board, board.net_index["A"])
    assert run.length == pytest.approx(8 + 2 * math.pi + 6, abs=0.01)
    for part in (0.1, 0.5, 0.9):
        x, y = run.at(8 + part * 2 * math.pi)
        assert math.hypot(x - 10, y - 6) == pytest.approx(4, abs=0.002)
        assert drawn(board, run, 8 + part * 2 * math.pi).startswith("X14000000Y6000000I0J4000000")


def test_a_run_follows_the_strokes_in_the_file_whichever_way_they_were_drawn() -> None:
    """The strokes are not in the order of the trace, and one of them is drawn backwards."""
    sketch = sketch_of()
    sketch.trace("A", 1, [(6, 5), (2, 5)], 0.3)
    sketch.trace("A", 1, [(10, 5), (14, 5)], 0.3)
    sketch.trace("A", 1, [(6, 5), (10, 5)], 0.3)
    (run,) = runs(sketch)
    assert points(run) == [(2, 5), (6, 5), (10, 5), (14, 5)]
    assert points(run.backwards) == [(14, 5), (10, 5), (6, 5), (2, 5)]
    assert run.backwards.feature.tolist() == run.feature.tolist()[::-1]


def t_junction(sketch: Sketch) -> None:
    sketch.trace("A", 1, [(8, 5), (8, 9)], 0.3)


def land(sketch: Sketch) -> None:
    sketch.pad("TP1", "1", "A", 1, (8, 5), 1.0, "round")


def lone_hole(sketch: Sketch) -> None:
    sketch.via("A", (8, 5))


def hole_left_on_l2(sketch: Sketch) -> None:
    sketch.via("A", (8, 5))
    sketch.trace("A", 2, [(8, 5), (8, 12)], 0.3)


@pytest.mark.parametrize(
    ("meeting", "on_layer_1"),
    [(t_junction, 3), (land, 1), (lone_hole, 1), (hole_left_on_l2, 2)],
)
@pytest.mark.parametrize("strokes", [[(2, 5), (14, 5)], [(2, 5), (8, 5), (14, 5)]], ids=["passes", "ends there"])
def test_where_a_run_ends(meeting: Callable[[Sketch], None], on_layer_1: int, strokes) -> None:
    """At a junction and at a hole that leads on; not at a test point or a hole that leads nowhere."""
    sketch = sketch_of(*strokes)
    meeting(sketch)
    found = [run for run in runs(sketch) if run.layer == 1]
    assert len(found) == on_layer_1
    straight = [run for run in found if np.ptp(run.xy[:, 0]) > 0]
    assert sum(run.length for run in straight) == pytest.approx(12)


def test_runs_that_meet_say_so() -> None:
    sketch = sketch_of((2, 5), (14, 5))
    t_junction(sketch)
    found = runs(sketch)
    shared = set.intersection(*(set(run.spots) for run in found))
    assert len(shared) == 1
    assert len({spot for run in found for spot in run.spots}) == 4


@pytest.mark.parametrize(("size", "expected"), [(1.6, 1), (3.2, 2)])
def test_a_land_between_two_strokes_is_crossed_when_it_is_small(size: float, expected: int) -> None:
    """The strokes end on the rim of the land, `size` - 0.2 mm apart."""
    half = size / 2 - 0.1
    sketch = sketch_of((2, 5), (8 - half, 5))
    sketch.trace("A", 1, [(8 + half, 5), (14, 5)], 0.3)
    sketch.pad("TP1", "1", "A", 1, (8, 5), size, "round")
    found = runs(sketch)
    assert len(found) == expected
    assert sum(run.length for run in found) == pytest.approx(12 if expected == 1 else 12 - 2 * half)


def test_the_pads_of_two_parts_end_a_trace_where_its_stroke_ends() -> None:
    sketch = sketch_of((3, 5), (13, 5))
    sketch.pad("R1", "1", "A", 1, (3, 5), (1.0, 0.6))
    sketch.pad("R2", "1", "A", 1, (13, 5), (1.0, 0.6), angle=45)
    (run,) = runs(sketch)
    assert points(run) == [(3, 5), (13, 5)]


def test_a_trace_drawn_twice_is_one_run() -> None:
    once = sketch_of((2, 2), (10, 2), (10, 8))
    twice = sketch_of((2, 2), (10, 2), (10, 8))
    twice.trace("A", 1, [(10, 8), (10, 2), (2, 2)], 0.3)
    assert [points(run) for run in runs(twice)] == [points(run) for run in runs(once)]


def test_a_branch_drawn_twice_is_joined_as_one_drawn_once_is() -> None:
    """It ends on the side of another trace."""
    sketch = sketch_of((2, 5), (14, 5))
    for _ in range(2):
        sketch.trace("A", 1, [(8, 9), (8, 5)], 0.3)
    assert [points(run) for run in runs(sketch)] == [[(2, 5), (8, 5)], [(8, 5), (14, 5)], [(8, 9), (8, 5)]]


def test_strokes_that_overlap_end_to_end_are_one_run() -> None:
    """(2..9) and (7..14) on one line: 12 mm together."""
    sketch = sketch_of((2, 5), (9, 5))
    sketch.trace("A", 1, [(7, 5), (14, 5)], 0.3)
    (run,) = runs(sketch)
    assert run.length == pytest.approx(12)
    assert points(run)[0] == (2, 5)
    assert points(run)[-1] == (14, 5)


def test_a_ring_is_a_run_that_ends_where_it_begins() -> None:
    sketch = sketch_of()
    sketch.arc("A", 1, (14, 8), (14, 8), (10, 8), 0.3)
    (run,) = runs(sketch)
    assert run.spots[0] == run.spots[1]
    assert run.length == pytest.approx(8 * math.pi, abs=0.01)


def test_each_layer_has_its_own_runs() -> None:
    sketch = sketch_of((2, 5), (8, 5))
    sketch.via("A", (8, 5))
    sketch.trace("A", 2, [(8, 5), (8, 12)], 0.3)
    assert [(run.layer, round(run.length, 6)) for run in runs(sketch)] == [(1, 6.0), (2, 7.0)]


@pytest.mark.parametrize(
    "options", [{"turn": 30.0}, {"turn": 211.0, "move": (70.0, -30.0)}, {"mirror": True}, {"units": "inch"}]
)
def test_runs_move_with_the_board(options: dict[str, object]) -> None:
    """Turned, moved, mirrored or in inches: as many runs, of the same lengths, in the same order and direction."""
    sketch = sketch_of((2, 2), (10, 2), (10, 8), (14, 12))
    sketch.trace("A", 1, [(10, 6), (4, 6)], 0.2)
    sketch.arc("A", 1, (14, 12), (14, 16), (14, 14), 0.3)
    still, moved = runs(sketch), runs(sketch, **options)
    assert [run.length for run in moved] == pytest.approx([run.length for run in still], abs=1e-3)
    assert [np.unique(run.feature).tolist() for run in moved] == [np.unique(run.feature).tolist() for run in still]
    ends = [[math.dist(run.xy[0], other.xy[0]) for other in still] for run in still]
    assert [[math.dist(run.xy[0], other.xy[0]) for other in moved] for run in moved] == pytest.approx(
        np.array(ends), abs=1e-3
    )


def test_runs_joined_end_to_end_keep_every_leg() -> None:
    """The second begins 0.5 mm from where the first one ended: a leg bridges it, with the stroke of the first."""
    first = Run(0, 1, np.array([[0.0, 0], [2, 0]]), np.array([0.3]), np.array([7], dtype=np.int32), (1, 2))
    second = Run(0, 1, np.array([[2.5, 0], [2.5, 1]]), np.array([0.4]), np.array([9], dtype=np.int32), (2, 3))
    run = joined_runs([first, second])
    assert points(run) == [(0, 0), (2, 0), (2.5, 0), (2.5, 1)]
    assert run.feature.tolist() == [7, 7, 9]
    assert run.width.tolist() == [0.3, 0.3, 0.4]
    assert run.spots == (1, 3)


def test_a_trace_drawn_as_an_area_is_named_and_a_teardrop_is_not() -> None:
    sketch = sketch_of((2, 5), (8, 5))
    sketch.copper("A", 1, [(7, 4.9), (8, 4.5), (8, 5.5), (7, 5.1)])
    board = board_of(sketch)
    net = board.net_index["A"]
    assert areas_beyond(board, net, 1, runs_of(board, net), 2.0) == []
    sketch.copper("A", 1, [(8, 4.9), (14, 4.9), (14, 5.1), (8, 5.1)])
    board = board_of(sketch)
    (feature,) = areas_beyond(board, net, 1, runs_of(board, net), 2.0)
    xs = board.copper[0].artwork.points(feature)[:, 0]
    assert (xs.min(), xs.max()) == pytest.approx((8, 14))


def test_nor_is_a_pad_that_is_drawn_as_an_area() -> None:
    """A region with a pin, 6 mm long, at the end of the trace."""
    sketch = sketch_of((2, 5), (8, 5))
    sketch.copper("A", 1, (8, 4, 14, 6))
    files = sketch.gerber()
    for pin, named in ((b"", 1), (b"%TO.P,U1,1*%\n", 0)):
        top = files["board-L1.gbr"].replace(b"G36*", pin + b"G36*")
        board = board_from({**files, "board-L1.gbr": top})
        net = board.net_index["A"]
        assert len(areas_beyond(board, net, 1, runs_of(board, net), 2.0)) == named


@pytest.mark.parametrize("path", [Path.line([(2, 5), (14, 5)]), Path.arc((2, 5), (14, 5), (8, 5), clockwise=True)])
def test_no_net_has_the_runs_of_another(path: Path) -> None:
    sketch = sketch_of()
    sketch.trace("A", 1, path, 0.3)
    sketch.trace("B", 1, [(2, 2), (14, 2)], 0.3)
    assert len(runs(sketch, "A")) == len(runs(sketch, "B")) == 1
    assert runs(sketch, "B")[0].length == pytest.approx(12)


def test_a_trace_through_a_small_area_of_its_own_net_is_a_trace() -> None:
    """Only its middle lies in the area; the strokes that draw an area's edge have their ends in it too."""
    sketch = sketch_of((2, 10), (18, 10))
    sketch.copper("A", 1, (9.9, 10.0, 10.1, 10.6))
    assert sum(float(run.length) if hasattr(run, "length") else 1.0 for run in runs(sketch)) > 0
