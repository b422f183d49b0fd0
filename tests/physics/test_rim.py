"""Posts round a board, and the resonances between its planes."""

from __future__ import annotations

import numpy as np
import pytest
import skrf
from skrf.media import RectangularWaveguide

from fencepost.physics.rim import fenced_resonance, gaps_along, open_resonance, rim_posts


@pytest.mark.parametrize(
    ("width", "height", "pitch", "expected"),
    [(60, 40, 2, 100), (60, 40, 2.07, 98), (60, 40, 1.9999, 104), (60, 40, 100, 4), (0.6, 0.3, 0.1, 18)],
)
def test_posts_round_a_rim(width: float, height: float, pitch: float, expected: int):
    """Counted by hand: 30 and 20 gaps on two sides each, and so on."""
    assert rim_posts(width, height, pitch) == expected


@pytest.mark.parametrize("pitch", [0.7, 1.3, 9.9, 40.0])
def test_posts_set_at_equal_gaps_keep_to_the_pitch_and_one_less_would_not(pitch: float):
    for side in (60.0, 40.0):
        gaps = gaps_along(side, pitch)
        assert np.diff(np.linspace(0, side, gaps + 1)).max() <= pitch + 1e-9
        assert gaps == 1 or side / (gaps - 1) > pitch


@pytest.mark.parametrize("er", [1.0, 4.3])
@pytest.mark.parametrize(("width", "height"), [(60.0, 40.0), (40.0, 60.0), (50.0, 50.0)])
def test_planes_resonate_where_a_guide_of_their_outline_cuts_off(width: float, height: float, er: float):
    """scikit-rf, media.RectangularWaveguide: at cut-off nothing changes along the guide, as between two planes. An open
    rim makes half a wave along one side, as in mode TE10; a closed one half a wave along both, as in mode TM11."""
    band = skrf.Frequency(1, 2, 2, "ghz")
    long, short = max(width, height) / 1000, min(width, height) / 1000
    bare = RectangularWaveguide(band, a=long, b=short, ep_r=er, mode_type="te", m=1, n=0)
    closed = RectangularWaveguide(band, a=long, b=short, ep_r=er, mode_type="tm", m=1, n=1, model="marcuvitz")
    assert open_resonance(width, height, er) == pytest.approx(bare.f_cutoff, rel=1e-5)
    assert fenced_resonance(width, height, er) == pytest.approx(closed.f_cutoff, rel=1e-5)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: rim_posts(0.0, 40.0, 2.0), "a side of 0 mm"),
        (lambda: rim_posts(60.0, 40.0, 0.0), "a pitch of 0 mm"),
        (lambda: open_resonance(60.0, -1.0, 4.0), "a side of -1 mm"),
        (lambda: open_resonance(60.0, 40.0, 0.5), "a relative permittivity of 0.5"),
        (lambda: fenced_resonance(60.0, 0.0, 4.0), "0 mm"),
    ],
)
def test_boards_that_cannot_be_are_refused(call, said: str):
    with pytest.raises(ValueError, match=said.replace(".", r"\.")):
        call()
