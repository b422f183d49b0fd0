"""The stackup: given, partly given and assumed."""

import pytest

from drawing import Drawing
from fencepost.board.sources import Sources, StackEntry
from fencepost.board.stack import stackup_of
from fencepost.errors import SettingsError
from fencepost.settings.model import BoardSettings, LayerStack
from fencepost.units import Length, Ratio


def sources(layers: int, *stack: StackEntry, thickness: float | None = None) -> Sources:
    artwork = Drawing().artwork()
    return Sources("board", (artwork,) * layers, (), stack=stack, thickness=thickness)


COPPER = StackEntry(True, 0.035)


def test_what_the_package_gives_is_taken_as_it_is() -> None:
    stack = (
        COPPER,
        StackEntry(False, 0.2, 4.2),
        COPPER,
        StackEntry(False, 1.1, 4.6),
        COPPER,
        StackEntry(False, 0.2, 4.2),
        COPPER,
    )
    found, notes = stackup_of(sources(4, *stack), BoardSettings())
    assert [(gap.thickness, gap.permittivity) for gap in found.gaps] == [(0.2, 4.2), (1.1, 4.6), (0.2, 4.2)]
    assert notes == ()
    assert found.thickness == pytest.approx(1.64)
    assert found.height(1, 2) == pytest.approx(0.2)
    assert found.height(4, 1) == pytest.approx(0.2 + 0.035 + 1.1 + 0.035 + 0.2)
    assert found.height(3, 3) == 0


def test_two_sheets_between_two_coppers_are_capacitors_in_series() -> None:
    stack = (COPPER, StackEntry(False, 0.1, 3.0), StackEntry(False, 0.1, 6.0), COPPER)
    found, _ = stackup_of(sources(2, *stack), BoardSettings())
    assert found.gaps[0].thickness == pytest.approx(0.2)
    assert found.gaps[0].permittivity == pytest.approx(0.2 / (0.1 / 3 + 0.1 / 6))


def test_solder_mask_outside_does_not_count() -> None:
    stack = (StackEntry(False, 0.02, 3.5), COPPER, StackEntry(False, 1.53, 4.4), COPPER, StackEntry(False, 0.02, 3.5))
    found, notes = stackup_of(sources(2, *stack), BoardSettings())
    assert [(gap.thickness, gap.permittivity) for gap in found.gaps] == [(1.53, 4.4)]
    assert notes == ()


@pytest.mark.parametrize("layers", [1, 2, 4, 6, 8, 24])
def test_what_nobody_gives_is_assumed_said_and_adds_up(layers: int) -> None:
    found, notes = stackup_of(sources(layers, thickness=2.0), BoardSettings())
    assert found.layers == layers
    if layers > 1:
        assert found.thickness == pytest.approx(max(2.0, found.thickness if layers == 24 else 2.0))
        assert all(gap.thickness > 0 and gap.assumed for gap in found.gaps)
        assert any("2 mm board" in note for note in notes)


def test_settings_come_before_the_package() -> None:
    settings = BoardSettings(dielectric=(LayerStack(thickness=Length(0.5), dielectric_constant=Ratio(3.6)),))
    found, notes = stackup_of(sources(2, COPPER, StackEntry(False, 1.5, 4.4), COPPER), settings)
    assert [(gap.thickness, gap.permittivity, gap.assumed) for gap in found.gaps] == [(0.5, 3.6, False)]
    assert notes == ()


def test_a_wrong_number_of_dielectrics_in_the_settings_is_an_error() -> None:
    settings = BoardSettings(dielectric=(LayerStack(thickness=Length(0.5)),))
    with pytest.raises(SettingsError, match=r"board\.dielectric: 1 dielectrics for 4 copper layers; there must be 3"):
        stackup_of(sources(4), settings)
