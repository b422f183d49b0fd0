"""What holds for a whole file: coordinate format, unit, and the deprecated commands on the whole image."""

from __future__ import annotations

from dataclasses import dataclass

from lark import Token, Tree

from fencepost.limits import Limits
from fencepost.readers.gerber.operations import Format
from fencepost.readers.gerber.syntax import number_in, offset_of, tokens_of
from fencepost.source import SourceFile
from fencepost.units import MM_PER_INCH

_UNIT_MM = {"MM": 1.0, "IN": MM_PER_INCH}
_UNIT_OF_CODE = {"G70": "IN", "G71": "MM"}
_NOTATION_OF_CODE = {"G90": "A", "G91": "I"}
_NEUTRAL = {"MI": 0.0, "OF": 0.0, "SF": 1.0, "IR": 0.0}
_NEUTRAL_WORD = {"IP": "POS", "AS": "AXBY"}


@dataclass
class Setup:
    """FS, MO, G70, G71, G90, G91, and IP, AS, IR, MI, OF, SF. Each method follows one command or raises InputError."""

    source: SourceFile
    limits: Limits
    _format: tuple[str, str, str, str] | None = None
    _unit: str = ""

    def set_format(self, statement: Tree[Token]) -> None:
        """FS: which zeros are left out, absolute or incremental, digits of x and y."""
        head, zeros, notation, x, y = map(str, tokens_of(statement))
        said = (zeros, notation, x, y)
        if self._format not in (None, said):
            raise self.source.error(offset_of(statement), f"expected no second {head} with another format")
        self._format = said

    def set_unit(self, statement: Tree[Token]) -> None:
        """MO."""
        self._choose_unit(str(statement.children[1]), offset_of(statement))

    def set_unit_by_code(self, token: Token) -> None:
        """G70 and G71, which may stand beside MO if they agree with it."""
        self._choose_unit(_UNIT_OF_CODE[token[:3]], offset_of(token))

    def set_notation_by_code(self, token: Token) -> None:
        """G90 and G91, which must agree with FS."""
        offset = offset_of(token)
        form = self._require_format(offset, token[:3])
        if _NOTATION_OF_CODE[token[:3]] != form[1]:
            raise self.source.error(offset, f"expected the notation that FS says, not {token[:3]}")

    def pass_whole_image(self, statement: Tree[Token]) -> None:
        """A deprecated command on the whole image: only with the values that change nothing."""
        head, *values = tokens_of(statement)
        for value in values:
            if head.type in _NEUTRAL_WORD:
                neutral = value == _NEUTRAL_WORD[head.type]
            else:
                neutral = number_in(self.source, value, self.limits) == _NEUTRAL[head.type]
            if not neutral:
                message = f"expected {head} to change nothing; with {value} it is deprecated and not supported"
                raise self.source.error(offset_of(head), message)

    def unit_mm(self, offset: int, what: str) -> float:
        """Millimetres a unit, which must be known before `what`."""
        if not self._unit:
            raise self.source.error(offset, f"expected MO, the unit, before {what}")
        return _UNIT_MM[self._unit]

    def format(self, offset: int, what: str) -> Format:
        """The coordinate format, which must be known before `what`."""
        zeros, notation, x, y = self._require_format(offset, what)
        return Format(
            integers=(int(x[0]), int(y[0])),
            decimals=(int(x[1]), int(y[1])),
            trailing_zeros_omitted=zeros == "T",
            incremental=notation == "I",
            unit_mm=self.unit_mm(offset, what),
        )

    def _choose_unit(self, unit: str, offset: int) -> None:
        if self._unit not in ("", unit):
            raise self.source.error(offset, f"expected no other unit than {self._unit}, which was set before")
        self._unit = unit

    def _require_format(self, offset: int, what: str) -> tuple[str, str, str, str]:
        if self._format is None:
            raise self.source.error(offset, f"expected FS, the coordinate format, before {what}")
        return self._format
