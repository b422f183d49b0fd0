"""Attributes of a drill file, its tools and its hits, as comments give them in the course of the file."""

from __future__ import annotations

from fencepost.limits import Limits, name_fault
from fencepost.readers.artwork import Attributes
from fencepost.readers.drill.grammar import Statement
from fencepost.readers.drill.remarks import Attribute, attribute_remark, comment_text, plating_remark
from fencepost.readers.drill.rows import Marks
from fencepost.source import SourceFile


class Labels:
    """Tool attributes go to the tools that are defined after them, hit attributes to the hits made after them.

    A tool's function is its aperture function as the file gives it, as ("Plated", "PTH", "ViaDrill"); where a comment
    tells its plating and no more, ("Plated",) or ("NonPlated",).
    """

    def __init__(self, source: SourceFile, limits: Limits) -> None:
        self.file: Attributes = {}
        self._source = source
        self._limits = limits
        self._tool: Attributes = {}
        self._hit: Attributes = {}
        self._plating: tuple[str, ...] = ()
        self._functions: dict[str, tuple[str, ...]] = {}

    def comment(self, statement: Statement) -> None:
        """Take note of a comment."""
        text = comment_text(statement.first)
        if (plating := plating_remark(text)) is not None:
            self._plating = (plating,)
        try:
            attribute = attribute_remark(text)
        except ValueError as error:
            raise self._source.error(statement.offset, str(error)) from None
        if attribute is not None:
            self._attribute(attribute, statement.offset)

    def end_header(self) -> None:
        """Plating that was told in the header is that of the tools defined there."""
        self._plating = ()

    def define(self, tool: str) -> None:
        """A tool is defined, or defined anew."""
        self._functions[tool] = self._tool.get(".AperFunction", self._plating)

    def function(self, tool: str) -> tuple[str, ...]:
        """Of a tool that is taken up now."""
        if tool not in self._functions:
            self.define(tool)
        return self._functions[tool] or self._plating

    def marks(self, diameter: float, function: tuple[str, ...]) -> Marks:
        """For a hit made now."""
        return Marks(diameter, function, self._hit.get(".N", ()), self._hit.get(".P", ()))

    def _attribute(self, attribute: Attribute, offset: int) -> None:
        if said := name_fault(",".join((attribute.name, *attribute.fields)), self._limits):
            raise self._source.error(offset, said)
        match attribute.kind:
            case "F":
                if self.file.setdefault(attribute.name, attribute.fields) != attribute.fields:
                    raise self._source.error(offset, f"the file attribute {attribute.name} has another value before")
            case "A":
                self._tool[attribute.name] = attribute.fields
            case "O":
                self._hit[attribute.name] = attribute.fields
            case _:
                for attributes in (self._tool, self._hit):
                    for name in [n for n in attributes if attribute.name in ("", n)]:
                        del attributes[name]
