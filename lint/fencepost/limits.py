"""How much a package may ask for before it is refused: every limit there is, in one place.

No fabrication package comes near them, and an error names the one that was passed. `[limits]` in fencepost.toml sets
them otherwise:

    [limits]
    file_bytes = 1_000_000_000
    seconds = 600
"""

from __future__ import annotations

import time
from typing import Annotated

from msgspec import Meta, Struct
from msgspec.structs import fields

_MIB = 1024 * 1024


def _text(description: str) -> Meta:
    return Meta(description=description)


class Limits(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Those of a package as it lies on the disk, then those of what stands in its files. All are above zero or, for
    `depth`, not below it; else ValueError.
    """

    file_bytes: Annotated[int, _text("one file after decompression, and an archive as it lies on the disk")] = (
        256 * _MIB
    )
    total_bytes: Annotated[int, _text("all files that are read, together, after decompression")] = 1024 * _MIB
    files: Annotated[int, _text("entries of a folder with its subfolders, or of an archive")] = 2_000
    ratio: Annotated[float, _text("size of a file after decompression to its size before")] = 250.0
    ratio_free_bytes: Annotated[int, _text("files of up to this size may have been packed smaller yet")] = _MIB
    depth: Annotated[int, _text("folders one inside another, the package's own not counted")] = 4
    path_length: Annotated[int, _text("characters of a file's path inside the package")] = 250
    layers: Annotated[int, _text("copper layers of a board")] = 200
    features: Annotated[
        int, _text("strokes, flashes and contours of a file, repeats and blocks expanded, the blocks counted as well")
    ] = 10_000_000
    points: Annotated[
        int, _text("points of all features of a file together, and of all shapes that it flashes or draws with")
    ] = 40_000_000
    hits: Annotated[int, _text("holes and cuts of a drill file, repeats and arcs expanded")] = 4_000_000
    overlaps: Annotated[int, _text("pairs of shapes of one layer whose boxes meet")] = 5_000_000
    crossings: Annotated[
        int, _text("pairs of sides whose boxes meet, of the profile, and of a contour that touches or crosses itself")
    ] = 500_000
    shape_points: Annotated[int, _text("points of the shapes that one aperture is made of")] = 50_000
    nesting: Annotated[int, _text("blocks, repeats or elements one inside another, by definition or by use")] = 64
    expression_depth: Annotated[
        int, _text("operands that the expression of a macro keeps waiting, as by parentheses")
    ] = 100
    coordinate_digits: Annotated[int, Meta(le=18, description="digits of one coordinate; 18 fit 64 bits")] = 18
    number_characters: Annotated[int, _text("characters of any other number")] = 64
    reach: Annotated[float, _text("largest coordinate or size, in mm")] = 1e5
    name_length: Annotated[int, _text("characters of the name of a net, pin or layer, and of a whole attribute")] = (
        4_000
    )
    words: Annotated[int, _text("words of a file that are read one by one; a run of coordinates is one")] = 2_000_000
    tag_bytes: Annotated[int, _text("bytes of one tag, comment or instruction of XML")] = 16 * _MIB
    seconds: Annotated[
        float, _text("time to check a package, asked between files, rules and findings, and to read each file")
    ] = 1800.0

    def __post_init__(self) -> None:
        for field in fields(self):
            least = 0 if field.name == "depth" else 1e-9
            if not least <= getattr(self, field.name) < float("inf"):
                raise ValueError(f"{field.name} must be above zero")
        if self.coordinate_digits > 18:
            raise ValueError("coordinate_digits is at most 18, which fit 64 bits")


DEFAULT_LIMITS = Limits()


def name_fault(name: str, limits: Limits) -> str:
    """What is wrong with a name that is too long, "" where nothing is."""
    if len(name) <= limits.name_length:
        return ""
    return f"a name or an attribute of more than {limits.name_length:,} characters (limit name_length)"


class Deadline:
    """The time for a package, or that a reader has for one file, from when this is made."""

    def __init__(self, limits: Limits) -> None:
        self._seconds = limits.seconds
        self._end = time.monotonic() + limits.seconds

    def passed(self) -> str:
        """What to say where the time is over, "" where it is not."""
        if time.monotonic() < self._end:
            return ""
        return f"took more than {self._seconds:g} s (limit seconds)"
