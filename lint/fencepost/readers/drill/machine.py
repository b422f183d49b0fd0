"""The drill machine: carries out the statements of a file and notes the holes that they make."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from fencepost.errors import InputError
from fencepost.frozen import dataclass
from fencepost.limits import DEFAULT_LIMITS, Deadline, Limits
from fencepost.readers.drill.arcs import Point, centre_from_radius, chords
from fencepost.readers.drill.facts import NO_TOOL, Facts, takes_up
from fencepost.readers.drill.grammar import Statement, quoted
from fencepost.readers.drill.labels import Labels
from fencepost.readers.drill.numbers import carried, column, split_words
from fencepost.readers.drill.remarks import tool_name
from fencepost.readers.drill.rows import Marks, Rows
from fencepost.readers.drill.settle import ToolSizes

_REFUSED = {
    "G41": "cutter compensation", "G42": "cutter compensation",
    "G82": "a pattern of hits", "G83": "a pattern of hits", "G84": "a circle of hits", "G87": "a slot in steps",
    "M01": "step and repeat", "M02": "step and repeat", "M08": "step and repeat", "M25": "step and repeat",
    "M70": "swapped axes", "M80": "a mirrored axis", "M90": "a mirrored axis",
    "M97": "drilled text", "M98": "drilled text",
}  # fmt: skip
_VERSIONS = ("FMAT,2", "FMAT2", "VER,1", "VER1")


class Mode(Enum):
    """What a bare coordinate does: drill a hole, move the raised tool, or cut a straight slot."""

    DRILL = "drill"
    MOVE = "move"
    CUT = "cut"


@dataclass(frozen=True)
class Held:
    """The tool in the spindle: its diameter in mm and its function."""

    diameter: float
    function: tuple[str, ...]


class Machine:
    """`plunged` is the byte offset at which the tool went down, as long as it has not cut from there."""

    def __init__(self, facts: Facts, sizes: ToolSizes, limits: Limits = DEFAULT_LIMITS) -> None:
        self.source = sizes.format.source
        self.format = sizes.format
        self.sizes = sizes
        self.labels = Labels(self.source, limits)
        self.rows = Rows(self.source, limits.hits)
        self.deadline = Deadline(limits)
        self.in_header = False
        self.incremental = facts.incremental
        self.mode = Mode.DRILL
        self.position: Point = (0.0, 0.0)
        self.held: Held | None = None
        self.down = False
        self.plunged: int | None = None
        self.repeatable = False
        self.values: dict[int, float] = {}

    def run(self, statements: Sequence[Statement]) -> None:
        """Carry out a file. Every rule of the grammar has its method here."""
        handlers: dict[str, Callable[[Statement], None]] = {
            "begin_header": self._begin_header, "end_header": self._end_header, "version": self._version,
            "unit": self._nothing, "machine": self._nothing, "refused": self._refused, "comment": self.labels.comment,
            "tool": self._tool, "absolute": self._absolute, "incremental": self._incremental,
            "zero_set": self._zero_set, "drill_mode": self._drill_mode, "hits": self._hits, "slots": self._slots,
            "repeat": self._repeat, "move": self._move, "plunge": self._plunge, "cut": self._cut, "arc": self._arc,
            "retract": self._retract, "end": self._retract,
        }  # fmt: skip
        self.values = self._values(statements)
        for statement in statements:
            if late := self.deadline.passed():
                raise self._error(statement, f"reading {late}")
            handlers[statement.name](statement)

    # Header and modes

    def _begin_header(self, statement: Statement) -> None:
        self.in_header = True

    def _end_header(self, statement: Statement) -> None:
        self.in_header = False
        self.labels.end_header()

    def _nothing(self, statement: Statement) -> None:
        """What says nothing about holes, or was gathered before."""

    def _version(self, statement: Statement) -> None:
        if statement.first not in _VERSIONS:
            raise self._error(statement, f"{statement.first} is not read; only FMAT,2 and VER,1 are")

    def _refused(self, statement: Statement) -> None:
        code = statement.first[:3]
        what = f" ({_REFUSED[code]})" if code in _REFUSED else ""
        raise self._error(statement, f"{quoted(statement.first)}{what} is not read; holes could be missed without it")

    def _absolute(self, statement: Statement) -> None:
        self.incremental = False

    def _incremental(self, statement: Statement) -> None:
        self.incremental = True

    def _zero_set(self, statement: Statement) -> None:
        if any(self._words(statement, "XY").values()):
            raise self._error(statement, "G93 moves the origin, which is not read; only G93X0Y0 is")

    # Tools

    def _tool(self, statement: Statement) -> None:
        name = tool_name(statement.first)
        if name != NO_TOOL and statement.rest:
            self.labels.define(name)
        if not takes_up(statement, self.in_header):
            return
        if self.down:
            raise self._error(statement, "the tool is changed while it is down; M16 is missing")
        self.repeatable = False
        self.held = None
        if name != NO_TOOL:
            self.held = Held(self.sizes.diameter(name, statement.offset), self.labels.function(name))

    def _marks(self, at: int) -> Marks:
        if self.held is None:
            raise self.source.error(at, "no tool is taken up")
        return self.labels.marks(self.held.diameter, self.held.function)

    # Hits

    def _hits(self, statement: Statement) -> None:
        words = split_words(statement.first)
        values = self.format.millimetres(words, statement.offset)
        every = np.ones(len(values), dtype=np.bool_)
        points = self._follow(column(words, values, "X", every), column(words, values, "Y", every))
        offsets = statement.offset + words.start
        if self.mode is Mode.DRILL:
            self.rows.add(points, points, offsets, self._marks(statement.offset))
            self.repeatable = True
        elif self.mode is Mode.CUT:
            self._cut_through(points, offsets)
        self._go_to(points[-1])

    def _slots(self, statement: Statement) -> None:
        if self.mode is not Mode.DRILL:
            raise self._error(statement, "G85 stands outside drill mode; G05 is missing")
        if self.incremental:
            raise self._error(statement, "G85 with incremental coordinates is not read")
        words = split_words(statement.first)
        values = self.format.millimetres(words, statement.offset)
        index = np.arange(len(values))
        command = index[words.letter == ord("G")][words.line]
        x, y = (
            np.column_stack(
                [column(words, values, axis, index < command), column(words, values, axis, index > command)]
            ).ravel()
            for axis in "XY"
        )
        points = self._follow(x, y)
        self.rows.add(points[0::2], points[1::2], statement.offset + words.start, self._marks(statement.offset))
        self.repeatable = False
        self._go_to(points[-1])

    def _repeat(self, statement: Statement) -> None:
        step = self._words(statement, "XY")
        if not self.repeatable:
            raise self._error(statement, "there is no hit to repeat before this")
        count = int(statement.first[1:])
        if count == 0:
            return
        self.rows.check_room(count, statement.offset)
        times = np.arange(1, count + 1)[:, None]
        points = np.array(self.position) + times * np.array([step.get("X", 0.0), step.get("Y", 0.0)])
        self.rows.add(points, points, np.full(count, statement.offset), self._marks(statement.offset))
        self._go_to(points[-1])

    # Routs

    def _drill_mode(self, statement: Statement) -> None:
        self._retract(statement)
        self.mode = Mode.DRILL

    def _move(self, statement: Statement) -> None:
        if self.down:
            raise self._error(statement, "the tool is moved with G00 while it is down; M16 is missing")
        self.mode = Mode.MOVE
        self.repeatable = False
        self.position = self._target(self._words(statement, "XY"))

    def _plunge(self, statement: Statement) -> None:
        if self.mode is Mode.DRILL or self.down:
            raise self._error(statement, "M15 without a move to the start of the cut before it; G00 is missing")
        self._marks(statement.offset)
        self.down, self.plunged, self.mode = True, statement.offset, Mode.CUT

    def _cut(self, statement: Statement) -> None:
        self.mode = Mode.CUT
        self.repeatable = False
        if statement.rest:
            target = self._target(self._words(statement, "XY"))
            self._cut_through(np.array([target]), np.array([statement.offset]))
            self.position = target

    def _arc(self, statement: Statement) -> None:
        words = self._words(statement, "XYAIJ")
        centred = "I" in words or "J" in words
        if centred == ("A" in words):
            raise self._error(statement, "an arc needs its radius A, or its centre I and J")
        self.mode = Mode.CUT
        self.repeatable = False
        clockwise = statement.first == "G02"
        start, end = self.position, self._target(words)
        try:
            if centred:
                centre = (start[0] + words.get("I", 0.0), start[1] + words.get("J", 0.0))
            else:
                centre = centre_from_radius(start, end, words["A"], clockwise)
            points = chords(start, end, centre, clockwise)[1:]
        except ValueError as error:
            raise self._error(statement, str(error)) from None
        self._cut_through(points, np.full(len(points), statement.offset))
        self.position = end

    def _retract(self, statement: Statement) -> None:
        if self.plunged is not None:  # down and up again in one place: a hole
            here = np.array([self.position])
            self.rows.add(here, here, np.array([self.plunged]), self._marks(self.plunged))
        self.down, self.plunged = False, None

    def _cut_through(self, points: NDArray[np.float64], offsets: NDArray[np.int64]) -> None:
        """Cut from the position through points, (k, 2): a row for each straight piece."""
        at = int(offsets[0])
        if not self.down:
            raise self.source.error(at, "a cut with the tool up; M15 is missing")
        self.plunged = None
        path = np.concatenate([[self.position], points])
        self.rows.add(path[:-1], path[1:], offsets, self._marks(at))

    # Coordinates

    def _words(self, statement: Statement, letters: str) -> dict[str, float]:
        """The numbers of one statement in mm, by letter."""
        words: dict[str, float] = {}
        for token in statement.rest:
            letter, at = token[0], token.start_pos or 0
            if letter not in letters or letter in words:
                wrong = "twice" if letter in words else f"after {statement.first}"
                raise self.source.error(at, f"{letter} cannot stand here {wrong}")
            words[letter] = self.values[at]
        return words

    def _values(self, statements: Sequence[Statement]) -> dict[int, float]:
        """The numbers of all statements other than runs, in mm, by their byte offset: decoded at once, as runs are."""
        tokens = [token for statement in statements for token in statement.rest if token.type == "WORD"]
        if not tokens:
            return {}
        offsets = [token.start_pos or 0 for token in tokens]
        words = replace(split_words("".join(tokens)), offset=np.array(offsets))
        return dict(zip(offsets, self.format.millimetres(words, 0).tolist(), strict=True))

    def _target(self, words: dict[str, float]) -> Point:
        x, y = self.position
        if self.incremental:
            return x + words.get("X", 0.0), y + words.get("Y", 0.0)
        return words.get("X", x), words.get("Y", y)

    def _follow(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        """Positions, (k, 2), from the columns of coordinates, of which those left out are not a number."""
        if self.incremental:
            x, y = self.position[0] + np.nan_to_num(x).cumsum(), self.position[1] + np.nan_to_num(y).cumsum()
        else:
            x, y = carried(x, self.position[0]), carried(y, self.position[1])
        return np.column_stack([x, y])

    def _go_to(self, point: NDArray[np.float64]) -> None:
        self.position = (float(point[0]), float(point[1]))

    def _error(self, statement: Statement, message: str) -> InputError:
        return self.source.error(statement.offset, message)
