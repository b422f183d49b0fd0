"""A package is read whole or refused: missing layers, holes, roles, and files that two parts claim."""

import re
from collections.abc import Callable

import pytest

from boards import settings_of
from fencepost.board.load import load_board
from fencepost.errors import FencepostError
from fencepost.intake import package_from
from sketch import Sketch

Files = dict[str, bytes]


def package() -> Files:
    """Four layers, a plated and an unplated hole, profile and job file."""
    sketch = Sketch(layers=4)
    for layer in (2, 3):
        sketch.pour("GND", layer)
    sketch.trace("SIG", 1, [(2, 5), (10, 5)])
    sketch.via("SIG", (10, 5))
    sketch.via("GND", (12, 5))
    sketch.hole((3, 3), 2.0)
    return sketch.gerber()


def name_of(files: Files, pattern: str) -> str:
    """The file whose content matches."""
    return next(name for name, data in files.items() if re.search(pattern.encode(), data))


def without(*patterns: str) -> Callable[[Files], None]:
    def change(files: Files) -> None:
        for pattern in patterns:
            del files[name_of(files, pattern)]

    return change


def replaced(pattern: str, old: bytes, new: bytes) -> Callable[[Files], None]:
    def change(files: Files) -> None:
        name = name_of(files, pattern)
        assert old in files[name]
        files[name] = files[name].replace(old, new)

    return change


L1, L3, L4, JOB = r"Copper,L1,Top\*%", r"Copper,L3,Inr\*%", r"Copper,L4,Bot\*%", "GeneralSpecs"
PLATED, UNPLATED, PROFILE = r"TF\.FileFunction,Plated", r"TF\.FileFunction,NonPlated", r"Profile,NP\*%"


def test_the_whole_package_is_a_board() -> None:
    board = load_board(package_from("board", package()), settings_of())
    assert board.layers == 4
    assert board.holes.plated.tolist().count(True) == 2
    assert board.profile_given
    assert board.assumptions == ("ground nets by name: GND",)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        pytest.param(without(L3), r"copper layer L3 of 4 is missing; found L1, L2, L4", id="L1, L2 and L4 of four"),
        pytest.param(without(L3, JOB), r"copper layer L3 of 4 is missing", id="the same without a job file"),
        pytest.param(without(L4), r"copper layer L4 of 4 is missing", id="the job file speaks of a bottom"),
        pytest.param(without(L4, JOB), r"copper layer L4 of 4 is missing", id="the drill span speaks of a bottom"),
        pytest.param(without(PLATED, UNPLATED), r"no drill file found", id="no drill file"),
        pytest.param(without(L1, r"Copper,L2,Inr\*%", L3, L4), r"no copper layer found", id="no copper"),
        pytest.param(
            replaced(L3, b"Copper,L3,Inr", b"Copper,L2,Inr"), r"a second file for copper layer L2, beside ", id="two L2"
        ),
        pytest.param(
            replaced(L3, b"Copper,L3,Inr", b"Kupfer,L3,Inr"),
            r'"Kupfer,L3,Inr" is not a file function of the specification',
            id="unknown file function",
        ),
        pytest.param(
            replaced(L3, b"Copper,L3,Inr", b"Copper,3,Inr"), r'needs a layer as L1, not "3"', id="layer without L"
        ),
        pytest.param(
            replaced(L3, b"FilePolarity,Positive", b"FilePolarity,Negative"), r"drawn as its negative", id="negative"
        ),
        pytest.param(
            replaced(PLATED, b"Plated,1,4", b"Plated,1,6"), r"go to layer 6, but the board has 4", id="span too long"
        ),
        pytest.param(
            replaced(PLATED, b"Plated,1,4", b"Plated,top,4"), r"needs its first and last layer", id="span of words"
        ),
    ],
)
def test_what_is_not_whole_is_refused(change: Callable[[Files], None], message: str) -> None:
    files = package()
    change(files)
    with pytest.raises(FencepostError, match=message):
        load_board(package_from("board", files), settings_of())


def unlabelled(files: Files, pattern: str) -> str:
    """Take the file function out of a file, and the job file that repeats it; the file's name."""
    del files[name_of(files, JOB)]
    name = name_of(files, pattern)
    files[name] = re.sub(rb"(?m)^.*TF\.FileFunction.*\n", b"", files[name])
    return name


def test_a_copper_file_that_nothing_claims_is_refused_with_its_cure_and_the_cure_works() -> None:
    files = package()
    name = unlabelled(files, L3)
    with pytest.raises(FencepostError, match=r"does not say what it is") as failed:
        load_board(package_from("board", files), settings_of())
    cure = str(failed.value).partition("\n\n")[2].partition("\n\n")[2]
    assert name in cure
    board = load_board(package_from("board", files), settings_of(cure.replace('"L1"', '"L3"')))
    assert board.layers == 4


def test_a_drill_file_without_plating_is_refused_with_its_cure_and_the_cure_works() -> None:
    files = package()
    name = unlabelled(files, PLATED)
    with pytest.raises(FencepostError, match=r"does not say whether its holes are plated") as failed:
        load_board(package_from("board", files), settings_of())
    cure = str(failed.value).partition("\n\n")[2].partition("\n\n")[2]
    assert name in cure
    board = load_board(package_from("board", files), settings_of(cure.replace("[1, 2]", "[1, 4]")))
    assert board.holes.plated.tolist().count(True) == 2


def test_the_job_file_says_what_a_gerber_file_does_not() -> None:
    files = package()
    name = name_of(files, L3)
    files[name] = re.sub(rb"(?m)^.*TF\.FileFunction.*\n", b"", files[name])
    assert load_board(package_from("board", files), settings_of()).layers == 4


def test_a_package_without_a_profile_says_what_it_took_for_one() -> None:
    files = package()
    without(PROFILE)(files)
    board = load_board(package_from("board", files), settings_of())
    assert not board.profile_given
    assert any("no profile" in assumption for assumption in board.assumptions)


def test_every_fault_of_a_package_is_reported_not_only_the_first() -> None:
    files = package()
    replaced(L1, b"M02*", b"")(files)
    replaced(L3, b"M02*", b"")(files)
    with pytest.raises(FencepostError) as failed:
        load_board(package_from("board", files), settings_of())
    assert len(str(failed.value).splitlines()) == 2
