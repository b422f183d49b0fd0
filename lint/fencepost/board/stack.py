"""The stackup, from the package, the settings, or an assumption that is said."""

from __future__ import annotations

from fencepost.board.sources import Sources
from fencepost.board.stackup import Gap, Stackup
from fencepost.errors import SettingsError
from fencepost.readers.material import permittivity_fault, thickness_fault
from fencepost.settings.model import BoardSettings

COPPER_MM = 0.035
"""Where nobody gives it: 1 oz/ft² copper (common practice, no source)."""

BOARD_MM = 1.6
OUTER_MM = 0.2
PERMITTIVITY = 4.3
"""Where nobody gives them: common practice, no source."""


def stackup_of(sources: Sources, settings: BoardSettings) -> tuple[Stackup, tuple[str, ...]]:
    """The stackup and what had to be assumed for it. Settings come before the package, since a person wrote them.

    Raises SettingsError where the settings give the wrong number of dielectrics, or one that cannot be.
    """
    _check(settings)
    layers = len(sources.copper)
    coppers, gaps = _given(sources, layers)
    thickness: list[float | None]
    constants: list[float | None]
    if settings.dielectric:
        if len(settings.dielectric) != layers - 1:
            said = f"{len(settings.dielectric)} dielectrics for {layers} copper layers; there must be {layers - 1}"
            raise SettingsError("", "board.dielectric", said)
        thickness = [float(entry.thickness) for entry in settings.dielectric]
        constants = [entry.dielectric_constant or settings.dielectric_constant for entry in settings.dielectric]
    else:
        thickness = [gap[0] for gap in gaps]
        constants = [settings.dielectric_constant or gap[1] for gap in gaps]

    assumptions = []
    copper = tuple(COPPER_MM if given is None else given for given in coppers)
    guessed = [i for i, given in enumerate(thickness) if given is None]
    if guessed:
        total = settings.thickness or sources.thickness
        board = f"a {total:g} mm board" if total else f"a {BOARD_MM} mm board"
        filled = _shared_out(thickness, (total or BOARD_MM) - sum(copper))
        listed = ", ".join(f"{value:.3g}" for value in filled)
        assumptions.append(f"stackup: dielectrics of {listed} mm from the top, for {board} (common practice)")
    else:
        filled = [value for value in thickness if value is not None]
    if any(constant is None for constant in constants):
        assumptions.append(f"stackup: relative permittivity {PERMITTIVITY} where none is given (common practice)")
    return (
        Stackup(
            tuple(
                Gap(value, float(constant or PERMITTIVITY), assumed=i in guessed or constant is None)
                for i, (value, constant) in enumerate(zip(filled, constants, strict=True))
            ),
            copper,
        ),
        tuple(assumptions),
    )


def _check(settings: BoardSettings) -> None:
    sheets = [("board", settings.thickness, settings.dielectric_constant)]
    sheets += [
        (f"board.dielectric[{i}]", entry.thickness, entry.dielectric_constant)
        for i, entry in enumerate(settings.dielectric)
    ]
    for place, thickness, constant in sheets:
        if thickness is not None and (said := thickness_fault(thickness)):
            raise SettingsError("", f"{place}.thickness", said)
        if constant is not None and (said := permittivity_fault(constant)):
            raise SettingsError("", f"{place}.dielectric_constant", said)


def _given(sources: Sources, layers: int) -> tuple[list[float | None], list[tuple[float | None, float | None]]]:
    """Copper thicknesses, and thickness and permittivity of each gap, as far as the package gives them."""
    copper: list[float | None] = []
    gaps: list[tuple[float | None, float | None]] = []
    between: list[tuple[float | None, float | None]] = []
    for entry in sources.stack:
        if entry.copper:
            if copper:
                gaps.append(_in_series(between))
            copper.append(entry.thickness)
            between = []
        elif copper:
            between.append((entry.thickness, entry.permittivity))
    if len(copper) != layers:
        return [None] * layers, [(None, None)] * (layers - 1)
    return copper, gaps


def _in_series(sheets: list[tuple[float | None, float | None]]) -> tuple[float | None, float | None]:
    """Several sheets between two coppers as one: thicknesses add, permittivities combine as capacitors in series."""
    thickness = [sheet[0] for sheet in sheets if sheet[0] is not None]
    if len(thickness) != len(sheets) or not sheets or sum(thickness) <= 0:
        return None, next((sheet[1] for sheet in sheets if sheet[1] is not None), None)
    constants = [(t, e) for t, e in sheets if t is not None and e is not None]
    if len(constants) != len(sheets):
        return sum(thickness), next((e for _, e in constants), None)
    return sum(thickness), sum(thickness) / sum(t / e for t, e in constants)


def _shared_out(thickness: list[float | None], total: float) -> list[float]:
    """Fill what is not given: thin dielectrics outside, what is left shared equally inside."""
    known = sum(value for value in thickness if value is not None)
    free = [i for i, value in enumerate(thickness) if value is None]
    left = max(total - known, 0.05 * len(free))
    outer = [i for i in free if i in (0, len(thickness) - 1)] if len(thickness) > 2 else []
    inner = [i for i in free if i not in outer]
    each = min(OUTER_MM, left / len(free))
    share = dict.fromkeys(outer, each)
    if inner:
        share |= {i: (left - each * len(outer)) / len(inner) for i in inner}
    elif outer:
        share = dict.fromkeys(outer, left / len(outer))
    return [share[i] if value is None else value for i, value in enumerate(thickness)]
