"""What comments of a drill file say that a reader must know: number format, tool sizes, plating, attributes.

Excellon has no statements for these, and programs that write it put them into comments of a few fixed forms. A comment
of any other form says nothing here; what is then missing is an error elsewhere, never a guess.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from fencepost.readers.escapes import unescaped
from fencepost.units import MM_PER_INCH

_LONGEST_REMARK = 200
"""Characters. No form below comes near it, and what is longer must not keep their patterns busy."""

_FORMAT = re.compile(
    r"FORMAT=\{(?P<whole>-|\d):(?P<decimal>-|\d)\s*/\s*(?P<notation>absolute|incremental)\s*/"
    r"\s*(?P<unit>metric|inch)\s*/\s*(?P<zeros>decimal|suppress leading zeros|suppress trailing zeros|keep zeros)\}"
    r"|FILE_FORMAT=(?P<whole2>\d):(?P<decimal2>\d)"
    r"|Format\s*:\s*(?P<whole3>\d)\.(?P<decimal3>\d)\s*/\s*(?P<notation3>absolute|incremental)\s*/"
    r"\s*(?P<unit3>mm|inch)\b.*",
    re.IGNORECASE,
)
_KEPT = {"suppress leading zeros": "trailing", "suppress trailing zeros": "leading"}
_UNITS = {"metric": "mm", "mm": "mm", "inch": "inch"}

_SIZE = re.compile(
    r"(?:T\d+\s+)?Holesize\s+(?P<tool>\d{1,6})\.?\s*=\s*(?P<size>\d*\.?\d+)(?P<between>\s+Tolerance\s*=\s*\S+)?"
    r"(?P<plating>\s+(?:PLATED|NON_PLATED|OPTIONAL))?\s+(?P<unit>mils|mm|metric|inch)(?:\s+Quantity\s*=\s*\d+)?"
    r"|T(?:ool\s*)?(?P<tool2>\d{1,6})\s*[:=]?\s+(?P<size2>\d*\.?\d+)\s*(?P<unit2>mm|inch|in|mils|mil)",
    re.IGNORECASE,
)
_MM = {"mm": 1.0, "metric": 1.0, "inch": MM_PER_INCH, "in": MM_PER_INCH, "mils": MM_PER_INCH / 1000}
_MM["mil"] = _MM["mils"]

_PLATING = {"TYPE=PLATED": "Plated", "TYPE=NON_PLATED": "NonPlated"}

_ATTRIBUTE = re.compile(r"#@!\s*(?P<command>\S.*)")
_COMMAND = re.compile(r"T(?P<kind>[FAO])(?P<name>[^,]+)(?P<fields>(?:,.*)?)|TD(?P<deleted>[^,]*)")


class FormatRemark(NamedTuple):
    """What a comment says of the numbers; None for what it leaves open."""

    unit: str | None
    digits: tuple[int, int] | None
    zeros: str | None
    incremental: bool


class Attribute(NamedTuple):
    """An attribute command. `kind` is F for the file, A for tools, O for hits, D where it is taken away again."""

    kind: str
    name: str
    fields: tuple[str, ...]


def comment_text(comment: str) -> str:
    """The text after the semicolon. `comment` has one character a byte, as the grammar reads it."""
    return comment.encode("latin-1").decode("utf-8", errors="replace")[1:].strip()


def format_remark(text: str) -> FormatRemark | None:
    """FORMAT={3:3/ absolute / metric / suppress leading zeros}, FILE_FORMAT=3:3, Format: 2.4 / Absolute / Inch / …

    The last form's word for zeros is left aside: programs differ in whether it names those kept or those left out.
    """
    match = _FORMAT.fullmatch(text) if len(text) <= _LONGEST_REMARK else None
    if match is None:
        return None
    said = match.groupdict()
    whole = said["whole"] or said["whole2"] or said["whole3"]
    decimal = said["decimal"] or said["decimal2"] or said["decimal3"]
    unit = said["unit"] or said["unit3"]
    return FormatRemark(
        unit=_UNITS[unit.lower()] if unit else None,
        digits=None if "-" in (whole, decimal) else (int(whole), int(decimal)),
        zeros=_KEPT.get((said["zeros"] or "").lower()),
        incremental=(said["notation"] or said["notation3"] or "").lower() == "incremental",
    )


def size_remark(text: str) -> tuple[str, float] | None:
    """Tool name and diameter in mm: Holesize 1. = 12.0 Tolerance = +0/-0 PLATED MILS Quantity = 5, or T01 0.3mm."""
    match = _SIZE.fullmatch(text) if len(text) <= _LONGEST_REMARK else None
    if match is None:
        return None
    said = match.groupdict()
    unit = said["unit"] or said["unit2"]
    return tool_name(said["tool"] or said["tool2"]), float(said["size"] or said["size2"]) * _MM[unit.lower()]


def plating_remark(text: str) -> str | None:
    """Plated or NonPlated, from TYPE=PLATED and TYPE=NON_PLATED: it holds for the tools that follow."""
    return _PLATING.get(text)


def file_plating(text: str) -> bool | None:
    """What the file function says of all holes of the file; None where it says nothing or both."""
    match = re.match(r"#@!\s*TF\.FileFunction,(Plated|NonPlated),", text)
    return None if match is None else match[1] == "Plated"


def attribute_remark(text: str) -> Attribute | None:
    """#@! TF.FileFunction,Plated,1,4,PTH. Raises ValueError for a #@! comment that is no attribute command.

    Source: Ucamco, The Gerber Layer Format Specification, 5.1.1 and 5.2 (the comment form is the same in XNC).
    """
    comment = _ATTRIBUTE.fullmatch(text)
    if comment is None:
        return None
    if "\ufffd" in text:
        raise ValueError("expected UTF-8 in an attribute")
    command = _COMMAND.fullmatch(comment["command"])
    if command is None:
        raise ValueError("expected an attribute: TF, TA, TO or TD")
    if command["kind"] is None:
        return Attribute("D", command["deleted"], ())
    fields = command["fields"][1:].split(",") if command["fields"] else ()
    return Attribute(command["kind"], command["name"], tuple(map(unescaped, fields)))


def tool_name(digits: str) -> str:
    """T1 for T1, 01 or T0001."""
    return f"T{int(digits.lstrip('Tt'))}"
