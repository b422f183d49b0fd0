"""Statements to the state that each run of operations is drawn in: apertures, polarity, attributes, blocks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from lark import Token, Tree
from shapely.geometry import Polygon

from fencepost.limits import Deadline, Limits
from fencepost.readers.artwork import Attributes
from fencepost.readers.gerber.apertures import STANDARD, Aperture, ToolTable, standard_aperture
from fencepost.readers.gerber.attributes import FEWEST_FIELDS, FUNCTION, Dictionary, name_and_fields
from fencepost.readers.gerber.macros import Macro, macro_aperture
from fencepost.readers.gerber.operations import Format
from fencepost.readers.gerber.setup import Setup
from fencepost.readers.gerber.syntax import (
    Statement,
    aperture_words,
    number_in,
    offset_of,
    tokens_of,
    whole_number_in,
)
from fencepost.readers.gerber.transform import Transform
from fencepost.source import SourceFile

ASKED_EVERY = 64
"""Statements between two looks at the clock."""

IMAGE = 0
"""The container that is no block: the image itself."""


class RunState(NamedTuple):
    """The state that one run of operations is drawn in; -1 stands for none.

    tool                           index into the tool table
    dark, quadrant                 polarity; 74 or 75, 0 where neither was given
    region                         which region, counted from 1; 0 outside
    container                      IMAGE, or which block aperture or repeat
    unplaced                       the current point is undefined, as after the start or the end of a block
    net, pin, component, function  index into the values
    """

    tool: int
    dark: bool
    quadrant: int
    region: int
    container: int
    unplaced: bool
    net: int
    pin: int
    component: int
    function: int


class Repeat(NamedTuple):
    """A closed SR: `child` is drawn columns x rows times in `parent`, before the operations of `run`; steps in mm."""

    child: int
    parent: int
    run: int
    columns: int
    rows: int
    step: tuple[float, float]
    offset: int


class _Open(NamedTuple):
    """A block aperture, with its number, or a repeat that is still open."""

    container: int
    offset: int
    number: int = 0
    function: tuple[str, ...] = ()
    columns: int = 1
    rows: int = 1
    step: tuple[float, float] = (0.0, 0.0)


@dataclass
class Program:
    """What the statements of a file come to.

    `runs` are byte ranges of operations, `states` what each is drawn in. `closed` holds the containers, with the offset
    of their opening, in the order in which they were closed: each one after those that it uses.
    """

    tools: ToolTable
    runs: list[tuple[int, int]] = field(default_factory=list)
    states: list[RunState] = field(default_factory=list)
    values: dict[tuple[str, ...], int] = field(default_factory=dict)
    repeats: list[Repeat] = field(default_factory=list)
    closed: list[tuple[int, int]] = field(default_factory=list)
    attributes: Attributes = field(default_factory=dict)
    component_attributes: dict[str, Attributes] = field(default_factory=dict)
    format: Format | None = None


def interpret(source: SourceFile, statements: list[Statement], limits: Limits) -> Program:
    """Follow the statements. Raises InputError for the first one that cannot be followed."""
    interpreter = _Interpreter(source, limits)
    deadline = Deadline(limits)
    for count, statement in enumerate(statements):
        if count % ASKED_EVERY == 0 and (late := deadline.passed()):
            raise source.error(offset_of(statement), f"reading {late}")
        interpreter.follow(statement)
    return interpreter.program


class _Interpreter:
    """The graphics state of a file, and a method for each kind of statement."""

    def __init__(self, source: SourceFile, limits: Limits) -> None:
        self.source = source
        self.limits = limits
        self.program = Program(ToolTable(limits.reach))
        self.setup = Setup(source, limits)
        self.dictionary = Dictionary(self.program.attributes)
        self.labels: tuple[int, ...] | None = None
        self.macros: dict[str, Macro] = {}
        self.apertures: dict[int, Aperture] = {}
        self.aperture: Aperture | None = None
        self.tool: int | None = None
        self.tools: dict[int, int] = {}
        self.dark = True
        self.mirror, self.degrees, self.scale = "N", 0.0, 1.0
        self.quadrant = 0
        self.region, self.regions = 0, 0
        self.open: list[_Open] = []
        self.containers = 1
        self.unplaced = False
        self.handlers: dict[str, Callable[[Any], None]] = {
            "OPERATIONS": self.operate,
            "SELECT": self.select,
            "QUADRANT": self.set_quadrant,
            "G36": self.open_region,
            "G37": self.close_region,
            "UNIT_CODE": self.setup.set_unit_by_code,
            "NOTATION_CODE": self.setup.set_notation_by_code,
            "END": self.finish,
            "format": self.setup.set_format,
            "unit": self.setup.set_unit,
            "whole_image": self.setup.pass_whole_image,
            "aperture": self.define_aperture,
            "macro": self.define_macro,
            "block_open": self.open_block,
            "block_close": self.close_block,
            "repeat_open": self.open_repeat,
            "repeat_close": self.close_repeat,
            "polarity": self.set_polarity,
            "mirroring": self.set_mirroring,
            "rotation": self.set_rotation,
            "scaling": self.set_scaling,
            "set_attribute": self.set_attribute,
            "delete_attribute": self.delete_attribute,
            "APERTURE": self.define_aperture_word,
            "SET_ATTRIBUTE": self.set_attribute_word,
            "DELETE_ATTRIBUTE": self.delete_attribute_word,
        }

    def follow(self, statement: Statement) -> None:
        """Follow one statement."""
        self.handlers[statement.type if isinstance(statement, Token) else statement.data](statement)

    # Operations and regions

    def operate(self, token: Token) -> None:
        """A run of operations: note where it stands and in what state."""
        if self.program.format is None:
            self.program.format = self.setup.format(offset_of(token), "the first operation")
        net, pin, component, region_function = self._current_labels()
        function = region_function if self.region else self._value(self.aperture.function if self.aperture else ())
        container = self.open[-1].container if self.open else IMAGE
        self.program.runs.append((token.start_pos or 0, token.end_pos or 0))
        drawn = (self._current_tool(token), self.dark, self.quadrant, self.region, container, self.unplaced)
        self.program.states.append(RunState(*drawn, net, pin, component, function))
        self.unplaced = False

    def select(self, token: Token) -> None:
        """Dnn: the current aperture."""
        number = self._number(token)
        if number not in self.apertures:
            raise self.source.error(offset_of(token), f"expected an aperture that is defined; D{number} is not")
        self.aperture, self.tool = self.apertures[number], self.tools.get(number)

    def set_quadrant(self, token: Token) -> None:
        """G74 and G75."""
        self.quadrant = int(token[1:3])

    def open_region(self, _: Token) -> None:
        """G36."""
        self.regions += 1
        self.region = self.regions

    def close_region(self, _: Token) -> None:
        """G37."""
        self.region = 0

    # Apertures

    def define_aperture(self, statement: Tree[Token]) -> None:
        """AD: a standard template or a macro with parameters."""
        self._define_aperture(offset_of(statement), *tokens_of(statement)[1:])

    def define_aperture_word(self, word: Token) -> None:
        """The same, in one word."""
        self._define_aperture(offset_of(word) + 1, *aperture_words(word))

    def _define_aperture(self, offset: int, number_token: Token, name: Token, *tokens: Token) -> None:
        number = self._new_number(number_token)
        parameters = [number_in(self.source, token, self.limits) for token in tokens]
        unit_mm = self.setup.unit_mm(offset, "the first aperture")
        if name in STANDARD:
            try:
                shape, width = standard_aperture(name, parameters, unit_mm, self.limits.reach)
            except ValueError as error:
                raise self.source.error(offset, f"expected {error}") from None
        elif name in self.macros:
            shape, width = macro_aperture(self.source, self.macros[name], parameters, unit_mm, self.limits)
        else:
            raise self.source.error(offset_of(name), f"expected C, R, O, P or a macro that is defined; {name} is not")
        self.apertures[number] = Aperture(number, shape, width, self.dictionary.aperture.get(FUNCTION, ()))

    def define_macro(self, statement: Tree[Token]) -> None:
        """AM. It is evaluated when an aperture calls it."""
        _, name, *body = statement.children
        assert isinstance(name, Token)
        if name in self.macros or name in STANDARD:
            raise self.source.error(offset_of(name), f"expected a new name; {name} is defined already")
        self.macros[str(name)] = tuple(body)

    def open_block(self, statement: Tree[Token]) -> None:
        """AB with a number."""
        number = self._new_number(tokens_of(statement)[1])
        function = self.dictionary.aperture.get(FUNCTION, ())
        self._open(_Open(self.containers, offset_of(statement), number, function))

    def close_block(self, statement: Tree[Token]) -> None:
        """AB without a number."""
        offset = offset_of(statement)
        if not self.open or not self.open[-1].number:
            raise self.source.error(offset, "expected AB with a number, as none is open that this could close")
        block = self._close()
        self.apertures[block.number] = Aperture(block.number, Polygon(), function=block.function, block=block.container)

    def open_repeat(self, statement: Tree[Token]) -> None:
        """SR with numbers. In earlier revisions it also ends an open one, and X1Y1 does nothing else."""
        if self.open and not self.open[-1].number:
            self.close_repeat(statement)
        offset = offset_of(statement)
        unit_mm = self.setup.unit_mm(offset, "step and repeat")
        said = {token.type: number_in(self.source, token, self.limits) for token in tokens_of(statement)[1:]}
        columns, rows = int(said.get("COLUMNS", 1)), int(said.get("ROWS", 1))
        if columns * rows > self.limits.features:
            raise self.source.error(offset, f"expected at most {self.limits.features} repeats (limit features)")
        step = (said.get("STEP_X", 0.0) * unit_mm, said.get("STEP_Y", 0.0) * unit_mm)
        if columns * rows > 1:
            self._open(_Open(self.containers, offset, columns=columns, rows=rows, step=step))

    def close_repeat(self, statement: Tree[Token]) -> None:
        """SR without numbers; nothing where none is open."""
        if not self.open:
            return
        if self.open[-1].number:
            raise self.source.error(offset_of(statement), f"expected AB to close D{self.open[-1].number} first")
        child = self._close()
        parent = self.open[-1].container if self.open else IMAGE
        repeat = Repeat(
            child.container, parent, len(self.program.runs), child.columns, child.rows, child.step, child.offset
        )
        self.program.repeats.append(repeat)

    def _open(self, block: _Open) -> None:
        if len(self.open) >= self.limits.nesting:
            raise self.source.error(block.offset, f"expected at most {self.limits.nesting} open blocks (limit nesting)")
        self.open.append(block)
        self.containers += 1
        self.unplaced = True

    def _close(self) -> _Open:
        block = self.open.pop()
        self.program.closed.append((block.container, block.offset))
        self.unplaced = True
        return block

    # State

    def set_polarity(self, statement: Tree[Token]) -> None:
        """LP."""
        self.dark = statement.children[1] == "D"

    def set_mirroring(self, statement: Tree[Token]) -> None:
        """LM."""
        self.mirror = str(statement.children[1])
        self._forget_tools()

    def set_rotation(self, statement: Tree[Token]) -> None:
        """LR."""
        self.degrees = self._decimal(statement)
        self._forget_tools()

    def set_scaling(self, statement: Tree[Token]) -> None:
        """LS."""
        self.scale = self._decimal(statement)
        self._forget_tools()
        if self.scale <= 0:
            raise self.source.error(offset_of(statement), "expected a scale factor above 0")

    # Attributes

    def set_attribute(self, statement: Tree[Token]) -> None:
        """TF, TA, TO."""
        head, text = tokens_of(statement)
        self._set_attribute(head, offset_of(head), str(text), offset_of(text))

    def set_attribute_word(self, word: Token) -> None:
        """The same, in one word."""
        offset = offset_of(word)
        self._set_attribute(word[1:3], offset + 1, word[3 : word.rindex("%")], offset + 3)

    def _set_attribute(self, head: str, offset: int, text: str, text_offset: int) -> None:
        name, said = name_and_fields(self.source, text_offset, text, self.limits)
        if len(said) < FEWEST_FIELDS.get(name, 0):
            raise self.source.error(offset, f"expected {FEWEST_FIELDS[name]} or more fields for {name}")
        if head == "TF" and self.dictionary.file.get(name, said) != said:
            raise self.source.error(offset, f"expected {name} to keep its value, as file attributes do")
        self.dictionary.of_command[head][name] = said
        self.labels = None

    def delete_attribute(self, statement: Tree[Token]) -> None:
        """TD."""
        head, *names = tokens_of(statement)
        self._delete_attribute(offset_of(head), str(names[0]) if names else None)

    def delete_attribute_word(self, word: Token) -> None:
        """The same, in one word."""
        self._delete_attribute(offset_of(word) + 1, word[3 : word.rindex("*")] or None)

    def _delete_attribute(self, offset: int, name: str | None) -> None:
        if name in self.dictionary.file:
            raise self.source.error(offset, f"expected an aperture or object attribute; {name} is the file's")
        self.dictionary.delete(name)
        self.labels = None

    # The end

    def finish(self, token: Token) -> None:
        """M02."""
        offset = offset_of(token)
        if self.open:
            block = self.open[-1]
            name, line = "AB" if block.number else "SR", self.source.locate(block.offset).line
            raise self.source.error(offset, f"expected {name} before M02, as the {name} of line {line} is still open")
        self.program.format = self.setup.format(offset, "M02")

    # Parts

    def _current_labels(self) -> tuple[int, ...]:
        if self.labels is None:
            self.labels = tuple(map(self._value, self.dictionary.labels()))
            component = self.dictionary.of_component()
            if component:
                self.program.component_attributes.setdefault(component[0], {}).update(component[1])
        return self.labels

    def _current_tool(self, token: Token) -> int:
        if self.aperture is None:
            return -1
        if self.tool is None:
            transform = Transform.of(self.mirror, self.degrees, self.scale)
            try:
                self.tool = self.program.tools.index(self.aperture, transform)
            except ValueError as error:
                raise self.source.error(offset_of(token), f"expected {error}") from None
            self.tools[self.aperture.number] = self.tool
        return self.tool

    def _forget_tools(self) -> None:
        """Those under the transform that was in force."""
        self.tool, self.tools = None, {}

    def _value(self, fields: tuple[str, ...]) -> int:
        return self.program.values.setdefault(fields, len(self.program.values)) if fields else -1

    def _decimal(self, statement: Tree[Token]) -> float:
        return number_in(self.source, tokens_of(statement)[1], self.limits)

    def _number(self, token: Token) -> int:
        return whole_number_in(self.source, token, self.limits)

    def _new_number(self, token: Token) -> int:
        number = self._number(token)
        if number in self.apertures or any(block.number == number for block in self.open):
            raise self.source.error(offset_of(token), f"expected a new number; D{number} is defined already")
        return number
