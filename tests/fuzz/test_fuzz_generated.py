"""Files that are valid by construction are read as they were written; nearly valid ones are read or refused.

`FENCEPOST_FUZZ_EXAMPLES=1000` tries that many of each. See `asked`.
"""

from __future__ import annotations

from hypothesis import given

from fuzz import drill_files, gerber_files, ipc2581_files, properties, testnet_files
from fuzz.asked import examples
from fuzz.drill_files import DrillCase
from fuzz.gerber_files import GerberCase
from fuzz.ipc2581_files import Ipc2581Case
from fuzz.testnet_files import TestnetCase


@examples(60)
@given(gerber_files.gerber_files())
def test_a_layer_has_the_area_flashes_and_nets_that_were_written(case: GerberCase) -> None:
    """Areas by their formulas; all apertures, macros, arcs, regions, clears, repeats and blocks."""
    properties.check_gerber(case)


@examples(60)
@given(drill_files.drill_files())
def test_a_drill_file_of_any_dialect_has_the_holes_that_were_written(case: DrillCase) -> None:
    """Units, zeros, headers, modal and incremental coordinates, repeats, slots and routs."""
    properties.check_drill(case)


@examples(60)
@given(testnet_files.testnet_files())
def test_a_netlist_has_the_points_that_were_written(case: TestnetCase) -> None:
    """Units, aliases and records that go on."""
    properties.check_testnet(case)


@examples(40)
@given(ipc2581_files.ipc2581_files())
def test_an_ipc2581_file_has_the_copper_and_holes_that_were_written(case: Ipc2581Case) -> None:
    """Areas by their formulas; units, dictionaries, turned pads, lines, arcs and contours."""
    properties.check_ipc2581(case)


@examples(80)
@given(gerber_files.gerber_files(nearly=True))
def test_a_layer_with_one_thing_wrong_is_refused(case: GerberCase) -> None:
    """All but a statement that may have said nothing."""
    properties.is_read_or_refused(case, properties.gerber, gerber_files.BREAKAGES)


@examples(80)
@given(drill_files.drill_files(nearly=True))
def test_a_drill_file_with_one_thing_wrong_is_refused(case: DrillCase) -> None:
    """All but a line that may have said nothing."""
    properties.is_read_or_refused(case, properties.drill(case), drill_files.BREAKAGES)


@examples(80)
@given(testnet_files.testnet_files(nearly=True))
def test_a_netlist_with_one_thing_wrong_is_refused(case: TestnetCase) -> None:
    """All but a line that may have said nothing."""
    properties.is_read_or_refused(case, properties.testnet, testnet_files.BREAKAGES)


@examples(80)
@given(ipc2581_files.ipc2581_files(nearly=True))
def test_an_ipc2581_file_with_one_thing_wrong_is_refused(case: Ipc2581Case) -> None:
    """All but an element or an attribute that may have said nothing."""
    properties.is_read_or_refused(case, properties.ipc2581, ipc2581_files.BREAKAGES)


@examples(12)
@given(gerber_files.gerber_files())
def test_no_operation_of_a_layer_is_lost_in_silence(case: GerberCase) -> None:
    """Each one that draws is deleted in turn: an error, or another image."""
    properties.loses_nothing_silently(case, case.drawing, properties.gerber)


@examples(25)
@given(drill_files.drill_files())
def test_no_hit_of_a_drill_file_is_lost_in_silence(case: DrillCase) -> None:
    """Each line that drills is deleted in turn: an error, or other holes."""
    properties.loses_nothing_silently(case, case.drilling, properties.drill(case))


@examples(25)
@given(testnet_files.testnet_files())
def test_no_record_of_a_netlist_is_lost_in_silence(case: TestnetCase) -> None:
    """Each one is deleted in turn: an error, or other points."""
    properties.loses_nothing_silently(case, case.records, properties.testnet)


@examples(15)
@given(ipc2581_files.ipc2581_files())
def test_no_feature_of_an_ipc2581_file_is_lost_in_silence(case: Ipc2581Case) -> None:
    """Each Set that draws or drills is deleted in turn: an error, or another board."""
    properties.loses_nothing_silently(case, case.drawing, properties.ipc2581)
