"""XML in one pass: a table of sections says which elements are wanted; each is handed over whole and then forgotten.

Nothing outside the file is ever looked at. Entities, their expansion and external subsets all need a document type
declaration, and expat calls StartDoctypeDeclHandler before it reads the first declaration inside one; raising there
ends the parse. What is left are the five entities that XML itself defines, and character references.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Mapping
from typing import NoReturn
from xml.parsers import expat

from fencepost.errors import InputError
from fencepost.frozen import dataclass
from fencepost.limits import Deadline, Limits
from fencepost.source import SourceFile

_CHUNK = 1 << 20
_ENCODINGS = frozenset({"UTF-8", "UTF8", "US-ASCII", "ASCII", "ISO-8859-1"})
"""Those that expat reads by itself; for others it would look up a codec by a name out of the file."""

_BYTE_ORDER_MARKS_16 = (b"\xff\xfe", b"\xfe\xff")

_POINTS = frozenset({"PolyBegin", "PolyStepSegment", "PolyStepCurve"})
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
    parser = expat.ParserCreate()
    _listen(parser, source, root, misplaced, limits)
    data = memoryview(source.data)
    deadline = Deadline(limits)
    try:
        for at in range(0, len(data), _CHUNK):
            if late := deadline.passed():
                raise source.error(at, f"reading {late}")
            parser.Parse(data[at : at + _CHUNK], False)
            if at - parser.CurrentByteIndex > limits.tag_bytes:
                most = f"{limits.tag_bytes:,} bytes (limit tag_bytes)"
                raise source.error(parser.CurrentByteIndex, f"a tag, comment or instruction of more than {most}")
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        at = max(min(parser.ErrorByteIndex, len(data)), 0)  # it is -1 for a file of nothing
        if error.code in _CUT_SHORT:
            said = "the file ends here, before its last element is closed: it was cut short"
        elif error.code == _SECOND_ROOT:
            said = "the file goes on after its root element; an IPC-2581 file has one root"
        else:
            said = f"the file is not XML: {expat.ErrorString(error.code)}"
        raise source.error(at, said) from None


def _listen(
    parser: expat.XMLParserType, source: SourceFile, root: Section, misplaced: frozenset[str], limits: Limits
) -> None:
    """Set the handlers of a parser.

    They are called millions of times, hence functions around a few variables: open sections, and the nodes from the
    wanted element down to the current one.
    """
    sections = [root]
    nodes: list[Node] = []
    hand_over: Wanted = _nothing
    depth = resume_at = 0
    prefix = ""
    deepest = limits.nesting

    def error(message: str) -> InputError:
        return source.error(parser.CurrentByteIndex, message)

    def check_depth() -> None:
        if depth > deepest:
            raise error(f"more than {deepest} elements one inside another (limit nesting)")

    def refuse_document_type(*_: object) -> NoReturn:
        raise error("a document type declaration; it could define entities, and no IPC-2581 file needs one")

    def check_encoding(_version: str, encoding: str | None, _standalone: int) -> None:
        if encoding is not None and encoding.upper() not in _ENCODINGS:
            raise error(f"the file says that it is in {encoding!r}; save it as UTF-8")

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth, prefix, hand_over
        depth += 1
        if depth > deepest:
            check_depth()
        if depth == 1:
            prefix = name[: name.find(":") + 1]
        tag = name.removeprefix(prefix) if prefix else name
        if nodes:
            owner = nodes[-1]
            if tag in _POINTS:
                points = owner.points
                try:
                    if points and tag == "PolyStepSegment":  # most of them all
                        points.append(float(attributes["x"]))
                        points.append(float(attributes["y"]))
                    else:
                        _add_point(owner, tag, attributes)
                except (KeyError, ValueError):
                    raise error(_expected(tag)) from None
                return
            node = Node(tag, attributes, parser.CurrentByteIndex)
            owner.children.append(node)
            nodes.append(node)
            return
        section = sections[-1]
        wanted = section.children.get(tag)
        node = Node(tag, attributes, parser.CurrentByteIndex)
        if wanted is None:
            section.other(node)
            check_place(tag)
            pass_over()
        elif not isinstance(wanted, Section):
            nodes.append(node)
            hand_over = wanted
        elif wanted.begin(node):
            sections.append(wanted)
        else:
            pass_over()

    def end(name: str) -> None:
        nonlocal depth
        depth -= 1
        if not nodes:
            sections.pop().end()
        elif (name.removeprefix(prefix) if prefix else name) not in _POINTS:
            node = nodes.pop()
            if not nodes:
                hand_over(node)

    def check_place(tag: str) -> None:
        if tag in misplaced:
            raise error(f"<{tag}> does not belong here, so what it holds would be lost")

    def pass_over() -> None:
        nonlocal resume_at
        resume_at = depth - 1
        parser.StartElementHandler, parser.EndElementHandler = start_passed_over, end_passed_over

    def start_passed_over(name: str, _: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        check_depth()
        check_place(name.removeprefix(prefix))

    def end_passed_over(_: str) -> None:
        nonlocal depth
        depth -= 1
        if depth == resume_at:
            parser.StartElementHandler, parser.EndElementHandler = start, end

    parser.XmlDeclHandler = check_encoding
    parser.StartDoctypeDeclHandler = refuse_document_type
    parser.StartElementHandler, parser.EndElementHandler = start, end


def _add_point(owner: Node, tag: str, attributes: dict[str, str]) -> None:
    """One of _POINTS. Raises KeyError or ValueError for one that is not whole or not in its place."""
    points = owner.points
    if tag == "PolyBegin":
        if points:
            raise ValueError
        points = owner.points = array("d")
        owner.curves = []
    elif not points:
        raise ValueError
    points.append(float(attributes["x"]))
    points.append(float(attributes["y"]))
    if tag == "PolyStepCurve":
        centre = float(attributes["centerX"]), float(attributes["centerY"])
        owner.curves.append(Curve(len(points) // 2 - 1, *centre, FLAGS[attributes["clockwise"].lower()]))


def _expected(tag: str) -> str:
    numbers = "x, y, centerX, centerY and clockwise" if tag == "PolyStepCurve" else "x and y"
    return f"expected numbers for {numbers} of <{tag}>, after one PolyBegin in each path"
