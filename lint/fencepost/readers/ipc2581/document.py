"""XML in one pass: a table of sections says which elements are wanted; each is handed over whole and then forgotten.

Nothing outside the file is ever looked at. Entities, their expansion and external subsets all need a document type
declaration, and expat calls StartDoctypeDeclHandler before it reads the first declaration inside one; raising there
ends the parse. What is left are the five entities that XML itself defines, and character references.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NoReturn
from xml.parsers import expat

from fencepost.errors import InputError
from fencepost.readers.limits import Limits
from fencepost.source import SourceFile

_CHUNK = 1 << 20
_BYTE_ORDER_MARKS_16 = (b"\xff\xfe", b"\xfe\xff")

_POINTS = ("PolyBegin", "PolyStepSegment", "PolyStepCurve")
"""Nine tenths of a file are these: they are kept as numbers of the element around them, and never become nodes."""

FLAGS = {"true": True, "false": False, "1": True, "0": False}
"""xsd:boolean."""

_CUT_SHORT = frozenset(
    {
        expat.errors.codes[text]
        for text in (
            expat.errors.XML_ERROR_NO_ELEMENTS,
            expat.errors.XML_ERROR_UNCLOSED_TOKEN,
            expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
            expat.errors.XML_ERROR_PARTIAL_CHAR,
        )
    }
)
_SECOND_ROOT = expat.errors.codes[expat.errors.XML_ERROR_JUNK_AFTER_DOC_ELEMENT]


@dataclass(slots=True, eq=False)
class Curve:
    """A PolyStepCurve: which point of its element it leads to, and its centre in the file's unit."""

    point: int
    x: float
    y: float
    clockwise: bool


class Node:
    """An element. `points` are x, y, x, y ... of its PolyBegin and PolyStep children in the file's unit, as doubles."""

    __slots__ = ("attributes", "children", "curves", "offset", "points", "tag")

    def __init__(self, tag: str, attributes: dict[str, str], offset: int) -> None:
        self.tag = tag
        self.attributes = attributes
        self.offset = offset
        self.children: list[Node] = []
        self.points = _NO_POINTS
        self.curves: list[Curve] = _NO_CURVES

    def child(self, *tags: str) -> Node | None:
        """The first child with one of these tags."""
        for child in self.children:
            if child.tag in tags:
                return child
        return None

    def all(self, *tags: str) -> list[Node]:
        """All children with one of these tags."""
        return [child for child in self.children if child.tag in tags]


_NO_POINTS = array("d")
_NO_CURVES: list[Curve] = []
"""What most nodes have, shared by them and never added to: a PolyBegin gives its element a list of its own."""

Wanted = Callable[[Node], None]


def _nothing(_: Node) -> None:
    """What is done with children that nobody asked for."""


def _enter(_: Node) -> bool:
    """Every section is wanted, unless it says otherwise."""
    return True


@dataclass(frozen=True, eq=False)
class Section:
    """An element that is not kept as a whole: what to do with its children, by their tags.

    A child is a section itself, or is handed over with everything in it when it ends. `begin` is called with the
    element and its attributes, and says whether to go into it, and then `end` when it is over. A child of another tag
    is given to `other` without what is in it, and passed over.
    """

    children: Mapping[str, Section | Wanted]
    begin: Callable[[Node], bool] = _enter
    end: Callable[[], None] = lambda: None
    other: Wanted = _nothing


def walk(source: SourceFile, root: Section, misplaced: frozenset[str], limits: Limits) -> None:
    """Read a file. `root` is a section around the root element; none of `misplaced` may stand where it is passed over.

    Raises InputError, with line and column, for what is no XML, ends early or goes on after its end, has a document
    type declaration, or passes a limit.
    """
    if source.data.startswith(_BYTE_ORDER_MARKS_16) or b"\0" in source.data[:64]:
        raise source.error(0, "the file is not UTF-8 text; save it as UTF-8")
    _Walk(source, root, misplaced, limits).run()


class _Walk:
    """The state of one pass: sections that are open, and the nodes from the wanted element down to the current one."""

    def __init__(self, source: SourceFile, root: Section, misplaced: frozenset[str], limits: Limits) -> None:
        self._source = source
        self._limits = limits
        self._misplaced = misplaced
        self._sections = [root]
        self._nodes: list[Node] = []
        self._hand_over: Wanted = _nothing
        self._depth = 0
        self._resume_at = 0
        self._prefix = ""
        self._parser = expat.ParserCreate()
        self._parser.StartDoctypeDeclHandler = self._refuse_document_type
        self._listen()

    def run(self) -> None:
        data = memoryview(self._source.data)
        try:
            for at in range(0, len(data), _CHUNK):
                self._parser.Parse(data[at : at + _CHUNK], False)
                if at + _CHUNK - self._parser.CurrentByteIndex > self._limits.tag_bytes + _CHUNK:
                    most = f"{self._limits.tag_bytes:,} bytes (limit tag_bytes)"
                    raise self._error(f"a tag, comment or instruction of more than {most}")
            self._parser.Parse(b"", True)
        except expat.ExpatError as error:
            raise self._broken(error) from None

    def _broken(self, error: expat.ExpatError) -> InputError:
        at = min(self._parser.ErrorByteIndex, len(self._source.data))
        if error.code in _CUT_SHORT:
            return self._source.error(at, "the file ends here, before its last element is closed: it was cut short")
        if error.code == _SECOND_ROOT:
            return self._source.error(at, "the file goes on after its root element; an IPC-2581 file has one root")
        return self._source.error(at, f"the file is not XML: {expat.ErrorString(error.code)}")

    def _error(self, message: str) -> InputError:
        return self._source.error(self._parser.CurrentByteIndex, message)

    def _refuse_document_type(self, *_: object) -> NoReturn:
        raise self._error("a document type declaration; it could define entities, and no IPC-2581 file needs one")

    def _listen(self) -> None:
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._deeper()
        if self._depth == 1:
            self._prefix = name[: name.find(":") + 1]
        tag = name.removeprefix(self._prefix)
        if self._nodes:
            if tag in _POINTS:
                self._point(self._nodes[-1], tag, attributes)
                return
            node = Node(tag, attributes, self._parser.CurrentByteIndex)
            self._nodes[-1].children.append(node)
            self._nodes.append(node)
            return
        section = self._sections[-1]
        wanted = section.children.get(tag)
        node = Node(tag, attributes, self._parser.CurrentByteIndex)
        if wanted is None:
            section.other(node)
            self._check_place(tag)
            self._pass_over()
        elif isinstance(wanted, Section):
            if wanted.begin(node):
                self._sections.append(wanted)
            else:
                self._pass_over()
        else:
            self._nodes.append(node)
            self._hand_over = wanted

    def _end(self, name: str) -> None:
        self._depth -= 1
        if self._nodes:
            if name.removeprefix(self._prefix) in _POINTS:
                return
            node = self._nodes.pop()
            if not self._nodes:
                self._hand_over(node)
        else:
            self._sections.pop().end()

    def _pass_over(self) -> None:
        self._resume_at = self._depth - 1
        self._parser.StartElementHandler = self._start_passed_over
        self._parser.EndElementHandler = self._end_passed_over

    def _start_passed_over(self, name: str, _: dict[str, str]) -> None:
        self._deeper()
        self._check_place(name.removeprefix(self._prefix))

    def _end_passed_over(self, _: str) -> None:
        self._depth -= 1
        if self._depth == self._resume_at:
            self._listen()

    def _deeper(self) -> None:
        self._depth += 1
        if self._depth > self._limits.nesting:
            raise self._error(f"more than {self._limits.nesting} elements one inside another (limit nesting)")

    def _check_place(self, tag: str) -> None:
        if tag in self._misplaced:
            raise self._error(f"<{tag}> does not belong here, so what it holds would be lost")

    def _point(self, node: Node, tag: str, attributes: dict[str, str]) -> None:
        if (tag == "PolyBegin") != (not node.points):
            raise self._error("expected one PolyBegin, and before all steps")
        if tag == "PolyBegin":
            node.points, node.curves = array("d"), []
        points = node.points
        try:
            points.append(float(attributes["x"]))
            points.append(float(attributes["y"]))
            if tag == "PolyStepCurve":
                centre = float(attributes["centerX"]), float(attributes["centerY"])
                node.curves.append(Curve(len(points) // 2 - 1, *centre, FLAGS[attributes["clockwise"]]))
        except (KeyError, ValueError):
            wanted = "x, y, centerX, centerY and clockwise" if tag == "PolyStepCurve" else "x and y"
            raise self._error(f"expected numbers for {wanted} of <{tag}>") from None
