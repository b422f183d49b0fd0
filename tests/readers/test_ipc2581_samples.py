"""Real exports, where they are at hand: read whole, or refused for what they lack. Text searches give the counts."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import shapely

from fencepost.board.assemble import assemble
from fencepost.board.from_ipc2581 import sources_from_ipc2581
from fencepost.board.model import Board
from fencepost.errors import InputError
from fencepost.settings.model import DrillClaim, Settings
from fencepost.source import SourceFile

SAMPLES = Path(__file__).parents[3] / "shared" / "ipc2581" / "samples"
TWINS = ("programmer-revB.xml", "programmer-revC.xml")
OUTER = "consortium-3-revC.xml"

pytestmark = pytest.mark.skipif(not SAMPLES.exists(), reason="the samples lie outside the project")


def source(name: str) -> SourceFile:
    return SourceFile(name, (SAMPLES / name).read_bytes())


def claims(name: str) -> Settings:
    """One of the samples is read in spite of what it lacks, for the counts."""
    return Settings(drill={"DRILL_1-6": DrillClaim(plated=True, span=(1, 2))}) if name == OUTER else Settings()


@pytest.mark.parametrize("name", [*TWINS, OUTER])
def test_counts_are_those_of_the_elements_in_the_file(name):
    """Holes, components, and names of nets."""
    text = (SAMPLES / name).read_text()
    sources = sources_from_ipc2581(name, source(name), claims(name))
    assert sum(len(drilled.hits) for drilled in sources.drills) == len(re.findall(r"<Hole ", text))
    assert len(sources.copper[0].component_attributes) == len(re.findall(r"<Component ", text))
    said = {artwork.values[net][0] for artwork in sources.copper for net in artwork.net[artwork.net >= 0]}
    said |= {drilled.hits.values[net][0] for drilled in sources.drills for net in drilled.hits.net if net >= 0}
    assert len(said) == len(set(re.findall(r'<Set [^>]*\bnet="([^"]+)"', text)))


def test_two_revisions_of_one_board_are_one_board():
    """Copper by layer and net, holes, pins: names differ only in signs that revision B could not write."""
    old, new = (assemble(sources_from_ipc2581(name, source(name), Settings()), Settings()) for name in TWINS)

    def plain(name: str) -> str:
        return re.sub(r"[^\w+-]", "_", name)

    def areas(board: Board) -> dict[tuple[int, str], float]:
        found = {}
        for layer in board.copper:
            outlines, nets = layer.outlines(np.arange(len(layer))), board.pieces.net[layer.piece]
            for net in np.unique(nets):
                name = plain(board.nets[net].name) if net >= 0 else ""
                found[layer.layer, name] = shapely.union_all(outlines[nets == net]).area
        return found

    assert areas(old) == pytest.approx(areas(new))
    for column in ("start", "end", "diameter", "plated", "first", "last", "kind"):
        assert (getattr(old.holes, column) == getattr(new.holes, column)).all(), column
    assert [len(part.pins) for part in old.components] == [len(part.pins) for part in new.components]
    assert [part.name for part in old.components] == [part.name for part in new.components]
    assert not old.conflicts
    assert not new.conflicts


def test_a_file_of_the_outer_layers_of_six_is_refused():
    """Its drill layer counts to six; without the inner layers its ground and supply nets fall apart."""
    with pytest.raises(InputError, match="inner layers were left out") as caught:
        sources_from_ipc2581(OUTER, source(OUTER), Settings())
    assert caught.value.line > 0
    board = assemble(sources_from_ipc2581(OUTER, source(OUTER), claims(OUTER)), Settings())
    ground = board.net_index["GND"]
    assert len(np.unique(board.pieces.island[board.pieces.net == ground])) > 1
