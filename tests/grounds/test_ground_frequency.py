"""Which frequency the ground must hold, and the pitch that follows from it."""

from __future__ import annotations

import pytest

from boards import settings_of
from fencepost.grounds.frequency import ground_frequency, ground_pitch

RADIO = '[[class]]\nname = "radio"\nnets = ["RF"]\nfrequency = "2.5 GHz"\n'
SLOW = '[[class]]\nname = "slow"\nnets = ["LED"]\nrise_time = "10 ns"\n'
FAST = '[[class]]\nname = "fast"\nnets = ["D*"]\nrise_time = "100 ps"\n'


@pytest.mark.parametrize(
    ("settings", "hertz", "words"),
    [
        ("", None, ""),
        ('[[class]]\nname = "a"\nnets = ["A"]\n', None, ""),
        ('[board]\nfrequency = "868 MHz"\n', 868e6, "868 MHz"),
        ('[board]\nfrequency = "868 MHz"\n' + RADIO, 868e6, "868 MHz"),
        (RADIO + SLOW, 2.5e9, 'the 2.5 GHz of class "radio"'),
        (SLOW + RADIO + FAST, 3.5e9, 'the 3.5 GHz of class "fast"'),  # 0.35 / 100 ps
    ],
)
def test_the_board_s_own_or_else_the_highest_of_a_class(settings: str, hertz: float | None, words: str) -> None:
    found = ground_frequency(settings_of(settings))
    assert (found.value if found else None) == (pytest.approx(hertz) if hertz else None)
    assert (found.words if found else "") == words


@pytest.mark.parametrize(
    ("distance", "pitch", "reason"),
    [
        # 299.792458 / (2.5 x sqrt(4.3)) = 57.83 mm, an eighth of it 7.23 mm
        (10.0, 7.2286, "1/8 of a wavelength at 2.5 GHz"),
        (7.0, 7.0, "the distance in the settings"),
    ],
)
def test_the_smaller_of_wave_and_distance(distance: float, pitch: float, reason: str) -> None:
    frequency = ground_frequency(settings_of('[board]\nfrequency = "2.5 GHz"\n'))
    assert frequency is not None
    limit = ground_pitch(frequency, 4.3, 8, distance)
    assert (limit.distance, limit.reason) == (pytest.approx(pitch, abs=1e-4), reason)
