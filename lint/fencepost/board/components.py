"""Components as X3 attributes describe them: pads with a pin, on the copper that they are."""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from fencepost.board.model import Component, Copper, Pieces, Pin
from fencepost.readers.artwork import Attributes


def components_of(copper: tuple[Copper, ...], pieces: Pieces) -> tuple[Component, ...]:
    """Components sorted by name, pins in the order of their numbers' text; a through pin stands once for each layer."""
    pins: dict[str, list[Pin]] = defaultdict(list)
    attributes: dict[str, Attributes] = {}
    for layer in copper:
        artwork = layer.artwork
        for name, said in artwork.component_attributes.items():
            attributes.setdefault(name, {}).update(said)
        for part in np.flatnonzero(artwork.pin[layer.feature] >= 0):
            feature = layer.feature[part]
            value = artwork.values[artwork.pin[feature]]
            if len(value) < 2:
                continue
            x, y = artwork.points(int(feature)).mean(axis=0)
            piece = int(layer.piece[part])
            net = int(pieces.net[piece])
            pins[value[0]].append(Pin(value[1], net, layer.layer, float(x), float(y), piece))
    return tuple(
        Component(
            name,
            tuple(sorted(pins[name], key=lambda pin: (pin.number, pin.layer, pin.x, pin.y))),
            attributes.get(name, {}),
        )
        for name in sorted(pins)
    )
