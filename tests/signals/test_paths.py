"""Runs of a whole board at once: what is left out, stretches of them, and how wide they are there."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from boards import board_of
from fencepost.board.model import Board
from fencepost.signals import paths
from fencepost.signals.gaps import Gap, gaps_of
from fencepost.signals.paths import along
from fencepost.signals.runs import paths_of
from sketch import Sketch


def perforated(seed: int) -> Sketch:
    """Traces on all four layers over two grounds with slots, a supply beside one of them, and vias here and there."""
    random = np.random.default_rng(seed)
    sketch = Sketch(layers=4)
    sketch.via("GND", (19, 19))
    corner = random.uniform(1, 15, (6, 2))
    slots = np.concatenate([corner, corner + random.uniform(0.1, 4, (6, 2))], axis=1).tolist()
    border = float(random.uniform(5, 15))
    sketch.pour("GND", 2, holes=slots[:3])
    sketch.pour("GND", 3, (0, 0, border, 20), holes=slots[3:])
    sketch.pour("+3V3", 3, (border + 0.3, 0, 20, 20))
    for number, layer in enumerate((1, 1, 2, 3, 4)):
        begin, end, bend = random.uniform(1, 18, (3, 2)).tolist()
        for way in ((begin, bend), (bend, end)):
            sketch.trace(f"N{number}", layer, way, float(random.uniform(0.1, 0.4)))
        if random.random() < 0.7:
            sketch.via(f"N{number}", end)
    sketch.vias("B", random.uniform(1, 18, (8, 2)).tolist())
    return sketch


def told(board: Board) -> list[tuple[object, ...]]:
    def one(gap: Gap) -> tuple[object, ...]:
        return gap.run.net, gap.run.layer, gap.begin, gap.end, gap.before, gap.after, gap.between, gap.width, gap.height

    return [one(gap) for gap in gaps_of(board)]


@pytest.mark.parametrize("seed", range(8))
def test_runs_that_keep_one_reference_have_no_gap(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With all of them looked at in whole the gaps are the same."""
    board = board_of(perforated(seed))
    found = told(board)
    board.cache.clear()
    monkeypatch.setattr(paths, "_keeps", lambda *columns: np.zeros(len(columns[2]), dtype=bool))
    assert len(np.unique(along(board).run)) == len(paths_of(board))
    assert told(board) == found


def test_a_run_over_one_plane_is_left_out_up_to_its_own_antipads() -> None:
    sketch = Sketch(layers=4)
    sketch.pour("GND", 2)
    sketch.trace("A", 1, [(2, 10), (18, 10)])
    sketch.vias("A", [(2, 10), (18, 10)])
    assert not len(along(board_of(sketch)).run)


def test_a_run_that_changes_to_other_copper_under_its_own_pad_is_not() -> None:
    """The plane is opened up under a pad of 4 x 4 mm, and there the trace runs 2.3 mm over the next plane."""
    sketch = Sketch(layers=4)
    sketch.via("GND", (19, 19))
    sketch.pour("GND", 2, holes=[(1.7, 7.7, 6.3, 12.3)])
    sketch.pour("GND", 3)
    sketch.pad("J1", "1", "A", 1, (4, 10), (4, 4))
    sketch.trace("A", 1, [(4, 10), (18, 10)])
    (gap,) = gaps_of(board_of(sketch))
    assert sorted(reference.layer for reference in (*gap.before, *gap.after)) == [2, 3]


@pytest.mark.parametrize("seed", range(3))
def test_a_stretch_of_a_run_is_a_line_of_its_points(seed: int) -> None:
    """Against each run by itself: ends, length, and the widest of the legs that it passes."""
    board, random = board_of(perforated(seed)), np.random.default_rng(seed)
    every = paths_of(board)
    run = random.integers(0, len(every), 200)
    begin, end = np.sort(random.uniform(-1.0, 1.0 + every.length[run], (2, 200)), axis=0)
    end = np.maximum(end, 0.01)
    begin = np.minimum(begin, every.length[run] - 0.01)
    lines, widest = every.lines(run, begin, end), every.widest(run, begin, end)
    for i, line in enumerate(lines):
        own = every.run(int(run[i]))
        low, high = max(begin[i], 0.0), min(end[i], own.length)
        assert line.length == pytest.approx(high - low, abs=1e-5)
        assert shapely.get_coordinates(line)[[0, -1]] == pytest.approx(own.at(np.array([low, high])))
        between = own.at(np.linspace(low, high, 50))
        assert shapely.distance(shapely.points(between), line).max() < 1e-5
        first, last = own.leg(np.array([begin[i], end[i]]))
        assert widest[i] == own.width[first : last + 1].max()
