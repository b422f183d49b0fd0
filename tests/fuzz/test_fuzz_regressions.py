"""What fuzzing has found, each input by itself."""

from __future__ import annotations

import re

import pytest

from fencepost.errors import InputError
from fuzz import faulty, oracle, samples
from fuzz.mutation import Files
from fuzz.oracle import FOUND, NOT_CHECKED
from fuzz.targets import REFUSED, outcome, targets


def changed(files: Files, ending: str, old: bytes, new: bytes) -> Files:
    """The package with one thing else in the one file whose name ends so; the thing must be there."""
    (name,) = (name for name in files if name.endswith(ending))
    assert old in files[name]
    return {**files, name: files[name].replace(old, new, 1)}


def test_a_hole_that_is_drilled_twice_is_no_fault_of_the_program() -> None:
    """The inductance of the way round by the nearest ties was asked of conductors that overlap."""
    files = changed(faulty.routed().gerber(), "-PTH.drl", b"X4.0Y4.0\n", b"X4.0Y4.0\n" * 2)
    verdict = oracle.look_at(files).verdict
    assert verdict.code == FOUND
    assert "transition-return" in {finding["rule"] for finding in verdict.findings}


def test_a_drill_file_that_comes_twice_is_no_fault_of_the_program() -> None:
    """Likewise, from a copy of the file."""
    files = faulty.routed().gerber(drill="gerber")
    assert oracle.look_at({**files, "copy.gbr": files["routed-PTH.gbr"]}).verdict.code == FOUND


def test_an_area_with_a_corner_far_away_is_gone_through_in_whole_rows() -> None:
    """Parts of an edge must meet to the last bit where a grid counts what crosses its rows."""
    files = changed(faulty.poured().gerber(), "-L1.gbr", b"X12812953Y14765451D01*", b"X1281253Y14765451D01*")
    del files["poured.gbrjob"]
    assert oracle.look_at(files).verdict.code == FOUND


@pytest.mark.parametrize("constant", [b"0.5", b"0", b"-4", b"234831884", b"1e99"])
def test_a_permittivity_that_cannot_be_is_refused(constant: bytes) -> None:
    """Below 1 the physics stopped the program; far above, a wavelength of nanometres took all memory."""
    said = b'"DielectricConstant": '
    files = changed(faulty.sound().gerber(), ".gbrjob", said + b"4.5", said + constant)
    verdict = oracle.look_at(files).verdict
    assert verdict.code == NOT_CHECKED and "DielectricConstant" in verdict.said


@pytest.mark.parametrize(("old", "new"), [(b'value="4.5"', b'value="0.5"'), (b'thickness="1.06"', b'thickness="1e7"')])
def test_so_it_is_in_ipc2581(old: bytes, new: bytes) -> None:
    """With the line that it stands in; the same of a thickness."""
    verdict = oracle.look_at(changed({"sound.xml": faulty.sound().ipc2581()}, ".xml", old, new)).verdict
    assert verdict.code == NOT_CHECKED and "sound.xml:" in verdict.said


@pytest.mark.parametrize("name", ["gerber", "drill", "testnet", "ipc2581", "job"])
@pytest.mark.parametrize("data", [b"", b"\n", b"\r", b"\0", b"\xff\xfe", b"\xef\xbb\xbf"], ids=repr)
def test_a_file_of_nothing_has_an_error_with_a_place(name: str, data: bytes) -> None:
    """XML's parser gives the place -1 in an empty file, which came out as line 0."""
    assert outcome(targets()[name], data) == REFUSED


def test_half_a_surrogate_pair_in_a_job_file_is_refused() -> None:
    """JSON can say it, and it is no character, let alone the number that a text may stand for."""
    data = b'{"GeneralSpecs": {"LayerNumber": "\\ud800"}}'
    with pytest.raises(InputError, match=r"ud800"):
        targets()["job"].read(data)


def test_a_zero_byte_is_no_blank_in_a_netlist() -> None:
    """In the columns of a name it was taken for one."""
    data = samples.small_board().testnet()
    at = data.index(b"GND  ") + 3
    assert outcome(targets()["testnet"], data[:at] + b"\0" + data[at + 1 :]) == REFUSED


NETLIST = {**samples.small_board().gerber(), "board.ipc": samples.small_board().testnet()}
PLAIN = samples.small_board().gerber()


@pytest.mark.parametrize(
    ("files", "ending", "old", "new"),
    [
        (NETLIST, ".ipc", b"317GND", b"&amp;317GND"),
        (NETLIST, ".ipc", b"327SIG", b"\x00327SIG"),
        (PLAIN, "-NPTH.drl", b"M48", b"M4T"),
        (PLAIN, "-NPTH.drl", b"M48", b"~~~"),
        (PLAIN, "-components-top.gbr", b"D10*", b"D10*\0"),
        (PLAIN, "-profile.gbr", b"G01*", b"\0G01*"),
        (PLAIN, ".gbrjob", b"{", b"?{"),
    ],
    ids=str,
)
def test_a_file_with_a_damaged_line_is_not_left_aside(files: Files, ending: str, old: bytes, new: bytes) -> None:
    """It was taken for something else than a file of the board, and the board was checked without it."""
    verdict = oracle.look_at(changed(files, ending, old, new)).verdict
    assert verdict.code == NOT_CHECKED and ending in verdict.said


@pytest.mark.parametrize("lost", ["-NPTH.drl", "-Blind-1-2.drl", "-PTH.drl"])
def test_holes_that_the_job_file_names_are_not_left_out(lost: str) -> None:
    """Without the file of them the board was checked as if it had none."""
    (name,) = (name for name in PLAIN if name.endswith(lost) and (lost != "-PTH.drl" or "NPTH" not in name))
    verdict = oracle.look_at({other: data for other, data in PLAIN.items() if other != name}).verdict
    assert verdict.code == NOT_CHECKED and name in verdict.said


def test_holes_in_a_file_of_another_name_are_those_that_the_job_file_names() -> None:
    """Files are renamed."""
    files = {("other.drl" if name.endswith("-NPTH.drl") else name): data for name, data in PLAIN.items()}
    assert oracle.look_at(files).verdict.code != NOT_CHECKED


@pytest.mark.parametrize(
    ("forms", "old", "new"),
    [
        ("current", rb"<Hole( [^>]*NONPLATED)", rb"<Hale\1"),
        ("current", rb"(</?)SlotCavity\b", rb"\1SlatCavity"),
        ("current", rb"(</?)LayerFeature\b", rb"\1LayerFeatura"),
        ("older", rb"(</?)LayerHole\b", rb"\1LayerHale"),
        ("older", rb"(</?)LayerPad\b", rb"\1LayerPud"),
        ("older", rb"(</?)PadStack\b", rb"\1PadStuck"),
        ("current", rb"(</?)PadstackHoleDef\b", rb"\1PadstackHaleDef"),
    ],
)
def test_an_element_that_is_not_known_is_refused_where_holes_or_pads_stand(forms: str, old: bytes, new: bytes) -> None:
    """They were lost with it, and the rest was taken for the board."""
    data = samples.small_board().ipc2581(forms=forms)
    damaged = re.sub(old, new, data)
    assert damaged != data
    assert outcome(targets()["ipc2581"], damaged) == REFUSED
