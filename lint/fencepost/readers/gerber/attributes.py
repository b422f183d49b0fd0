"""Attributes: the dictionary of TF, TA, TO and TD, and the fields in it."""

from __future__ import annotations

from dataclasses import dataclass, field

from fencepost.limits import Limits, name_fault
from fencepost.readers.artwork import Attributes
from fencepost.readers.escapes import unescaped
from fencepost.source import SourceFile

NET, PIN, COMPONENT, FUNCTION = ".N", ".P", ".C", ".AperFunction"
FEWEST_FIELDS = {NET: 1, PIN: 2, COMPONENT: 1, FUNCTION: 1}


def name_and_fields(source: SourceFile, offset: int, text: str, limits: Limits) -> tuple[str, tuple[str, ...]]:
    """The name and the fields in `.N,a,b*`, read as Latin-1: line ends dropped, UTF-8 decoded, escapes replaced.

    Both escapes are known, `\\u002C` and the `\\002C` of earlier revisions. A backslash that begins neither is kept.
    """
    if said := name_fault(text, limits):
        raise source.error(offset, said)
    if not text.isascii():
        try:
            text = text.encode("latin-1").decode("utf-8")
        except UnicodeDecodeError as error:
            raise source.error(offset + error.start, "expected UTF-8 in an attribute") from None
    if "\r" in text or "\n" in text:
        text = text.replace("\r", "").replace("\n", "")
    parts = text.removesuffix("*").split(",")
    if "\\" in text:
        parts = list(map(unescaped, parts))
    return parts[0].rstrip(), tuple(parts[1:])


@dataclass
class Dictionary:
    """The attributes in force while a file is read. File attributes stay; the others live until TD."""

    file: Attributes = field(default_factory=dict)
    aperture: Attributes = field(default_factory=dict)
    object: Attributes = field(default_factory=dict)

    @property
    def of_command(self) -> dict[str, Attributes]:
        """The part that each command sets."""
        return {"TF": self.file, "TA": self.aperture, "TO": self.object}

    def delete(self, name: str | None) -> None:
        """TD: one aperture or object attribute, or all of them. A name that is not there has nothing to delete."""
        if name is None:
            self.aperture.clear()
            self.object.clear()
        else:
            self.aperture.pop(name, None)
            self.object.pop(name, None)

    def labels(self) -> tuple[tuple[str, ...], ...]:
        """Net, pin, component and aperture function in force, each empty where there is none."""
        of_object, of_aperture = self.object, self.aperture
        return (
            of_object.get(NET, ()),
            of_object.get(PIN, ()),
            of_object.get(COMPONENT, ()),
            of_aperture.get(FUNCTION, ()),
        )

    def of_component(self) -> tuple[str, Attributes] | None:
        """The component whose object is drawn, and what the dictionary says of it beyond its name."""
        component = self.object.get(COMPONENT)
        if not component:
            return None
        said = {name: fields for name, fields in self.object.items() if name.startswith(".C") and name != COMPONENT}
        return component[0], said
