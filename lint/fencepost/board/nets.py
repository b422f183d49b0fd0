"""Which nets there are, what they are for, and which net each piece of copper belongs to."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Conflict, Copper, Net, NetKind, Pieces
from fencepost.distinct import distinct_pairs
from fencepost.names import listed, short_names, tail
from fencepost.readers.artwork import Artwork, Kind
from fencepost.settings.model import NetSettings
from fencepost.settings.patterns import matches

UNCONNECTED = "N/C"
"""The net name of a pad without a net (The Gerber Layer Format Specification, attribute .N): no label at all."""

_GROUND = re.compile(
    r"(?:[ACDFPS]|CH)?GND(?:[ADPS]|[_-]?\w+)?|\w+[_-]?GND|[ADP]?VSS[ADQ]?|GROUND|EARTH|CHASSIS|0V", re.IGNORECASE
)
_VOLTS = r"[PN+-]?\d+(?:[.P]\d+)?V\d*"
_SUPPLY = r"V(?:EE|BATT?|BUS|IN|OUT|REF|SYS|PP|TT|IO|AA|CORE|MAIN|PWR|RAW|USB)"
_POWER = re.compile(
    rf"{_VOLTS}[\w-]*|[+-]\d+(?:[.,]\d+)?|V\d+[._P]\d+\w*|{_SUPPLY}(?:[_-]?\w+)?|[A-Z]{{0,3}}(?:VCC|VDD)\S*"
    rf"|BATT?\+|[+-](?:BATT?|VIN|VBUS|VSYS)|\w+[_-](?:VBUS|VBAT|VCC|VDD|{_VOLTS})",
    re.IGNORECASE,
)
_ABOUT_SUPPLIES = re.compile(
    r"(?:EN|PG|PGOOD|OK|ADC|MON|SENSE|SNS|DET|SEL|FB)[_-].*|.*[_-](?:EN|ENABLE|PG|P?GOOD|OK|FB|FAULT|FLT|CTRL?|SEL|ALERT|DIV)"
    r"\d*(?:[_-]?N|#)?|.*[_-]?(?:SENSE|SNS|DET|DETECT|MON)\d*(?:[_-][PN])?|V(?:IN|OUT)[_-]?[PN+-]",
    re.IGNORECASE,
)
"""Signals that are called after the supply or ground that they switch or watch, and analogue pairs."""

_RADIO = re.compile(r"(?:^|[/(_-])(?:RF|ANT)", re.IGNORECASE)

POURED_MM2 = 50.0
"""A net that fills more of one layer than this is no signal's (common practice, no source)."""


def recognised_kind(name: str) -> NetKind:
    """What a net is for, by names in common use; sheet paths before the last slash do not count."""
    last = tail(name)
    if _ABOUT_SUPPLIES.fullmatch(last):
        return NetKind.SIGNAL
    if _GROUND.fullmatch(last):
        return NetKind.GROUND
    return NetKind.POWER if _POWER.fullmatch(last) else NetKind.SIGNAL


def net_table(
    names: Iterable[str], made_up: Iterable[str], settings: NetSettings
) -> tuple[tuple[Net, ...], tuple[str, ...]]:
    """All nets, sorted by name, and a note on kinds that were recognised and not given.

    `made_up` are names that no label gave.
    """
    named, unnamed = set(names), set(made_up)

    def kind(name: str) -> NetKind:
        guess = recognised_kind(name)
        if settings.ground is not None and matches(name, settings.ground):
            return NetKind.GROUND
        if settings.power is not None and matches(name, settings.power):
            return NetKind.POWER
        given = settings.ground if guess is NetKind.GROUND else settings.power
        return guess if guess is NetKind.SIGNAL or given is None else NetKind.SIGNAL

    nets = tuple(Net(name, kind(name), name in named) for name in sorted(named | unnamed))
    assumptions = []
    for word, given in ((NetKind.GROUND, settings.ground), (NetKind.POWER, settings.power)):
        found = [net.name for net in nets if net.kind is word]
        if given is None and found:
            assumptions.append(f"{word.value} nets by name: {listed(found)}")
    return nets, tuple(assumptions)


def labels_of(artwork: Artwork) -> tuple[str, ...]:
    """For each entry of `artwork.values` the net that it names; "" where it names none."""
    named = np.zeros(len(artwork.values), dtype=bool)
    named[artwork.net[artwork.net >= 0]] = True
    return tuple(
        value[0] if is_net and value and value[0] != UNCONNECTED else ""
        for value, is_net in zip(artwork.values, named, strict=True)
    )


def island_nets(
    island: NDArray[np.int32], label: NDArray[np.int32], count: int
) -> tuple[NDArray[np.int32], tuple[Conflict, ...]]:
    """The net of each of `count` islands, by the label of most of its parts, and the islands with several.

    `island` and `label` are int32 (n), a row for each part; -1 is no label. Net -1: no label at all.
    """
    said = label >= 0
    pairs, votes, _ = distinct_pairs(island[said], label[said])
    net = np.full(count, -1, dtype=np.int32)
    order = np.lexsort((-pairs[:, 1], votes, pairs[:, 0])) if len(pairs) else np.array([], dtype=np.int64)
    net[pairs[order, 0]] = pairs[order, 1]
    several = np.flatnonzero(np.bincount(pairs[:, 0], minlength=count) > 1)
    conflicts = tuple(Conflict(int(one), tuple(int(name) for name in pairs[pairs[:, 0] == one, 1])) for one in several)
    return net, conflicts


def with_poured(
    nets: tuple[Net, ...], copper: tuple[Copper, ...], pieces: Pieces, settings: NetSettings
) -> tuple[tuple[Net, ...], tuple[str, ...]]:
    """The nets, those of signals that fill a large area of one layer taken for power, and a note on each.

    A supply without a telling name is poured like one. Aerials are poured too: names of radio nets stay signals.
    Settings that name the power nets end the guessing.
    """
    if settings.power is not None:
        return nets, ()
    largest = np.zeros(len(nets) + 1)
    for layer in copper:
        fills = layer.artwork.kind[layer.feature] == Kind.FILL
        area = np.bincount(
            pieces.net[layer.piece[fills]] + 1, shapely.area(layer.geometry[fills]), minlength=len(nets) + 1
        )
        largest = np.maximum(largest, area)
    poured = {
        i
        for i, net in enumerate(nets)
        if net.kind is NetKind.SIGNAL and largest[i + 1] >= POURED_MM2 and not _RADIO.search(net.name)
    }
    found = tuple(replace(net, kind=NetKind.POWER) if i in poured else net for i, net in enumerate(nets))
    names = short_names(net.name for net in nets)
    areas = ", ".join(f"{names[i]} ({largest[i + 1]:.0f} mm²)" for i in sorted(poured, key=lambda i: -largest[i + 1]))
    return found, (f"power nets by their poured area: {areas}",) if poured else ()
