"""What the file says elsewhere of features that carry no label themselves: pins, nets, what pads are for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.readers.artwork import Kind
from fencepost.readers.ipc2581.columns import Features
from fencepost.readers.ipc2581.holes import Holes
from fencepost.readers.ipc2581.names import Names, Sort
from fencepost.readers.ipc2581.notes import Notes
from fencepost.readers.ipc2581.reading import Reading, Step

SAME_MM = 0.005
"""Places nearer than this are one: coordinates of one thing are rounded in different ways in a file."""

_NET, _PIN, _COMPONENT, _FUNCTION = range(4)

Table = dict[str, Features]
"""Features by the name of their copper layer, from the top."""


def labelled(copper: Table, holes: Holes, step: Step, reading: Reading) -> Table:
    """The same features with what the rest of the file says of them."""
    copper = {name: replace(own, labels=own.labels.copy()) for name, own in copper.items()}
    _pins_from_packages(copper, step, reading.names, reading.notes)
    _nets_from_pins(copper, step, reading.names)
    _nets_from_points(copper, step)
    _functions(copper, holes, reading.names)
    _dangling(copper, step, reading)
    return copper


def _pins_from_packages(copper: Table, step: Step, names: Names, notes: Notes) -> None:
    """Label the pads of components that have pins in their package, but none on copper."""
    known = {names.values[pin][1][0] for own in copper.values() for pin in np.unique(own.labels[:, _PIN]) if pin >= 0}
    rows = [
        (*part.where.point(pin.x, pin.y), part.layer, pin.through, part.name, pin.number)
        for part in step.parts
        if part.name and part.name not in known
        for pin in step.packages.get(part.package, ())
        if pin.number
    ]
    if not rows:
        return
    tree = shapely.STRtree(shapely.points([row[:2] for row in rows]))
    for layer, own in copper.items():
        pads = np.flatnonzero((own.kind == Kind.FLASH) & (own.labels[:, _PIN] < 0))
        if not len(pads):
            continue
        pad, pin = tree.query(shapely.points(own.xy[own.first[pads]]), "dwithin", distance=SAME_MM)
        for at, row in zip(pads[pad], (rows[i] for i in pin), strict=True):
            *_, on, through, part, number = row
            if through or on == layer:
                own.labels[at, _PIN] = names.index(Sort.PIN, part, number)
                own.labels[at, _COMPONENT] = names.index(Sort.COMPONENT, part)
                notes.add("a pad without a pin is given that of the package's pin at its place", int(own.offset[at]))


def _nets_from_pins(copper: Table, step: Step, names: Names) -> None:
    """Label features that carry a pin of a LogicalNet, and no net."""
    if not step.pin_nets:
        return
    net_of = np.full(len(names.values) + 1, -1, dtype=np.int32)
    for index, (sort, fields) in enumerate(tuple(names.values)):
        if sort is Sort.PIN:
            net_of[index] = names.index(Sort.NET, step.pin_nets.get((fields[0], fields[1]), ""))
    for own in copper.values():
        open_ = own.labels[:, _NET] < 0
        own.labels[open_, _NET] = net_of[own.labels[open_, _PIN]]


def _nets_from_points(copper: Table, step: Step) -> None:
    """Label pads without a net at a PhyNetPoint of their layer."""
    for layer, points in step.points.items():
        own = copper.get(layer)
        if own is None:
            continue
        pads = np.flatnonzero((own.kind == Kind.FLASH) & (own.labels[:, _NET] < 0))
        x, y, net = np.array(points).T
        if len(pads):
            tree = shapely.STRtree(shapely.points(x, y))
            pad, point = tree.query(shapely.points(own.xy[own.first[pads]]), "dwithin", distance=SAME_MM)
            own.labels[pads[pad], _NET] = net[point].astype(np.int32)


def _functions(copper: Table, holes: Holes, names: Names) -> None:
    """What pads are for: one with a pin is a component's, with a plated hole or without; one without a pin a via's."""
    tree = shapely.STRtree(shapely.points(holes.middle))
    plated = holes.plating != 0
    words = [names.index(Sort.FUNCTION, word) for word in ("ComponentPad", "SMDPad", "ViaPad", "Conductor")]
    component, surface, via_pad, conductor = words
    for own in copper.values():
        kept = np.isin(own.labels[:, _FUNCTION], (-1, conductor))
        pads = np.flatnonzero((own.kind == Kind.FLASH) & kept)
        if not len(pads):
            continue
        pad, hole = tree.query(shapely.points(own.xy[own.first[pads]]), "dwithin", distance=SAME_MM)
        drilled, lined, in_via = np.zeros((3, len(pads)), dtype=bool)
        drilled[pad], lined[pad[plated[hole]]], in_via[pad[holes.via[hole]]] = True, True, True
        pin = own.labels[pads, _PIN] >= 0
        word = np.select(
            [pin & lined & ~in_via, pin & (in_via | ~drilled), ~pin & lined],
            [component, surface, via_pad],
            own.labels[pads, _FUNCTION],
        )
        own.labels[pads, _FUNCTION] = word


def _dangling(copper: Table, step: Step, reading: Reading) -> None:
    """Note names that are used on copper and that the lists of components and nets do not have."""
    parts = {part.name for part in step.parts}
    nets = {*step.pin_nets.values()}
    for own in copper.values():
        for column, listed, text in (
            (_COMPONENT, parts, "a pad belongs to a component that the file does not list"),
            (_NET, nets, "copper has a net that no LogicalNet names"),
        ):
            used, first = np.unique(own.labels[:, column], return_index=True)
            for index, row in zip(used, first, strict=True):
                if listed and index >= 0 and reading.names.values[index][1][0] not in listed:
                    reading.notes.add(text, int(own.offset[row]))


def pairs_of(net_pairs: Mapping[str, str], nets: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Pairs of nets from their netPair: the name of the other net, or a name that two nets share."""
    known = set(nets) | net_pairs.keys()
    pairs = {(min(net, pair), max(net, pair)) for net, pair in net_pairs.items() if pair in known and pair != net}
    sharing: dict[str, list[str]] = {}
    for net, pair in net_pairs.items():
        if pair not in known:
            sharing.setdefault(pair, []).append(net)
    pairs |= {(min(both), max(both)) for both in sharing.values() if len(both) == 2}
    return tuple(sorted(pairs))


def pinned(holes: Holes, copper: Table) -> NDArray[np.bool_]:
    """Which holes lie in the middle of a pad that carries a pin."""
    pads = [
        own.xy[own.first[np.flatnonzero((own.kind == Kind.FLASH) & (own.labels[:, _PIN] >= 0))]]
        for own in copper.values()
    ]
    return ~unlisted(holes.middle, np.concatenate([*pads, np.empty((0, 2))]))


def unlisted(places: NDArray[np.float64], known: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which places, float64 (n, 2), have none of the known ones, (k, 2), within SAME_MM."""
    alone = np.ones(len(places), dtype=bool)
    if len(places) and len(known):
        found, _ = shapely.STRtree(shapely.points(known)).query(shapely.points(places), "dwithin", distance=SAME_MM)
        alone[found] = False
    return alone
