"""How much a file may ask of a reader before it is refused."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Limits:
    """Bounds that no sensible file comes near; an error names the one that was passed.

    features          strokes, flashes and contours after step and repeat and block apertures are expanded; the blocks
                      on the way there count as well
    points            points of all of them together
    shape_points      points of the shapes that one aperture is made of
    nesting           block apertures and repeats one inside another, by definition or by use
    expression_depth  operands that a macro's expression keeps waiting, as by parentheses
    coordinate_digits digits of one coordinate; 18 fit 64 bits
    number_characters characters of any other number
    reach             largest coordinate or size in mm
    name_length       characters of a name: of a net, a pin, a layer (IPC-2581)
    tag_bytes         bytes of one tag, comment or instruction (IPC-2581)
    """

    features: int = 10_000_000
    points: int = 40_000_000
    shape_points: int = 50_000
    nesting: int = 64
    expression_depth: int = 100
    coordinate_digits: int = 18
    number_characters: int = 64
    reach: float = 1e5
    name_length: int = 1_000
    tag_bytes: int = 16 * 1024 * 1024


DEFAULT_LIMITS = Limits()
