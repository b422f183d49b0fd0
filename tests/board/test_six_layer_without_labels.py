"""A real six-layer board without its attributes: copper alone finds the nets that its labels name.

The board is reference data beside the project; where it is not there, the sketches of `test_naming` stand for it.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from boards import board_from
from fencepost.board.model import Board, NetKind
from fencepost.readers.artwork import Kind

FOLDER = Path(__file__).parents[3] / "shared" / "boards" / "six-layer-computer"
pytestmark = pytest.mark.skipif(not FOLDER.exists(), reason="the board is not part of the project")

LAYERS = ("F_Cu", "In1_Cu", "In2_Cu", "In3_Cu", "In4_Cu", "B_Cu")
TIED = [{"VCC-PE"}, {"USB0-D_P"}, {"USB0-D_N"}, {"GND", "GNDA", "HPOUTFB"}]
"""Labels that the board's own net ties and closed solder bridges join, as far as they have names of their own."""


def files(pattern: str) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(FOLDER.glob(pattern))}


@cache
def labelled() -> Board:
    return board_from(files("*.gbr") | files("*.drl"))


@cache
def bare() -> Board:
    """Without any attribute in a Gerber file; settings say which is which, and where ground is."""
    stripped = {name: re.sub(rb"(?m)^%T[FAOD][^%]*%\r?\n", b"", data) for name, data in files("*.gbr").items()}
    roles = {name: f"L{i}" for i, layer in enumerate(LAYERS, 1) for name in stripped if f"-{layer}." in name}
    roles |= {name: "profile" for name in stripped if "Edge" in name}
    full = labelled()
    x, y = full.holes.centre[np.flatnonzero(full.holes.net == full.net_index["GND"])[0]]
    lines = [f'"{name}" = "{role}"' for name, role in roles.items()]
    settings = "\n".join(["[layers]", *lines, "[nets]", f'ground_at = "{x:.4f}, {y:.4f}"'])
    return board_from(stripped | files("*.drl"), settings)


def labels_of_holes(board: Board) -> NDArray[np.int32]:
    """What the pads of each plated hole are labelled; they all agree."""
    found = np.full(len(board.holes), -1, dtype=np.int32)
    for copper in board.copper:
        pads = np.flatnonzero((copper.artwork.kind[copper.feature] == Kind.FLASH) & (copper.label >= 0))
        tree = shapely.STRtree(shapely.centroid(copper.geometry[pads]))
        hole, pad = tree.query(board.holes.geometry, predicate="dwithin", distance=0.01)
        assert ((found[hole] < 0) | (found[hole] == copper.label[pads[pad]])).all()
        found[hole] = copper.label[pads[pad]]
    return found


def test_copper_finds_the_partition_that_labels_name() -> None:
    """All 1261 plated holes: two of one label are always connected, two of different ones only by a net tie."""
    full, alone = labelled(), bare()
    label, island = labels_of_holes(full), alone.holes.net
    plated = full.holes.plated
    assert (plated == alone.holes.plated).all()
    assert (label[plated] >= 0).all()
    pairs = np.unique(np.stack([label[plated], island[plated]], axis=1), axis=0)
    labels, count = np.unique(pairs[:, 0], return_counts=True)
    assert labels[count > 1].tolist() == []
    islands, count = np.unique(pairs[:, 1], return_counts=True)
    several = [
        {full.nets[net].name.rsplit("/")[-1] for net in pairs[pairs[:, 1] == one, 0]} for one in islands[count > 1]
    ]
    assert len(several) == len(TIED)
    for names in TIED:
        assert any(names <= found for found in several)


def test_a_point_makes_ground_of_what_labels_call_ground() -> None:
    """The same holes, those of the analogue ground with them, which a net tie joins."""
    full, alone = labelled(), bare()
    ground = np.isin(
        labels_of_holes(full), [full.net_index[name] for name in full.net_index if name in ("GND", "GNDA")]
    )
    found = np.isin(alone.holes.net, alone.nets_of(NetKind.GROUND))
    assert (found[ground]).all()
    assert (found & full.holes.plated & ~ground).sum() == sum(
        full.nets[net].name.endswith("HPOUTFB") for net in labels_of_holes(full) if net >= 0
    )
