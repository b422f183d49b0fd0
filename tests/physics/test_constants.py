"""Constants of nature, against those that scipy has from CODATA."""

from __future__ import annotations

import pytest
import scipy.constants

from fencepost.physics.wires import EPSILON, ETA, MU


@pytest.mark.parametrize(
    ("own", "known"),
    (
        (MU, scipy.constants.mu_0 * 1e-3),
        (EPSILON, scipy.constants.epsilon_0 * 1e-3),
        (ETA, scipy.constants.physical_constants["characteristic impedance of vacuum"][0]),
    ),
)
def test_constants_are_those_of_codata(own: float, known: float) -> None:
    """To 1e-9: scipy's may be of another year."""
    assert own == pytest.approx(known, rel=1e-9)
