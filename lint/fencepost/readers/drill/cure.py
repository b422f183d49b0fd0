"""The lines of settings that tell what a drill file does not say of itself."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePosixPath

from fencepost.frozen import dataclass
from fencepost.settings.model import DrillClaim
from fencepost.settings.written import key_part, written

_USUAL_DIGITS = {"mm": [3, 3], "inch": [2, 4]}
"""What Excellon machines start with. Offered for a person to check, never assumed."""


@dataclass(frozen=True)
class Wanted:
    """What must be told, beyond what settings tell already: the number format's parts, and sizes of tools."""

    plated: bool | None
    unit: bool
    digits: bool
    zeros: bool
    tools: Sequence[str]


def settings_lines(file: str, claim: DrillClaim | None, wanted: Wanted, unit: str | None) -> str:
    """A `[drill]` table to paste in the place of the file's present one, if any.

    `unit` is the file's, where it is known; `wanted.plated` what the file says of its plating.
    """
    told = claim or DrillClaim(plated=wanted.plated is not False)
    lines = [f"[drill.{key_part(PurePosixPath(file).name)}]", _line("plated", told.plated)]
    if claim is None and wanted.plated is None:
        lines[-1] += "  # false where the holes have no plating"
    if told.span is not None:
        lines.append(_line("span", list(told.span)))
    if told.unit is not None or wanted.unit:
        lines.append(_line("unit", told.unit or "mm", "" if told.unit else 'or "inch"'))
    if told.digits is not None or wanted.digits:
        usual = _USUAL_DIGITS.get(unit or told.unit or "mm")
        digits = list(told.digits) if told.digits else usual
        lines.append(_line("digits", digits, "" if told.digits else "whole and decimal digits: check them"))
    if told.zeros is not None or wanted.zeros:
        lines.append(_line("zeros", told.zeros or "trailing", "" if told.zeros else 'those kept: or "leading"'))
    if told.tools or wanted.tools:
        lines.append(_line("tools", told.tools | dict.fromkeys(wanted.tools, "? mm")))
    return "\n".join(lines)


def _line(key: str, value: object, note: str = "") -> str:
    return f"{key} = {written(value)}" + (f"  # {note}" if note else "")
