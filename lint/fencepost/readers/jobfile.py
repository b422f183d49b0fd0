"""The Gerber job file: what the package says of the board as a whole.

Source: Ucamco, The Gerber Job File Format Specification (names of the keys from memory). Lengths in it are in mm.
"""

from __future__ import annotations

import json
import math
from dataclasses import field
from typing import Any, NoReturn

import msgspec

from fencepost.errors import InputError
from fencepost.frozen import dataclass
from fencepost.limits import DEFAULT_LIMITS, Limits, name_fault
from fencepost.readers.material import permittivity_fault, thickness_fault
from fencepost.source import SourceFile


@dataclass(frozen=True)
class StackEntry:
    """One sheet of the stackup, from the top. `type` is in small letters: "copper", "dielectric", "soldermask", ...

    `thickness` in mm and the relative `permittivity` are None where the file does not give them.
    """

    type: str
    name: str
    thickness: float | None
    permittivity: float | None


@dataclass(frozen=True)
class Job:
    """`layers` are copper layers; `thickness` and `size` are in mm. What the file leaves out is None, or empty.

    `files` has the file function of each file by its path, as ("Copper", "L1", "Top").
    """

    layers: int | None = None
    thickness: float | None = None
    size: tuple[float, float] | None = None
    files: dict[str, tuple[str, ...]] = field(default_factory=dict)
    stack: tuple[StackEntry, ...] = ()


class _Size(msgspec.Struct):
    X: float
    Y: float


class _GeneralSpecs(msgspec.Struct):
    Size: _Size | None = None
    LayerNumber: int | None = None
    BoardThickness: float | None = None


class _File(msgspec.Struct):
    Path: str
    FileFunction: str | None = None


class _Sheet(msgspec.Struct):
    Type: str
    Name: str | None = None
    Thickness: float | None = None
    DielectricConstant: float | None = None
    Permittivity: float | None = None


class _Job(msgspec.Struct):
    """The parts of the file that are read; others may stand beside them."""

    GeneralSpecs: _GeneralSpecs = msgspec.field(default_factory=_GeneralSpecs)
    FilesAttributes: list[_File] = msgspec.field(default_factory=list)
    MaterialStackup: list[_Sheet] = msgspec.field(default_factory=list)


def read_job(source: SourceFile, limits: Limits = DEFAULT_LIMITS) -> Job:
    """Read a job file. Raises InputError for what is not JSON, with its place, and for values that cannot be."""
    raw = _parsed(source)
    try:
        # Not strict: some programs write numbers as text.
        job = msgspec.convert(raw, _Job, strict=False)
    except UnicodeEncodeError as error:
        lone = ascii(error.object[error.start])[1:-1]
        raise _wrong(source, f"the job file holds {lone}, half of a pair that makes a character") from None
    except msgspec.ValidationError as error:
        said, _, path = str(error).partition(" - at `$.")
        raise _wrong(source, f"{path.rstrip('`') or 'the job file'}: {said[0].lower()}{said[1:]}") from None
    general = job.GeneralSpecs
    size = general.Size
    thickness = _positive(source, "GeneralSpecs.BoardThickness", general.BoardThickness)
    if thickness is not None and (said := thickness_fault(thickness)):
        raise _wrong(source, f"GeneralSpecs.BoardThickness: {said}")
    return Job(
        layers=_positive(source, "GeneralSpecs.LayerNumber", general.LayerNumber),
        thickness=thickness,
        size=None if size is None else (_positive(source, "Size.X", size.X), _positive(source, "Size.Y", size.Y)),
        files=_files(source, job.FilesAttributes, limits),
        stack=tuple(_entry(source, number, sheet) for number, sheet in enumerate(job.MaterialStackup)),
    )


def _parsed(source: SourceFile) -> Any:
    try:
        text = source.data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise source.error(error.start, "the job file is not UTF-8 text") from None
    try:
        return json.loads(text, parse_int=float, parse_constant=_no_constant, object_pairs_hook=_object)
    except json.JSONDecodeError as error:
        skipped = len(source.data) - len(text.encode())  # the byte order mark
        offset = skipped + len(text[: error.pos].encode())
        raise source.error(offset, f"the job file is not JSON: {error.msg[0].lower()}{error.msg[1:]}") from None
    except (ValueError, RecursionError) as error:
        reason = "it is nested too deep" if isinstance(error, RecursionError) else str(error)
        raise _wrong(source, f"the job file is not JSON: {reason}") from None


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number")


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) < len(pairs):
        keys = [key for key, _ in pairs]
        raise ValueError(f"a key is given twice in one object: {max(keys, key=keys.count)}")
    return table


def _positive(source: SourceFile, key: str, value: Any) -> Any:
    if value is not None and not (math.isfinite(value) and value > 0):
        raise _wrong(source, f"{key} is {value}; it must be above zero")
    return value


def _files(source: SourceFile, files: list[_File], limits: Limits) -> dict[str, tuple[str, ...]]:
    functions: dict[str, tuple[str, ...]] = {}
    for file in files:
        if file.FileFunction is None:
            continue
        if said := name_fault(file.Path, limits) or name_fault(file.FileFunction, limits):
            raise _wrong(source, f"FilesAttributes: {said}")
        function = tuple(part.strip() for part in file.FileFunction.split(","))
        if functions.setdefault(file.Path, function) != function:
            raise _wrong(source, f"FilesAttributes gives {file.Path!r} two file functions")
    return functions


def _entry(source: SourceFile, number: int, sheet: _Sheet) -> StackEntry:
    kind = sheet.Type.strip().lower()
    permittivity = sheet.Permittivity if sheet.DielectricConstant is None else sheet.DielectricConstant
    if kind in ("copper", "dielectric"):  # of legends and masks some programs say that they have no thickness
        key = f"MaterialStackup[{number}]"
        _positive(source, f"{key}.Thickness", sheet.Thickness)
        _positive(source, f"{key}.DielectricConstant", permittivity)
        if sheet.Thickness is not None and (said := thickness_fault(sheet.Thickness)):
            raise _wrong(source, f"{key}.Thickness: {said}")
        if permittivity is not None and (said := permittivity_fault(permittivity)):
            raise _wrong(source, f"{key}.DielectricConstant: {said}")
    return StackEntry(kind, sheet.Name or "", sheet.Thickness, permittivity)


def _wrong(source: SourceFile, message: str) -> InputError:
    return InputError(source.name, 0, 0, message)
