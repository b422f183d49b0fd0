"""What a drill file says of itself before any hit is read: its number format and its tools.

Statements of one thing may stand in several places, in any order, in commands and in comments. They are gathered from
the whole file first, so that a contradiction is found wherever it stands.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Generic, NamedTuple, TypeVar

from fencepost.readers.drill.grammar import Statement
from fencepost.readers.drill.remarks import comment_text, file_plating, format_remark, size_remark, tool_name

NO_TOOL = "T0"

_WITHOUT_POINT = re.compile(r"[XYAIJ][-+]?0*+[1-9]\d*+(?!\.)")
_MEASURED = frozenset({"hits", "slots", "repeat", "move", "cut", "arc", "zero_set"})

T = TypeVar("T")


class Said(NamedTuple, Generic[T]):
    """One statement of a fact, and the byte offset where it stands."""

    value: T
    offset: int


@dataclass(eq=False)
class Facts:
    """All statements of each fact. `digits` are whole and decimal ones; `zeros` are those kept, leading or trailing.

    sizes          by tool name, what commands give: the number as written, in the file's unit
    remarked       by tool name, what comments document: diameters in mm
    uses           by tool name, in order: the byte offset where the tool is first taken up
    defined        the tools that appear at all
    without_point  whether some coordinate other than zero has no decimal point
    incremental    whether a comment says that coordinates are steps
    plated         what the file says of all its holes, None where it does not
    """

    unit: list[Said[str]] = field(default_factory=list)
    digits: list[Said[tuple[int, int]]] = field(default_factory=list)
    zeros: list[Said[str]] = field(default_factory=list)
    sizes: dict[str, list[Said[str]]] = field(default_factory=dict)
    remarked: dict[str, list[Said[float]]] = field(default_factory=dict)
    uses: dict[str, int] = field(default_factory=dict)
    defined: set[str] = field(default_factory=set)
    without_point: bool = False
    incremental: bool = False
    plated: bool | None = None


def gather(statements: Sequence[Statement]) -> Facts:
    """One pass over the file."""
    facts = Facts()
    in_header = False
    for statement in statements:
        match statement.name:
            case "begin_header":
                in_header = True
            case "end_header":
                in_header = False
            case "unit":
                _unit(facts, statement)
            case "tool":
                _tool(facts, statement, in_header)
            case "comment":
                _comment(facts, statement)
            case name if name in _MEASURED and not facts.without_point:
                facts.without_point = _WITHOUT_POINT.search("".join(statement.tokens)) is not None
    return facts


def takes_up(statement: Statement, in_header: bool) -> bool:
    """Whether a tool statement takes the tool up: in a header, T1C0.3 defines it and no more."""
    return not (in_header and statement.rest)


def _unit(facts: Facts, statement: Statement) -> None:
    facts.unit.append(Said("mm" if statement.first in ("METRIC", "M71") else "inch", statement.offset))
    for token in statement.rest:
        if token.type == "ZEROS":
            facts.zeros.append(Said("leading" if token == "LZ" else "trailing", token.start_pos or 0))
        else:
            whole, decimal = token.split(".")
            facts.digits.append(Said((len(whole), len(decimal)), token.start_pos or 0))


def _tool(facts: Facts, statement: Statement, in_header: bool) -> None:
    name = tool_name(statement.first)
    if name == NO_TOOL:
        return
    facts.defined.add(name)
    for parameter in statement.rest:
        if parameter.startswith("C"):
            facts.sizes.setdefault(name, []).append(Said(parameter[1:], parameter.start_pos or 0))
    if takes_up(statement, in_header):
        facts.uses.setdefault(name, statement.offset)


def _comment(facts: Facts, statement: Statement) -> None:
    text = comment_text(statement.first)
    if (size := size_remark(text)) is not None:
        facts.remarked.setdefault(size[0], []).append(Said(size[1], statement.offset))
    if (plated := file_plating(text)) is not None:
        facts.plated = plated
    if (remark := format_remark(text)) is None:
        return
    if remark.unit is not None:
        facts.unit.append(Said(remark.unit, statement.offset))
    if remark.digits is not None:
        facts.digits.append(Said(remark.digits, statement.offset))
    if remark.zeros is not None:
        facts.zeros.append(Said(remark.zeros, statement.offset))
    facts.incremental = facts.incremental or remark.incremental
