"""A Gerber file to its artwork."""

from __future__ import annotations

import numpy as np

from fencepost.limits import DEFAULT_LIMITS, Limits
from fencepost.readers.artwork import Artwork
from fencepost.readers.drawn import check_drawn
from fencepost.readers.gerber.blocks import expand
from fencepost.readers.gerber.drawing import draw
from fencepost.readers.gerber.interpreter import interpret
from fencepost.readers.gerber.operations import decode
from fencepost.readers.gerber.syntax import parse
from fencepost.source import SourceFile


def read_gerber(source: SourceFile, limits: Limits = DEFAULT_LIMITS) -> Artwork:
    """Read a layer as The Gerber Layer Format Specification (Ucamco, 2024.05) says, X2 and X3 attributes included.

    Raises InputError, with line and column and what was expected there, for a file that is not whole, leaves the
    specification, uses a deprecated command that would change the image as a whole, or passes a limit.
    """
    program = interpret(source, parse(source, limits), limits)
    assert program.format is not None
    operations = decode(source, program.runs, program.format, limits)
    drawn, run, container = draw(
        source, operations, program.states, program.tools, program.format.resolution_mm, limits
    )
    features = expand(source, program, drawn, run, container, limits)
    used = np.flatnonzero(np.bincount(features.tool[features.tool >= 0]))
    renumbered = np.full(len(program.tools.entries) + 1, -1, np.int32)
    renumbered[used] = np.arange(len(used))
    tools, tool = program.tools.tools(used), renumbered[features.tool]
    check_drawn(source, tools, tool, features.count, features.offset, limits)
    return Artwork(
        source=source,
        attributes=program.attributes,
        kind=features.kind,
        dark=features.dark,
        first=features.first,
        xy=features.xy,
        tool=tool,
        net=features.net,
        pin=features.pin,
        component=features.component,
        function=features.function,
        offset=features.offset,
        tools=tools,
        values=tuple(program.values),
        component_attributes=program.component_attributes,
    )
