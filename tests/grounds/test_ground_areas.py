"""Ground copper as polygons and what ties it, on small boards."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from boards import board_of
from fencepost.board.model import Board
from fencepost.grounds.areas import area_of, boxes_of_pieces, extents_of, ground_pieces
from fencepost.grounds.joins import joins_of
from sketch import Path, Sketch


def sketch_of_everything() -> Sketch:
    """Pours with antipads, tracks, arcs, pads and a pour drawn with clears."""
    sketch = Sketch(layers=4, size=(30.0, 20.0))
    sketch.pour("GND", 2, cut="clear")
    sketch.pour("GND", 1, (2, 2, 14, 18))
    sketch.trace("GND", 1, Path.arc((20, 10), (26, 10), (23, 10)), 0.4)
    sketch.trace("SIG", 1, [(4, 10), (18, 10)], 0.15)
    sketch.vias("SIG", [(4, 10), (8, 6), (18, 10)])
    sketch.vias("GND", [(4, 4), (13.8, 14), (20, 10), (23, 3)])
    sketch.pad("U1", "1", "GND", 1, (26, 10), (1.0, 0.5), angle=30)
    sketch.copper("GND", 4, (10, 5, 14, 9))
    sketch.copper("GND", 4, (14, 6, 18, 8))
    sketch.hole((28, 18), 1.0)
    return sketch


def pieces_by_layer(board: Board, layer: int) -> list[int]:
    found = ground_pieces(board)
    return found[board.pieces.layer[found] == layer].tolist()


@pytest.mark.parametrize("layer", [1, 2, 4])
def test_the_areas_of_a_layer_are_its_ground(layer: int) -> None:
    """As the sketch itself works them out, to 0.2 % of their area."""
    sketch = sketch_of_everything()
    board = board_of(sketch)
    expected = sketch.copper_of(layer)["GND"]
    areas = [area_of(board, piece) for piece in pieces_by_layer(board, layer)]
    assert all(area.geom_type == "Polygon" and area.is_valid for area in areas)
    assert shapely.union_all(areas).symmetric_difference(expected).area < 0.002 * expected.area
    assert len(areas) == len(shapely.get_parts(expected))


def test_parts_that_only_just_touch_are_one_polygon() -> None:
    """Two rectangles edge to edge, a track whose round end meets a pad in one point, 0.8 µm between two others."""
    sketch = Sketch(layers=2, size=(30.0, 20.0))
    sketch.copper("GND", 1, (2, 2, 6, 6))
    sketch.copper("GND", 1, (6, 3, 9, 5))
    sketch.copper("GND", 1, (9.0008, 2, 12, 6))
    sketch.trace("GND", 1, [(12.25, 4), (16, 4)], 0.5)
    sketch.pad("U1", "1", "GND", 1, (17.25, 4), 2.0, "round")
    sketch.hole((28, 18), 1.0)
    board = board_of(sketch)
    (piece,) = pieces_by_layer(board, 1)
    assert area_of(board, piece).geom_type == "Polygon"


def test_boxes_are_those_of_the_areas() -> None:
    board = board_of(sketch_of_everything(), turn=30.0)
    boxes = boxes_of_pieces(board)
    for piece in ground_pieces(board).tolist():
        assert boxes[piece] == pytest.approx(area_of(board, piece).bounds, abs=0.006)
        x0, y0, x1, y1 = boxes[piece]
        assert extents_of(board, np.array([piece]))[0] == pytest.approx(np.hypot(x1 - x0, y1 - y0))


class TestJoins:
    def board(self, *vias: tuple[tuple[float, float], tuple[int, int]], land: bool = False) -> Board:
        """Ground on L1 and L3, signals on L2 and L4; these vias; with a land 1.1 mm long on L2."""
        sketch = Sketch(layers=4, size=(20.0, 20.0))
        sketch.pour("GND", 1)
        sketch.pour("GND", 3)
        for at, span in vias:
            sketch.via("GND", at, drill=0.1, pad=0.3, span=span)
        if land:
            sketch.trace("GND", 2, [(10, 10), (10.8, 10)], 0.3)
        sketch.hole((18, 18), 1.0)
        return board_of(sketch)

    def between(self, board: Board, small: float) -> int:
        upper, lower = (pieces_by_layer(board, layer) for layer in (1, 3))
        return len(joins_of(board, small).between(upper, lower))

    @pytest.mark.parametrize(
        ("vias", "land", "count"),
        [
            ([((10, 10), (1, 4))], False, 1),
            ([((10, 10), (1, 3))], False, 1),
            ([((10, 10), (1, 2))], False, 0),
            ([((10, 10), (1, 2)), ((10, 10), (2, 3))], False, 2),  # stacked
            ([((10, 10), (1, 2)), ((10.8, 10), (2, 3))], False, 0),  # side by side, nothing between
            ([((10, 10), (1, 2)), ((10.8, 10), (2, 3))], True, 2),  # in one land
        ],
    )
    def test_what_ties_two_layers(self, vias, land: bool, count: int) -> None:
        assert self.between(self.board(*vias, land=land), 1.5) == count

    @pytest.mark.parametrize(("small", "count"), [(1.0, 0), (1.2, 2)])
    def test_a_land_must_be_small(self, small: float, count: int) -> None:
        """0.8 + 0.3 mm by 0.3 mm: 1.14 mm across."""
        board = self.board(((10, 10), (1, 2)), ((10.8, 10), (2, 3)), land=True)
        assert self.between(board, small) == count

    def test_a_hole_that_touches_one_piece_ties_nothing(self) -> None:
        board = self.board(((10, 10), (1, 2)), ((5, 5), (1, 4)))
        (upper,) = pieces_by_layer(board, 1)
        joins = joins_of(board, 1.5)
        assert [board.holes.centre[hole].tolist() for hole in joins.holes[joins.of_piece(upper)]] == [[5, 5]]
