"""What is not understood, not whole or not of this board ends in exit code 2 with its file and place."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from hostile.gate import FILES, PLACES, Files, check, check_files, gerber
from sketch import write_package


def changed(name: str, old: bytes, new: bytes) -> Files:
    """One file with something else in it."""
    assert old in FILES[name]
    return {**FILES, name: FILES[name].replace(old, new)}


def without(*names: str) -> Files:
    return {name: data for name, data in FILES.items() if name not in names}


def scaled(name: str, factor: float, shift: float = 0.0) -> Files:
    """A drill file whose coordinates are others."""
    text = re.sub(rb"(?<=[XY])-?[\d.]+", lambda match: b"%.4f" % (float(match[0]) * factor + shift), FILES[name])
    return {**FILES, name: text}


def gerber_scaled(name: str, decimals: str) -> Files:
    """A Gerber file whose numbers mean another length."""
    return changed(name, b"%FSLAX46Y46*%", f"%FSLAX{decimals}Y{decimals}*%".encode())


def no_drawing(name: str) -> Files:
    """A layer with its header and nothing else."""
    return {**FILES, name: re.sub(rb"(?s)\nD\d+\*.*M02\*", b"\nM02*", FILES[name])}


def open_profile() -> Files:
    """A profile without its last side."""
    lines = FILES["b-profile.gbr"].splitlines()
    last = max(row for row, line in enumerate(lines) if line.endswith(b"D01*"))
    return {**FILES, "b-profile.gbr": b"\n".join(lines[:last] + lines[last + 1 :])}


CASES: dict[str, tuple[Callable[[], Files], str]] = {
    "an unknown command": (
        lambda: {**FILES, "b-L1.gbr": gerber("%QX1*%\n")},
        "fab/b-L1.gbr:4:2: error: expected a command",
    ),
    "an unknown drill command": (
        lambda: changed("b-PTH.drl", b"M30", b"Q99\nM30"),
        'fab/b-PTH.drl:25:1: error: "Q99" is not understood',
    ),
    "a layer cut short": (lambda: changed("b-L2.gbr", b"M02*", b""), "found the end of the file"),
    "a drill file cut short": (lambda: changed("b-PTH.drl", b"M30", b""), "the file ends without M30"),
    "a job file cut short": (lambda: {**FILES, "b.gbrjob": FILES["b.gbrjob"][:-40]}, "the job file is not JSON"),
    "a Gerber file that says nothing of itself": (
        lambda: {**FILES, "x.gbr": b"%FSLAX46Y46*%\n%MOMM*%\nM02*\n"},
        "fab/x.gbr: error: this Gerber file does not say what it is",
    ),
    "a drill file that says nothing of itself": (
        lambda: {**FILES, "x.drl": b"M48\nMETRIC\nT1C0.3\n%\nT1\nX1.0Y1.0\nM30\n"},
        "fab/x.drl: error: this drill file does not say whether its holes are plated",
    ),
    "what is named as data and is none": (
        lambda: {**FILES, "x.GBR": b"some notes\n"},
        "fab/x.GBR: error: is named as fabrication data, and is none",
    ),
    "an empty file": (lambda: {**FILES, "x.gbr": b""}, "fab/x.gbr: error: is empty"),
    "an unknown file function": (
        lambda: changed("b-L2.gbr", b"Copper,L2,Inr", b"Cupper,L2,Inr"),
        '"Cupper,L2,Inr" is not a file function',
    ),
    "a layer without anything": (lambda: no_drawing("b-L2.gbr"), "fab/b-L2.gbr: error: copper layer L2 is empty"),
    "a layer that is missing": (lambda: without("b-L2.gbr"), "copper layer L2 of 4 is missing"),
    "holes that are missing": (lambda: without("b-NPTH.drl"), "names b-NPTH.drl as NonPlated,1,4,NPTH"),
    "no holes at all": (lambda: without("b-NPTH.drl", "b-PTH.drl", "b.gbrjob"), "no drill file found"),
    "two files for one layer": (
        lambda: {**FILES, "c.gbr": FILES["b-L1.gbr"]},
        "fab/c.gbr: error: a second file for copper layer L1, beside fab/b-L1.gbr",
    ),
    "two profiles": (lambda: {**FILES, "c.gbr": FILES["b-profile.gbr"]}, "fab/c.gbr: error: a second profile"),
    "two job files": (lambda: {**FILES, "c.gbrjob": FILES["b.gbrjob"]}, "fab/c.gbrjob: error: a second job file"),
    "a span to a layer that does not exist": (
        lambda: changed("b-PTH.drl", b"Plated,1,4,PTH", b"Plated,1,6,PTH"),
        "fab/b-PTH.drl: error: its holes go to layer 6, but the board has 4",
    ),
    "a negative layer": (
        lambda: {
            **FILES,
            "b-L2.gbr": b"%TF.FilePolarity,Negative*%\n" + re.sub(rb"%TF.FilePol[^%]*%", b"", FILES["b-L2.gbr"]),
        },
        "fab/b-L2.gbr: error: a copper layer drawn as its negative",
    ),
    "copper in inches": (lambda: changed("b-L1.gbr", b"%MOMM*%", b"%MOIN*%"), "fab/b-L1.gbr: error: reaches over"),
    "copper ten times as large": (lambda: gerber_scaled("b-L1.gbr", "55"), "fab/b-L1.gbr: error: reaches over"),
    "holes in inches": (lambda: changed("b-PTH.drl", b"METRIC", b"INCH"), "fab/b-PTH.drl: error: reaches over"),
    "holes 25.4 times as small": (lambda: scaled("b-PTH.drl", 1 / 25.4), "100% if they were scaled 25.4 times"),
    "holes ten times as small": (lambda: scaled("b-PTH.drl", 0.1), "100% if they were scaled 10 times"),
    "holes from another origin": (
        lambda: scaled("b-PTH.drl", 1.0, 7.3),
        "100% if they were moved by (-7.300, -7.300) mm",
    ),
    "a profile in inches": (
        lambda: changed("b-profile.gbr", b"%MOMM*%", b"%MOIN*%"),
        "fab/b-profile.gbr: error: the profile, ",
    ),
    "a profile that does not close": (open_profile, "the profile does not close at ("),
    "a profile without anything": (
        lambda: {**FILES, "b-profile.gbr": gerber("", "Profile,NP")},
        "fab/b-profile.gbr: error: the profile has no outline",
    ),
}


@pytest.mark.parametrize(("files", "said"), CASES.values(), ids=CASES)
def test_it_is_refused_with_its_place(files: Callable[[], Files], said: str) -> None:
    check_files(files()).assert_refused(said)


def test_the_board_that_they_are_made_from_is_checked() -> None:
    """Without which the others would prove nothing."""
    outcome = check_files(FILES, "", "--fail-on", "never")
    outcome.assert_harmless()
    assert (outcome.code, outcome.errors) == (0, [])
    assert FILES["b-PTH.drl"].count(b"X") == len(PLACES)


def test_several_files_that_are_wrong_are_all_named() -> None:
    files = {
        **FILES,
        "b-L1.gbr": gerber("%QX1*%\n"),
        "b-L3.gbr": gerber("D10*\n", "Copper,L3,Inr"),
        "x.gbr": gerber("", "Nonsense"),
    }
    outcome = check_files(files)
    outcome.assert_harmless()
    assert (outcome.code, outcome.out) == (2, "")
    assert [line.split(":")[0] for line in outcome.errors] == ["fab/b-L1.gbr", "fab/b-L3.gbr", "fab/x.gbr"]


def test_of_several_packages_a_broken_one_lets_none_pass() -> None:
    """No report is printed that leaves it out."""
    write_package("good", FILES)
    write_package("bad", {**FILES, "b-L1.gbr": gerber("%QX1*%\n")})
    for order in (("good", "bad"), ("bad", "good")):
        outcome = check(*order, "--fail-on", "never", "--jobs", "1", "--quiet")
        assert (outcome.code, outcome.out) == (2, ""), order


def test_what_had_to_be_assumed_is_said() -> None:
    write_package("fab", without("b-profile.gbr"))
    outcome = check("fab", "--fail-on", "never", "--rules", "rim-pitch")
    assert outcome.code == 0
    assert "no profile in the package: the edge of the board is taken as the box around its copper" in outcome.out
