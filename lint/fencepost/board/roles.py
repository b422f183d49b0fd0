"""Which file of a Gerber package is which part of the board, and whether the package is whole.

What a file is comes from its file function (The Gerber Layer Format Specification, Ucamco, 2024.05, section 5.6.3; the
section number is from memory), else from the job file, else from the settings. Nothing is guessed from a file's name.
"""

from __future__ import annotations

from pathlib import PurePath

from fencepost.errors import InputError
from fencepost.frozen import dataclass
from fencepost.settings.written import key_part
from fencepost.source import SourceFile

FieldsOf = tuple[str, ...]
"""A file function as its fields: ("Copper", "L1", "Top")."""

OTHER_FUNCTIONS = frozenset(
    {
        *("Soldermask", "Legend", "Component", "Paste", "Glue", "Carbonmask", "Goldmask", "Heatsinkmask"),
        *("Peelablemask", "Silvermask", "Tinmask", "Depthrout", "Vcut", "Viafill", "Pads", "Other", "Drillmap"),
        *("FabricationDrawing", "Vcutmap", "AssemblyDrawing", "ArrayDrawing", "OtherDrawing", "Keep-out"),
    }
)
"""File functions of the specification that carry no copper, hole or profile. From memory."""


@dataclass(frozen=True)
class Role:
    """`part` is "copper", "profile", "drill" or "other".

    Copper has a `layer`, drills have `plated` and `span`; the span 0, 0 is the whole board.
    """

    part: str
    layer: int = 0
    side: str = ""
    plated: bool = False
    span: tuple[int, int] = (0, 0)
    function: FieldsOf = ()
    """The file function, of a part that is not used."""

    @property
    def words(self) -> str:
        """The role, for the user."""
        if self.part == "copper":
            return f"copper L{self.layer}"
        if self.part == "drill":
            return "plated holes" if self.plated else "holes without plating"
        if self.part == "other":
            return f"not used: {','.join(self.function)}" if self.function else "not used"
        return self.part


def role_of(source: SourceFile, function: FieldsOf) -> Role:
    """The role that a file function names. Raises InputError where it is unknown or its fields are wrong."""
    kind, *fields = function
    if kind == "Copper":
        return _copper(source, fields)
    if kind == "Profile":
        return Role("profile")
    if kind in ("Plated", "NonPlated"):
        return _drill(source, kind == "Plated", fields)
    if kind in OTHER_FUNCTIONS:
        return Role("other", function=function)
    raise whole_file(source, f'"{",".join(function)}" is not a file function of the specification')


def claimed_role(source: SourceFile, claim: str) -> Role:
    """The role that a `[layers]` entry of the settings names: "L1", "profile" or "other"."""
    if claim in ("profile", "other"):
        return Role(claim)
    if claim[:1] == "L" and _counts(claim[1:]):
        return Role("copper", layer=int(claim[1:]))
    raise whole_file(source, f'the settings call this file "{claim}"; it must be "L1" to "Ln", "profile" or "other"')


def _copper(source: SourceFile, fields: list[str]) -> Role:
    name = fields[0] if fields else ""
    if not (name[:1] == "L" and _counts(name[1:])):
        raise whole_file(source, f'the file function "Copper" needs a layer as L1, not "{name}"')
    return Role("copper", layer=int(name[1:]), side=fields[1] if len(fields) > 1 else "")


def _drill(source: SourceFile, plated: bool, fields: list[str]) -> Role:
    if len(fields) < 2 or not all(map(_counts, fields[:2])):
        word = "Plated" if plated else "NonPlated"
        raise whole_file(source, f'the file function "{word}" needs its first and last layer, as {word},1,4')
    low, high = sorted((int(fields[0]), int(fields[1])))
    return Role("drill", plated=plated, span=(low, high))


def _counts(text: str) -> bool:
    """Whether a text is the number of a layer."""
    return len(text) <= _LONGEST_NUMBER and text.isdecimal() and int(text) > 0


_LONGEST_NUMBER = 9


def whole_file(source: SourceFile, message: str, cure: str = "") -> InputError:
    """An error about a file and no line of it."""
    return InputError(source.name, 0, 0, message, cure)


def check_copper(
    package: str, found: dict[int, SourceFile], sides: dict[int, str], layers: int | None, most: int
) -> None:
    """Raise InputError unless there is one file for each layer from top to bottom, of which there may be `most`.

    `layers` is how many the job file or the drill spans speak of, None where nothing does.
    """
    if not found:
        said = "no copper layer found; a copper file has the file function Copper, or is named in [layers]"
        raise InputError(package, 0, 0, said, layers_cure(["top.gbr", "bottom.gbr"]))
    bottom = max(found)
    count = max(bottom, layers or 0)
    if count > most:
        said = f"its files speak of {count} copper layers; {most} are allowed (limit layers)"
        raise InputError(package, 0, 0, said)
    missing = [f"L{i}" for i in range(1, count + 1) if i not in found]
    listed = ", ".join(f"L{i}" for i in sorted(found))
    if missing:
        raise InputError(package, 0, 0, f"copper layer {', '.join(missing)} of {count} is missing; found {listed}")
    if sides.get(bottom) and sides[bottom] != "Bot" and bottom > 1:
        source = found[bottom]
        raise whole_file(source, f"L{bottom} is the lowest copper layer found and is not the bottom; found {listed}")
    if layers is not None and bottom > layers:
        raise InputError(package, 0, 0, f"found {bottom} copper layers, but the job file speaks of {layers}")


def layers_cure(names: list[str]) -> str:
    """Lines of settings that would say what these files are."""
    files = "\n".join(f'{key_part(PurePath(name).name)} = "L{i}"' for i, name in enumerate(names, 1))
    return f'Say what it is in fencepost.toml: "L1" to "Ln", "profile" or "other":\n\n[layers]\n{files}'


def drill_cure(name: str) -> str:
    """Lines of settings that would say what a drill file is."""
    return (
        f"Say what it is in fencepost.toml:\n\n"
        f"[drill.{key_part(PurePath(name).name)}]\nplated = true\nspan = [1, 2]    # first and last copper layer"
    )
