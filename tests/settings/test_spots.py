"""Points of the board in the settings."""

import pytest

from boards import settings_of
from fencepost.errors import SettingsError
from fencepost.settings.written import written


@pytest.mark.parametrize(
    ("text", "points"),
    [
        ('"12.5, -3"', [(12.5, -3.0, None)]),
        ('" 12.5,-3 , L2 "', [(12.5, -3.0, 2)]),
        ('["0, 0", "+1., .5, L16"]', [(0.0, 0.0, None), (1.0, 0.5, 16)]),
    ],
)
def test_one_or_several_points(text: str, points: list[tuple[float, float, int | None]]) -> None:
    """In mm, with a layer or without."""
    spots = settings_of(f"[nets]\nground_at = {text}").nets.ground_at
    assert spots is not None
    assert [(spot.x, spot.y, spot.layer) for spot in spots] == points


def test_points_are_written_as_they_are_read() -> None:
    """For the drafts of settings."""
    text = 'ground_at = ["12.5, -3", "1, 2, L2"]'
    spots = settings_of(f"[nets]\n{text}").nets.ground_at
    assert f"ground_at = {written(spots)}" == text


BAD = ["12.5", "12.5 -3", "a, b", "1, 2, 3", "1, 2, L0", "1, 2, top", "1e400, 2", "nan, 1", "", "1 mm, 2 mm"]


@pytest.mark.parametrize("text", [*(f'"{text}"' for text in BAD), "12.5", "[]", "[1, 2]", '["1, 2", ""]'])
def test_what_is_no_point_is_refused_with_its_key(text: str) -> None:
    """And with the way to write one."""
    with pytest.raises(SettingsError) as caught:
        settings_of(f"[nets]\nground_at = {text}")
    assert caught.value.key == "nets.ground_at"
    assert "names no point" in caught.value.message or 'write it as "12.5, -3"' in caught.value.message
