"""Polarity, block apertures, step and repeat. Areas and extents worked by hand.

Sections of The Gerber Layer Format Specification, Ucamco, 2024.05, are from memory: 4.9 LP and the transforms, 4.11 AB,
4.12 SR.
"""

from __future__ import annotations

import math

import pytest

from fencepost.readers.artwork import Kind
from readers.gerber_image import MM, image, near, read

SQUARE = "%ADD10R,2X2*%"
SMALL = "%ADD11R,1X1*%"


def at(x: float, y: float) -> str:
    """A flash, in mm."""
    return f"X{round(x * 1e6)}Y{round(y * 1e6)}D03*"


@pytest.mark.parametrize(
    ("body", "area"),
    [
        (f"D10*{at(0, 0)}%LPC*%D11*{at(0, 0)}", 3),
        (f"D10*{at(0, 0)}%LPC*%D11*{at(0, 0)}%LPD*%{at(0.25, 0.25)}", 4 - 1 + 0.75 * 0.75),
        (f"%LPC*%D11*{at(0, 0)}%LPD*%D10*{at(0, 0)}", 4),
        (f"D10*{at(0, 0)}%LPC*%D11*{at(1, 0)}%LPD*%{at(1, 1)}", 4 - 0.5 + 1 - 0.25),
        (f"D10*{at(0, 0)}%LPC*%G36*X-500000Y-500000D02*X500000D01*Y500000D01*X-500000Y-500000D01*G37*", 3.5),
        (f"D10*{at(0, 0)}%LPC*%%ADD12R,1X1X0.5*%D12*{at(0, 0)}", 3 + math.pi / 16),
    ],
)  # fmt: skip
def test_dark_and_clear_in_drawing_order(body: str, area: float) -> None:
    """Clear takes from what was drawn before it, and not from what comes later (4.9)."""
    near(image(read(SQUARE + SMALL + body)), area)


# Block apertures

PAIR = f"%ABD20*%D11*{at(0, 0)}{at(2, 0)}%AB*%"
"""Two squares of 1, one at the origin and one 2 to its right."""


def test_a_block_is_flashed() -> None:
    """Each flash draws all of it, and the definition itself nothing (4.11)."""
    artwork = read(f"{SMALL}{PAIR}D20*{at(10, 0)}{at(0, 5)}")
    assert artwork.kind.tolist() == [Kind.FLASH] * 4
    assert artwork.xy.tolist() == [[10, 0], [12, 0], [0, 5], [2, 5]]
    assert len(artwork.tools) == 1


@pytest.mark.parametrize(
    ("state", "points"),
    [
        ("%LMX*%", [[10, 5], [8, 5]]),
        ("%LMY*%", [[10, 5], [12, 5]]),
        ("%LR90*%", [[10, 5], [10, 7]]),
        ("%LMX*%%LR90*%", [[10, 5], [10, 3]]),
        ("%LS0.5*%", [[10, 5], [11, 5]]),
        ("%LS3*%%LR180*%", [[10, 5], [4, 5]]),
    ],
)
def test_a_block_is_transformed(state: str, points: list[list[float]]) -> None:
    """LM, LR and LS act on the block as a whole, about its origin (4.9)."""
    artwork = read(f"{SMALL}{PAIR}D20*{state}{at(10, 5)}")
    assert artwork.xy.tolist() == points


def test_strokes_arcs_and_regions_in_a_block_are_transformed() -> None:
    """All points of all kinds of features, and the width of what is drawn."""
    body = "D12*G75*X1000000Y0D02*G03X0Y1000000I-1000000J0D01*G01*G36*X0Y0D02*X1000000D01*Y2000000D01*X0Y0D01*G37*"
    block = f"%ADD12C,0.2*%%ABD20*%{body}%AB*%"
    plain, placed = read(f"{block}D20*{at(0, 0)}"), read(f"{block}D20*%LMX*%%LR90*%%LS2*%{at(7, 0)}")
    # Mirroring x and then turning by 90 degrees sends (x, y) to (-y, -x).
    expected = -2 * plain.xy[:, ::-1] + (7, 0)
    assert placed.xy == pytest.approx(expected, abs=1e-12)
    assert placed.tools[0].width == pytest.approx(0.4)
    assert placed.kind.tolist() == [Kind.STROKE, Kind.FILL]


def test_transforms_in_and_of_a_block_add_up() -> None:
    """An L mirrored inside a block that is turned: first the one, then the other."""
    ell = "%AMELL*4,1,6,0,0,4,0,4,1,1,1,1,2,0,2,0,0,0*%%ADD12ELL*%"
    artwork = read(f"{ell}%ABD20*%%LMX*%D12*{at(1, 0)}%LMN*%%AB*%%LR90*%D20*{at(0, 0)}")
    # In the block: from (-4, 0) to (0, 2), moved by (1, 0). Turned by 90 degrees: x from -2 to 0, y from -3 to 1.
    near(image(artwork), 5, (-2, -3, 0, 1))
    nested = read(f"{ell}%ABD20*%%LMX*%D12*{at(1, 0)}%AB*%%LMN*%%ABD21*%%LR90*%D20*{at(0, 0)}%AB*%%LMX*%D21*{at(0, 0)}")
    # The block of the block is mirrored and turned again: (x, y) to (-y, -x).
    near(image(nested), 5, (-1, 0, 3, 2))


def test_scales_in_and_of_blocks_multiply() -> None:
    """A disc of 1 scaled by 2 in a block, by 3 in a second, by 0.5 in a third."""
    nest = f"%ABD20*%%LS2*%D12*{at(1, 0)}%AB*%%ABD21*%%LS3*%D20*{at(0, 0)}%AB*%%LS0.5*%D21*{at(0, 0)}"
    artwork = read(f"%ADD12C,1*%{nest}")
    assert artwork.tools[0].width == pytest.approx(3)
    assert artwork.points(0)[0] == pytest.approx((1.5, 0))


@pytest.mark.parametrize(
    ("outer", "area"),
    [("%LPD*%", 100 - 4 + 1), ("%LPC*%", 100 - 1)],
)
def test_polarity_of_a_block(outer: str, area: float) -> None:
    """A clear flash of a block turns clear to dark in it: a clear square of 2 with a dark one of 1 in it (4.11)."""
    ring = f"%ABD20*%%LPC*%D10*{at(0, 0)}%LPD*%D11*{at(0, 0)}%AB*%"
    ground = "%ADD13R,10X10*%"
    near(image(read(f"{SQUARE}{SMALL}{ground}{ring}D13*{at(0, 0)}{outer}D20*{at(0, 0)}")), area)


def test_clear_twice_is_dark() -> None:
    """A block flashed clear in a block that is flashed clear has its own polarity."""
    nest = f"%ABD20*%D10*{at(0, 0)}%AB*%%ABD21*%%LPC*%D20*{at(0, 0)}%AB*%%LPC*%D21*{at(0, 0)}"
    artwork = read(f"{SQUARE}{nest}")
    assert artwork.dark.tolist() == [True]


def test_a_block_takes_the_place_of_its_flash_in_drawing_order() -> None:
    """What is drawn after the flash is drawn after all of the block, and what is before it before."""
    body = f"D10*{at(0, 0)}D20*{at(5, 0)}D10*{at(9, 0)}"
    artwork = read(f"{SQUARE}{SMALL}{PAIR}{body}")
    assert artwork.xy[:, 0].tolist() == [0, 5, 7, 9]


def test_definitions_may_nest() -> None:
    """A block defined inside another is not part of it until it is flashed there, and can be used outside (4.11)."""
    inner = f"%ABD21*%D11*{at(0, 0)}{at(0, 2)}%AB*%"
    artwork = read(f"{SMALL}%ABD20*%{inner}D21*{at(1, 0)}{at(3, 0)}%AB*%D20*{at(10, 0)}D21*{at(0, 0)}")
    assert artwork.xy.tolist() == [[11, 0], [11, 2], [13, 0], [13, 2], [0, 0], [0, 2]]


def test_the_graphics_state_goes_on_through_a_block() -> None:
    """Polarity and aperture set in a definition hold after it."""
    artwork = read(f"{SQUARE}{SMALL}D10*%ABD20*%%LPC*%D11*{at(0, 0)}%AB*%{at(3, 3)}")
    assert artwork.dark.tolist() == [False]
    assert artwork.tools[0].shape.area == 1


# Step and repeat


@pytest.mark.parametrize(
    ("repeat", "points"),
    [
        ("%SRX3Y2I5.0J4.0*%", [[0, 0], [0, 4], [5, 0], [5, 4], [10, 0], [10, 4]]),
        ("%SRX2Y1I-5J0*%", [[0, 0], [-5, 0]]),
        ("%SRX2I5*%", [[0, 0], [5, 0]]),
        ("%SRY2J5*%", [[0, 0], [0, 5]]),
        ("%SRX1Y1I0J0*%", [[0, 0]]),
    ],
)
def test_order_and_place_of_copies(repeat: str, points: list[list[float]]) -> None:
    """Copies go up along y first and then along x (4.12)."""
    artwork = read(f"{SMALL}D11*{repeat}{at(0, 0)}%SR*%")
    assert artwork.xy.tolist() == points
    assert len(set(artwork.offset.tolist())) == 1


def test_steps_in_inches() -> None:
    """Steps are in the file's unit."""
    artwork = read("%ADD11R,1X1*%D11*%SRX2Y1I1J0*%X0Y0D03*%SR*%", "%FSLAX26Y26*%%MOIN*%")
    assert artwork.xy.tolist() == [[0, 0], [25.4, 0]]


def test_a_repeat_with_polarity() -> None:
    """Each copy is drawn whole before the next: the clear part of one may take from the copy before (4.12)."""
    body = f"%LPD*%D10*{at(0, 0)}%LPC*%D11*{at(-1, 0)}%LPD*%"
    near(image(read(f"{SQUARE}{SMALL}%SRX3Y1I2J0*%{body}%SR*%")), 3 * 4 - 0.5 * 3 - 0.5 * 2)


def test_what_stands_around_a_repeat() -> None:
    """What is before, between and after two repeats is drawn once, in its place."""
    one, two = f"%SRX2Y1I1J0*%{at(1, 0)}%SR*%", f"%SRX2Y1I1J0*%{at(4, 0)}%SR*%"
    artwork = read(f"{SMALL}D11*{at(0, 0)}{one}{at(3, 0)}{two}{at(6, 0)}")
    assert artwork.xy[:, 0].tolist() == [0, 1, 2, 3, 4, 5, 6]


def test_a_repeat_between_blocks() -> None:
    """Blocks flashed directly before and after a repeat keep their places."""
    repeat = f"%SRX2Y1I1J0*%D11*{at(5, 0)}%SR*%"
    artwork = read(f"{SMALL}{PAIR}D20*{at(0, 0)}{repeat}D20*{at(9, 0)}")
    assert artwork.xy[:, 0].tolist() == [0, 2, 5, 6, 9, 11]


def test_a_new_repeat_ends_the_one_before() -> None:
    """As in earlier revisions, where SRX1Y1I0J0 does so too."""
    artwork = read(f"{SMALL}D11*%SRX2Y1I1J0*%{at(0, 0)}%SRX1Y2I0J1*%{at(5, 5)}%SRX1Y1I0J0*%{at(9, 9)}")
    assert artwork.xy.tolist() == [[0, 0], [1, 0], [5, 5], [5, 6], [9, 9]]


def test_blocks_in_repeats_and_repeats_in_blocks() -> None:
    """A block of a repeat, flashed in a repeat: 3 x 2 x 2 squares."""
    block = f"%ABD20*%%SRX3Y1I2J0*%D11*{at(0, 0)}%SR*%%AB*%"
    artwork = read(f"{SMALL}{block}%SRX1Y2I0J3*%D20*{at(0, 0)}{at(10, 0)}%SR*%")
    assert len(artwork) == 12
    near(image(artwork), 12, (-0.5, -0.5, 14.5, 3.5))


def test_an_empty_repeat_and_an_unused_block() -> None:
    """Nothing comes of them."""
    assert len(read(f"{SMALL}{PAIR}%SRX1000Y1000I1J1*%%SR*%%ABD21*%%AB*%D21*{at(0, 0)}")) == 0


def test_a_region_in_a_repeat() -> None:
    """A contour in a repeat is a fill in each copy."""
    artwork = read("%SRX2Y1I3J0*%G36*X0Y0D02*X2000000D01*Y2000000D01*X0Y0D01*G37*%SR*%", MM)
    assert artwork.kind.tolist() == [Kind.FILL] * 2
    assert artwork.points(1).tolist() == [[3, 0], [5, 0], [5, 2]]
