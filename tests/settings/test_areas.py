"""Points and boxes of waivers, with units."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencepost.settings.areas import Box, Point


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("31.2 mm, 18.45 mm", (31.2, 18.45)),
        ("31.2, 18.45 mm", (31.2, 18.45)),
        ("-1in,+.5 in", (-25.4, 12.7)),
        ("100 mil, 1 mm", (2.54, 1.0)),
        ("0, 0 mm", (0.0, 0.0)),
    ],
)
def test_a_point_is_read_in_millimetres(text, mm):
    """1 inch is 25.4 mm (international yard and pound agreement, 1959)."""
    assert Point.parse(text).mm == pytest.approx(mm)
    assert re.fullmatch(Point.pattern(), text)


@pytest.mark.parametrize(
    "text", ["", "1 mm", "1, 2", "1 mm, 2", "1, 2, 3 mm", "a, b mm", "1, 2 furlong", "1 2 mm", 5, [1, 2]]
)
def test_what_is_no_point_is_refused_with_an_example(text):
    with pytest.raises(ValueError, match="mm"):
        Point.parse(text)
    assert not isinstance(text, str) or not re.fullmatch(Point.pattern(), text)


@given(st.tuples(*[st.integers(-500, 500)] * 4), st.integers(-600, 600), st.integers(-600, 600))
def test_a_box_holds_what_lies_between_its_corners_whichever_they_are(corners, x, y):
    x0, y0, x1, y1 = corners
    inside = sorted((x0, x, x1))[1] == x and sorted((y0, y, y1))[1] == y
    for text in (f"{x0}, {y0}, {x1}, {y1} mm", f"{x1}, {y0}, {x0}, {y1} mm"):
        assert Box.parse(text).holds(x, y) == inside
