"""The number format and the tool sizes of a drill file, from what it says of itself and what settings add."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from fencepost.errors import InputError
from fencepost.frozen import dataclass
from fencepost.limits import Limits
from fencepost.readers.drill.cure import Wanted, settings_lines
from fencepost.readers.drill.facts import Facts, Said
from fencepost.readers.drill.grammar import quoted
from fencepost.readers.drill.numbers import LONGEST, POWERS, Words
from fencepost.readers.drill.remarks import tool_name
from fencepost.settings.model import DrillClaim
from fencepost.source import SourceFile
from fencepost.units import MM_PER_INCH

_UNITS = {"mm": 1.0, "inch": MM_PER_INCH}
_KEPT = ("leading", "trailing")
_SAME_MM = 1e-6

T = TypeVar("T")


@dataclass(frozen=True)
class NumberFormat:
    """How the numbers of a file are to be read. None is what neither the file nor the settings say.

    `missing` names those parts that the file cannot do without, and `cure` the settings that supply them.
    """

    source: SourceFile
    limits: Limits
    unit: str | None
    digits: tuple[int, int] | None
    zeros: str | None
    missing: str
    cure: str

    def millimetres(self, words: Words, at: int) -> NDArray[np.float64]:
        """The numbers of a run that begins at byte `at`, float64 (w). Raises InputError for what cannot be known."""
        most = self.limits.coordinate_digits
        self._refuse(words, at, np.isnan(words.number), f"the number has more than {LONGEST} digits")
        self._refuse(
            words, at, words.digits > most, f"the number has more than {most} digits (limit coordinate_digits)"
        )
        value: NDArray[np.float64] = words.number / POWERS[np.maximum(words.decimals, 0)]
        fixed = (words.decimals < 0) & (words.number != 0) & (words.letter != ord("G"))
        if fixed.any():
            value[fixed] = self._with_point(words, at, fixed)
        value = value * self.scale(at) + 0.0  # so that there is no -0.0
        beyond = (np.abs(value) > self.limits.reach) & (words.letter != ord("G"))
        self._refuse(words, at, beyond, f"a coordinate of more than {self.limits.reach:g} mm (limit reach)")
        return value

    def scale(self, at: int) -> float:
        """Millimetres in the file's unit."""
        if self.unit is None:
            raise self._missing(at)
        return _UNITS[self.unit]

    def _with_point(self, words: Words, at: int, fixed: NDArray[np.bool_]) -> NDArray[np.float64]:
        if self.digits is None:
            raise self._missing(at + int(words.offset[fixed][0]))
        whole, decimal = self.digits
        too_long = fixed & (words.digits > whole + decimal)
        self._refuse(words, at, too_long, f"the number has more digits than the format {whole}:{decimal}")
        short = fixed & (words.digits < whole + decimal)
        if self.zeros is None and short.any():
            raise self._missing(at + int(words.offset[short][0]))
        number = words.number[fixed]
        if self.zeros == "leading":  # the digits that are left out stand at the end
            number = number * POWERS[whole + decimal - words.digits[fixed]]
        value: NDArray[np.float64] = number / POWERS[decimal]
        return value

    def _refuse(self, words: Words, at: int, wrong: NDArray[np.bool_], message: str) -> None:
        if wrong.any():
            raise self.source.error(at + int(words.offset[wrong][0]), message)

    def _missing(self, offset: int) -> InputError:
        return self.source.error(offset, f"the file does not say {self.missing}", self.cure)


@dataclass(frozen=True)
class ToolSizes:
    """The diameters of the tools. `claimed` are those of the settings, in mm."""

    format: NumberFormat
    facts: Facts
    claimed: dict[str, float]

    def diameter(self, name: str, at: int) -> float:
        """In mm, for a tool that is taken up at byte `at`. Raises InputError where it is unknown, zero or in doubt."""
        source, limits = self.format.source, self.format.limits
        for written in self.facts.sizes.get(name, ()):
            if len(written.value) > limits.number_characters:
                said = f"a number of more than {limits.number_characters} characters (limit number_characters)"
                raise source.error(written.offset, said)
        told = [
            (float(size.value) * self.format.scale(size.offset), size.offset)
            for size in self.facts.sizes.get(name, ())
            if "." in size.value
        ] or [(remark.value, remark.offset) for remark in self.facts.remarked.get(name, ())]
        if not told:
            if name not in self.claimed:
                raise self._missing(name, at)
            return self.claimed[name]
        first = told[0][0]
        for size, offset in told:
            if not 0 < size <= limits.reach:
                raise source.error(offset, f"{name} has a diameter of {size:g} mm")
            if abs(size - first) > _SAME_MM:
                raise source.error(offset, f"{name} has a diameter of {size:g} mm here, and of {first:g} mm before")
        claimed = self.claimed.get(name, first)
        if abs(claimed - first) > _SAME_MM:
            raise source.error(told[0][1], f"{name} has a diameter of {first:g} mm, but {claimed:g} mm in the settings")
        return first

    def _missing(self, name: str, at: int) -> InputError:
        source = self.format.source
        if sizes := self.facts.sizes.get(name):
            text = f"the diameter {quoted(sizes[0].value)} of {name} has no decimal point, so it is open to doubt"
            return source.error(sizes[0].offset, text, self.format.cure)
        others = [other for other in _without_size(self.facts, self.claimed) if other != name]
        more = f", and neither do {', '.join(others)}" if others else ""
        return source.error(at, f"{name} has no diameter in this file{more}", self.format.cure)


def settle(
    source: SourceFile, facts: Facts, claim: DrillClaim | None, limits: Limits
) -> tuple[NumberFormat, ToolSizes]:
    """Number format and tool sizes. Raises InputError where the file contradicts itself or the settings."""
    _check(source, facts, claim)
    unit = _agreed(source, "unit of the file", facts.unit, claim.unit if claim else None)
    digits = _agreed(source, "digits of a coordinate", facts.digits, claim.digits if claim else None)
    zeros = _agreed(source, "zeros that are kept", facts.zeros, claim.zeros if claim else None)
    claimed = {tool_name(name): float(size) for name, size in claim.tools.items()} if claim else {}
    wanted = Wanted(
        plated=facts.plated,
        unit=unit is None,
        digits=digits is None and facts.without_point,
        zeros=zeros is None and facts.without_point,
        tools=_without_size(facts, claimed),
    )
    parts = {
        "its unit": wanted.unit,
        "how many digits a coordinate has": wanted.digits,
        "which zeros are kept": wanted.zeros,
    }
    missing = " or ".join(text for text, is_wanted in parts.items() if is_wanted)
    cure = settings_lines(source.name, claim, wanted, unit)
    number_format = NumberFormat(source, limits, unit, digits, zeros, missing, cure)
    return number_format, ToolSizes(number_format, facts, claimed)


def _without_size(facts: Facts, claimed: dict[str, float]) -> list[str]:
    """The tools in use whose diameter nobody tells."""
    sized = {name for name, sizes in facts.sizes.items() if any("." in size.value for size in sizes)}
    return [name for name in facts.uses if name not in sized | facts.remarked.keys() | claimed.keys()]


def _agreed(source: SourceFile, what: str, said: Sequence[Said[T]], claimed: T | None) -> T | None:
    """The one value that all statements give."""

    def shown(value: T) -> str:
        return ":".join(map(str, value)) if isinstance(value, tuple) else str(value)

    if not said:
        return claimed
    first = said[0].value
    for value, offset in said:
        if value != first:
            raise source.error(offset, f"{what}: {shown(value)} here, but {shown(first)} before")
    if claimed is not None and claimed != first:
        raise source.error(said[0].offset, f"{what}: {shown(first)} here, but {shown(claimed)} in the settings")
    return first


def _check(source: SourceFile, facts: Facts, claim: DrillClaim | None) -> None:
    """Settings that mean nothing for this file."""
    if claim is None:
        return
    if claim.unit is not None and claim.unit not in _UNITS:
        raise source.error(0, f'the settings give it the unit {quoted(claim.unit)}; it can be "mm" or "inch"')
    if claim.zeros is not None and claim.zeros not in _KEPT:
        raise source.error(0, f'the settings keep its {quoted(claim.zeros)} zeros; it can be "leading" or "trailing"')
    if claim.digits is not None and not all(0 <= count <= 9 for count in claim.digits):
        raise source.error(0, f"the settings give its coordinates {claim.digits} digits; it can be 0 to 9 of each kind")
    for name in claim.tools:
        if re.fullmatch(r"[Tt]?\d{1,6}", name) is None or tool_name(name) not in facts.defined:
            raise source.error(0, f"the settings give a diameter to {quoted(name)}, which is no tool of this file")
