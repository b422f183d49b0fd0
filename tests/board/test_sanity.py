"""Files that do not lie over one another are refused with their names; boards that are only unusual are not."""

import re
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from boards import board_from
from fencepost.board import sanity
from fencepost.errors import FencepostError
from sketch import Sketch

Files = dict[str, bytes]
SCATTERED = [
    *((2, 3), (5.3, 2.1), (8.7, 4.4), (3.1, 7.9), (11.4, 6.2), (14.9, 3.3)),
    *((17.2, 8.8), (6.6, 12.7), (10.1, 15.3), (15.8, 13.6), (3.9, 16.4), (18.3, 17.1)),
]
"""Places that fit themselves nowhere else."""


def design(**options: object) -> Sketch:
    """Four layers with vias in irregular places, their pads on L1 to L4, and enough traces to be a design."""
    sketch = Sketch(layers=4)
    sketch.vias("GND", SCATTERED, **options)
    for row in range(30):
        for layer in (1, 4):
            sketch.trace("SIG", layer, [(1, 0.5 + row * 0.6), (1.4, 0.5 + row * 0.6), (1.4, 0.7 + row * 0.6)])
    return sketch


def name_of(files: Files, pattern: str) -> str:
    return next(name for name, data in files.items() if re.search(pattern.encode(), data))


L1, L2, L4 = r"Copper,L1,Top\*%", r"Copper,L2,Inr\*%", r"Copper,L4,Bot\*%"
PLATED, PROFILE = r"TF\.FileFunction,Plated", r"Profile,NP\*%"


def emptied(files: Files, name: str) -> None:
    files[name] = re.sub(rb"(?s)\nD\d+\*.*M02\*", b"\nM02*", files[name])


def unit(files: Files, name: str) -> None:
    """The numbers stay, and the unit is another one: inches for millimetres."""
    changed = files[name].replace(b"%MOMM*%", b"%MOIN*%").replace(b"METRIC", b"INCH")
    assert changed != files[name]
    files[name] = changed


def tenfold(files: Files, name: str) -> None:
    if b"METRIC" in files[name]:
        scaled = re.sub(rb"(?m)(?<=[XY])-?[\d.]+", lambda match: b"%.4f" % (float(match[0]) * 10), files[name])
    else:
        scaled = re.sub(rb"%FSLAX(\d)6Y\d6\*%", rb"%FSLAX\g<1>5Y\g<1>5*%", files[name])
    assert scaled != files[name]
    files[name] = scaled


def moved(files: Files, name: str) -> None:
    files[name] = re.sub(rb"(?m)(?<=X)-?[\d.]+", lambda match: b"%.4f" % (float(match[0]) + 7.3), files[name])


def opened(files: Files, name: str) -> None:
    """The last side of the profile is left out."""
    lines = files[name].splitlines()
    last = max(i for i, line in enumerate(lines) if line.endswith(b"D01*"))
    files[name] = b"\n".join(lines[:last] + lines[last + 1 :])


@pytest.mark.parametrize(
    ("pattern", "change", "said"),
    [
        pytest.param(L2, emptied, "copper layer L2 is empty", id="an empty layer"),
        pytest.param(L1, unit, "far out of the profile", id="copper in another unit"),
        pytest.param(L1, tenfold, "far out of the profile", id="copper ten times as large"),
        pytest.param(PLATED, unit, "far out of the profile", id="holes in another unit"),
        pytest.param(PLATED, tenfold, "far out of the profile", id="holes ten times as large"),
        pytest.param(PROFILE, unit, "the profile, .* is not that of the copper", id="the profile in another unit"),
        pytest.param(PROFILE, opened, "the profile does not close at", id="an open profile"),
        pytest.param(PLATED, moved, r"100% if they were moved by \(-7.300, 0.000\) mm", id="holes from another origin"),
    ],
)
def test_files_that_do_not_belong_together_are_refused_by_name(
    pattern: str, change: Callable[[Files, str], None], said: str
) -> None:
    files = design().gerber()
    name = name_of(files, pattern)
    change(files, name)
    with pytest.raises(FencepostError, match=said) as failed:
        board_from(files)
    assert str(failed.value).startswith(f"board/{name}:")


@pytest.mark.parametrize(("pattern", "factor"), [(PLATED, "25.4"), (L1, "25.4")])
def test_a_file_in_millimetres_beside_others_in_inches(pattern: str, factor: str) -> None:
    """It is too small, so that nothing lies outside: the holes that miss the pads tell."""
    files = design().gerber(units="inch")
    name = name_of(files, pattern)
    files[name] = files[name].replace(b"%MOIN*%", b"%MOMM*%").replace(b"INCH", b"METRIC")
    with pytest.raises(FencepostError, match=factor) as failed:
        board_from(files)
    assert str(failed.value).startswith(f"board/{name}:")


def test_without_a_profile_scaled_holes_are_found_all_the_same() -> None:
    files = design().gerber()
    del files[name_of(files, PROFILE)]
    unit(files, name_of(files, PLATED))
    with pytest.raises(FencepostError, match=r"scaled 0\.03937 times"):
        board_from(files)


@pytest.mark.parametrize("options", [{}, {"move": (250.0, -90.0)}, {"turn": 30.0}, {"units": "inch"}, {"mirror": True}])
def test_the_board_itself_is_read_wherever_it_lies(options: dict[str, object]) -> None:
    assert len(board_from(design().gerber(**options)).holes) == len(SCATTERED)


def test_boards_without_via_pads_are_read() -> None:
    sketch = design(pads=())
    sketch.pour("GND", 2)
    sketch.pour("GND", 3)
    for i, (x, y) in enumerate(SCATTERED):
        sketch.pad(f"R{i}", "1", "SIG", 1, (x + 0.9, y), (0.4, 0.4))
    assert len(board_from(sketch.gerber()).holes) == len(SCATTERED)


def test_a_grid_of_pads_beside_a_grid_of_holes_is_no_shift() -> None:
    """A grid fits itself half a pitch away: that proves nothing, and is read."""
    sketch = Sketch(layers=2)
    for row in range(8):
        for column in range(8):
            sketch.via("GND", (3 + column, 3 + row), pads=())
            sketch.pad("U1", f"{row}.{column}", "SIG", 1, (3.5 + column, 3.5 + row), 0.4, "round")
    assert len(board_from(sketch.gerber()).holes) == 64


@pytest.mark.parametrize("number", ["99999999", "9" * 5000])
@pytest.mark.parametrize(("pattern", "old"), [(L4, b"Copper,L4,Bot"), (PLATED, b"Plated,1,4")])
def test_no_layer_number_keeps_the_reader_busy(pattern: str, old: bytes, number: str) -> None:
    files = design().gerber()
    name = name_of(files, pattern)
    files[name] = files[name].replace(old, old.replace(b"4", number.encode()))
    with pytest.raises(
        FencepostError, match=r"limit layers|limit name_length|needs a layer|needs its first|board has 4"
    ):
        board_from(files)


def test_limits_are_settings() -> None:
    with pytest.raises(FencepostError, match=r"limit points"):
        board_from(design().gerber(), "[limits]\npoints = 20")
    with pytest.raises(FencepostError, match=r"limit hits"):
        board_from(design().gerber(), "[limits]\nhits = 3")
    with pytest.raises(FencepostError, match=r"limit layers"):
        board_from(design().gerber(), "[limits]\nlayers = 3")
    with pytest.raises(FencepostError, match=r"limit seconds"):
        board_from(design().gerber(), "[limits]\nseconds = 0.000000002")


@pytest.mark.parametrize("line", ["points = 0", 'points = "many"', "seconds = -1", "seconds = nan", "digits = 3",
                                  "coordinate_digits = 40", "reach = inf"])  # fmt: skip
def test_limits_that_are_none_are_settings_errors(line: str) -> None:
    with pytest.raises(FencepostError, match=r"limits"):
        board_from(design().gerber(), f"[limits]\n{line}")


POINTS = st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=1, unique=True).map(
    lambda rows: np.array(rows) / 10
)


@given(POINTS, POINTS)
def test_the_quick_look_finds_no_more_holes_on_pads_than_the_whole_one(pads: NDArray, holes: NDArray) -> None:
    alike = sanity._share_alike(pads, holes)
    assert alike == len(set(map(tuple, pads)) & set(map(tuple, holes))) / len(holes)
    assert alike <= sanity._share(pads, holes)
