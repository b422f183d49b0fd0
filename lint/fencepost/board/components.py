"""Components as X3 attributes describe them: pads with a pin, on the copper that they are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from fencepost.board.model import Component, Copper, Pieces, Pin
from fencepost.ranges import ranges
from fencepost.readers.artwork import Attributes

NAMES = 2
"""Values that say which pin a pad is: of its component, and of the pin."""


def components_of(copper: tuple[Copper, ...], pieces: Pieces) -> tuple[Component, ...]:
    """Components sorted by name, pins in the order of their numbers' text; a through pin stands once for each layer."""
    pins: dict[str, list[Pin]] = defaultdict(list)
    attributes: dict[str, Attributes] = {}
    for layer in copper:
        for name, said in layer.artwork.component_attributes.items():
            attributes.setdefault(name, {}).update(said)
        for name, pin in _pins_on(layer, pieces):
            pins[name].append(pin)
    return tuple(
        Component(
            name,
            tuple(sorted(pins[name], key=lambda pin: (pin.number, pin.layer, pin.x, pin.y))),
            attributes.get(name, {}),
        )
        for name in sorted(pins)
    )


def _pins_on(layer: Copper, pieces: Pieces) -> Iterator[tuple[str, Pin]]:
    """The component and the pin of each part of a layer that is one, in the middle of the points of its feature."""
    artwork = layer.artwork
    part = np.flatnonzero(artwork.pin[layer.feature] >= 0)
    feature = layer.feature[part]
    count = artwork.first[feature + 1] - artwork.first[feature]
    row = ranges(artwork.first[feature], count)
    begins = np.cumsum(count) - count
    middle = np.add.reduceat(artwork.xy[row], begins) / count[:, None] if len(part) else np.empty((0, 2))
    piece = layer.piece[part]
    columns = artwork.pin[feature], pieces.net[piece], *middle.T, piece
    for value, net, x, y, own in zip(*(column.tolist() for column in columns), strict=True):
        names = artwork.values[value]
        if len(names) >= NAMES:
            yield names[0], Pin(names[1], net, layer.layer, x, y, own)
