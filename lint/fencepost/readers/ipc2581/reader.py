"""A whole IPC-2581 file."""

from __future__ import annotations

from collections.abc import Mapping

from fencepost.limits import DEFAULT_LIMITS, Limits
from fencepost.readers.ipc2581.columns import Budget, ToolTable
from fencepost.readers.ipc2581.document import Node, Section, walk
from fencepost.readers.ipc2581.drawing import Entry
from fencepost.readers.ipc2581.layers import layer_of
from fencepost.readers.ipc2581.notes import Notes
from fencepost.readers.ipc2581.reading import Reading
from fencepost.readers.ipc2581.shop import Shop
from fencepost.readers.ipc2581.stackup import Stack, StackReader, permittivity_of
from fencepost.readers.ipc2581.steps import Steps
from fencepost.readers.ipc2581.values import Values
from fencepost.source import SourceFile

REVISIONS = ("A", "B", "B1", "C")

_MISPLACED = frozenset({"Ecad", "CadHeader", "CadData", "Layer", "Step", "Route", "PadStack", "LayerFeature"})
"""Elements that must not be passed over where they do not belong: copper would be lost with them."""


def read_ipc2581(
    source: SourceFile, claims: Mapping[str, bool] | None = None, limits: Limits = DEFAULT_LIMITS
) -> Reading:
    """Read a file of revision A, B, B1 or C, as the schemas of the IPC-2581 consortium describe them.

    The file need not be valid. `claims` says of layers by their names that they are copper, or are not. Raises
    InputError, with line and column, for what is not XML, ends early, has no units, refers to what is not there where
    copper would be lost, or passes a limit.
    """
    notes = Notes(source)
    budget = Budget(source, limits)
    return _Reader(Shop(Values(source, limits), notes, budget, ToolTable(limits), claims or {})).read()


class _Reader:
    """The table of what is wanted, and what it fills."""

    def __init__(self, shop: Shop) -> None:
        self._shop = shop
        self._values = shop.values
        self._revision = ""
        self._dictionary_scale = 0.0
        self._named: list[str] = []
        self._permittivity: dict[str, float] = {}
        self._stacks: list[Stack] = []
        self._headers = 0
        self._steps = Steps(shop)

    def read(self) -> Reading:
        content = Section(
            {
                "StepRef": lambda node: self._named.append(self._values.name(node, "name")),
                "DictionaryLineDesc": self._dictionary("EntryLineDesc", self._shop.dictionaries.lines),
                "DictionaryFillDesc": self._dictionary("EntryFillDesc", self._shop.dictionaries.fills),
                "DictionaryStandard": self._dictionary("EntryStandard", self._shop.dictionaries.standard),
                "DictionaryUser": self._dictionary("EntryUser", self._shop.dictionaries.user),
            }
        )
        data = Section({"Layer": self._layer, "Stackup": self._stack, "Step": self._steps.section})
        header = Section({"Spec": self._spec}, begin=self._begin_header)
        bill = Section({"BomItem": lambda node: self._shop.materials.add(node, self._values)})
        root = Section(
            {"Content": content, "Bom": bill, "Ecad": Section({"CadHeader": header, "CadData": data})},
            begin=self._begin_root,
        )
        source = self._values.source
        walk(source, Section({"IPC-2581": root}, other=self._foreign), _MISPLACED, self._values.limits)
        if not self._headers:
            raise source.error(0, "the file has no CadHeader, and so no board")
        return Reading(
            source,
            self._revision,
            self._shop.layers,
            tuple(self._stacks),
            tuple(self._steps.found),
            tuple(self._named),
            self._shop.names,
            self._shop.tools.tools,
            self._shop.notes,
        )

    def _foreign(self, node: Node) -> None:
        raise self._values.source.error(node.offset, f"the root element is <{node.tag}>, not <IPC-2581>")

    def _begin_root(self, node: Node) -> bool:
        self._revision = self._values.word(node, "revision")
        if not self._revision:
            self._shop.notes.add("the file does not say its revision", node.offset)
        elif self._revision not in REVISIONS:
            known = ", ".join(REVISIONS)
            said = f"revision {self._revision!r} is none of those that can be read: {known}"
            raise self._values.source.error(node.offset, said)
        return True

    def _begin_header(self, node: Node) -> bool:
        self._headers += 1
        if self._headers > 1:
            raise self._values.source.error(node.offset, "a second CadHeader; a file holds one board")
        self._shop.scale = self._values.unit(node)
        return True

    def _dictionary(self, tag: str, entries: dict[str, Entry]) -> Section:
        def add(node: Node) -> None:
            entries[self._values.name(node, "id")] = Entry(node, self._dictionary_scale)

        return Section({tag: add}, begin=self._begin_dictionary)

    def _begin_dictionary(self, node: Node) -> bool:
        self._dictionary_scale = self._values.unit(node) if "units" in node.attributes else 0.0
        return True

    def _spec(self, node: Node) -> None:
        found = permittivity_of(node, self._values)
        if found is not None:
            self._permittivity[self._values.name(node, "name")] = found

    def _layer(self, node: Node) -> None:
        layer = layer_of(node, self._values)
        if layer.name in self._shop.layers:
            raise self._values.source.error(node.offset, f"a second layer of the name {layer.name!r}")
        self._shop.layers[layer.name] = layer

    def _stack(self, node: Node) -> None:
        shop = self._shop
        reader = StackReader(self._values, shop.scale, self._permittivity, shop.layers, shop.notes)
        self._stacks.append(reader.read(node))
