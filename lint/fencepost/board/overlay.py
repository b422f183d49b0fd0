"""A package with an overlay on it: copper and holes of a second package that are added to the first one's.

    fencepost suggest fab --overlay more
    load_board(open_package(Path("fab")), settings, open_package(Path("more")))

is the board as it would be with the vias that were suggested.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fencepost.board.roles import whole_file
from fencepost.board.sources import Sources
from fencepost.readers.artwork import Artwork
from fencepost.source import SourceFile


def overlaid(base: Sources, more: Sources) -> Sources:
    """What both draw, `more` over `base`, and what both drill. Raises InputError where they differ in layers."""
    if len(base.copper) != len(more.copper):
        said = f"the overlay has {len(more.copper)} copper layers, and the board has {len(base.copper)}"
        raise whole_file(more.copper[-1].source, said)
    copper = tuple(drawn_over(own, other) for own, other in zip(base.copper, more.copper, strict=True))
    return replace(base, copper=copper, drills=(*base.drills, *more.drills), files=base.files | more.files)


def drawn_over(base: Artwork, more: Artwork) -> Artwork:
    """One artwork drawn over another. What comes from the second has its lines after the last one of the first."""
    source = SourceFile(base.source.name, base.source.data + b"\n" + more.source.data)
    values = len(base.values)

    def indices(own: NDArray[np.int32], other: NDArray[np.int32], by: int) -> NDArray[np.int32]:
        return np.concatenate([own, np.where(other >= 0, other + by, -1)]).astype(np.int32)

    return Artwork(
        source=source,
        attributes=base.attributes,
        kind=np.concatenate([base.kind, more.kind]),
        dark=np.concatenate([base.dark, more.dark]),
        first=np.concatenate([base.first, more.first[1:] + base.first[-1]]),
        xy=np.concatenate([base.xy, more.xy]),
        tool=indices(base.tool, more.tool, len(base.tools)),
        net=indices(base.net, more.net, values),
        pin=indices(base.pin, more.pin, values),
        component=indices(base.component, more.component, values),
        function=indices(base.function, more.function, values),
        offset=np.concatenate([base.offset, more.offset + len(base.source.data) + 1]),
        tools=(*base.tools, *more.tools),
        values=(*base.values, *more.values),
        component_attributes=base.component_attributes | more.component_attributes,
        rings=np.concatenate([base.rings, more.rings + len(base.xy)]),
    )
