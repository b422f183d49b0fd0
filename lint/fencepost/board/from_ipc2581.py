"""An IPC-2581 file -> Sources: which step is the board, which layer lies where, which holes there are."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from fencepost.board.ipc2581_holes import USES, drilled, holes_of, uses_of
from fencepost.board.roles import Role, claimed_role, layers_cure, whole_file
from fencepost.board.sources import Sources, StackEntry
from fencepost.limits import DEFAULT_LIMITS, Limits
from fencepost.readers.artwork import Artwork, Attributes
from fencepost.readers.ipc2581 import Reading, read_ipc2581
from fencepost.readers.ipc2581.columns import Features
from fencepost.readers.ipc2581.holes import Holes
from fencepost.readers.ipc2581.labelling import labelled, pairs_of, pinned
from fencepost.readers.ipc2581.layers import COPPER, DIELECTRIC
from fencepost.readers.ipc2581.names import Qualifiers, Sort, qualifiers_of
from fencepost.readers.ipc2581.order import Order, copper_order
from fencepost.readers.ipc2581.reading import Step
from fencepost.settings.model import Settings
from fencepost.source import SourceFile


def sources_from_ipc2581(
    package: str, source: SourceFile, settings: Settings, limits: Limits = DEFAULT_LIMITS
) -> Sources:
    """Read a file into what a board is assembled from.

    `[layers]` and `[drill]` of the settings may name its layers, as they may name files. Raises InputError for what
    cannot be read, holds no board or several, or is not whole.
    """
    roles = {name: claimed_role(source, claim) for name, claim in settings.layers.items()}
    reading = read_ipc2581(source, {name: role.part != "other" for name, role in roles.items()}, limits)
    step = _board(reading)
    outlines = [name for name, role in roles.items() if role.part == "profile" and name in step.copper]
    order = _order(reading, step, roles)
    holes, spans = holes_of(reading, step, order, settings.drill)
    table = labelled({name: _features(step, name) for name in order.names}, holes, step, reading)
    qualifiers = _qualifiers(reading, step)
    values = (*(qualifiers.plain(sort, fields) for sort, fields in reading.names.values), *USES)
    uses = uses_of(holes, pinned(holes, table), len(reading.names.values))
    tools = tuple(reading.tools)

    def artwork(features: Features, function: tuple[str, ...]) -> Artwork:
        net, pin, component, use = np.ascontiguousarray(features.labels.T)
        return Artwork(
            source=source, attributes={".FileFunction": function}, kind=features.kind, dark=features.dark,
            first=features.first, xy=features.xy, tool=features.tool, net=net, pin=pin, component=component,
            function=use, offset=features.offset, tools=tools, values=values, rings=features.rings,
            component_attributes=_parts(step, qualifiers) if function[1:] == ("L1", "Top") else {},
        )  # fmt: skip

    copper = tuple(
        artwork(table[name], ("Copper", f"L{i}", _side(i, len(order.names)))) for i, name in enumerate(order.names, 1)
    )
    profile: Artwork | Polygon | MultiPolygon | None = _profile(step, holes)
    if outlines:
        profile = artwork(step.copper[outlines[0]].features(), ("Profile", "NP"))
    nets = [fields[0] for fields in reading.names.of(Sort.NET)]

    def plain(net: str) -> str:
        return net.removeprefix(qualifiers.net)

    return Sources(
        package=package,
        copper=copper,
        drills=tuple(drilled(reading, holes, spans, uses, settings.drill, values)),
        profile=profile,
        stack=_stack(reading, order),
        thickness=order.thickness,
        notes=reading.notes.lines(),
        pairs=tuple((plain(a), plain(b)) for a, b in pairs_of(step.net_pairs, nets)),
        files={source.name: f"the whole board: {len(copper)} copper layers, {len(holes)} holes"},
        net_classes={plain(net): kind for net, kind in step.net_classes.items()},
    )


def _board(reading: Reading) -> Step:
    """The step that is the board. Raises InputError where there is none, or more than one."""
    names = {step.name for step in reading.steps}
    for panel in reading.steps:
        for repeat in panel.repeats:
            if repeat.step not in names:
                said = f"the step {panel.name!r} repeats {repeat.step!r}, which the file does not have"
                raise reading.source.error(panel.offset, said)
            said = f"the panel {panel.name!r} holds {repeat.step!r} {repeat.count} times"
            reading.notes.add(f"{said}: the board is checked once, and the panel is not", panel.offset)
    boards = [step for step in reading.steps if step.is_board and not step.repeats]
    named = [step for step in boards if step.name in reading.named]
    if len(boards) > 1 and len(named) == 1:
        others = ", ".join(repr(step.name) for step in boards if step is not named[0])
        reading.notes.add(f"of several boards, {named[0].name!r} is checked, and not {others}", named[0].offset)
        boards = named
    if not boards:
        raise whole_file(reading.source, "no step of the file holds copper or holes")
    if len(boards) > 1:
        listed = ", ".join(step.name for step in boards)
        raise reading.source.error(boards[1].offset, f"the file holds several boards ({listed}); export one of them")
    return boards[0]


def _order(reading: Reading, step: Step, roles: Mapping[str, Role]) -> Order:
    """The copper layers from the top. Raises InputError where one of them is not in the file as a whole."""
    source = reading.source
    copper = [
        layer
        for layer in reading.layers.values()
        if (roles[layer.name].part == "copper" if layer.name in roles else layer.function in COPPER)
    ]
    for name, offset in step.unknown.items():
        said = f"a net on the layer {name!r}, whose function {reading.layers[name].function!r} does not say what it is"
        raise source.error(offset, said, layers_cure([name]))
    for layer in copper:
        if not layer.positive:
            said = f"the copper layer {layer.name!r} is drawn as its negative and cannot be read; export it as positive"
            raise source.error(layer.offset, said)
        if layer.name not in step.copper and layer.name not in step.stacked:
            said = f"the copper layer {layer.name!r} has no LayerFeature: its copper is not in the file"
            raise source.error(layer.offset, said)
    if not copper:
        said = f"no copper layer found; a layer of copper has one of the functions {', '.join(sorted(COPPER))}"
        raise whole_file(source, said, layers_cure(list(reading.layers)[:2]))
    claimed = {layer.name: roles[layer.name].layer for layer in copper if layer.name in roles}
    try:
        return copper_order(copper, reading.stacks, step.stack, claimed)
    except ValueError as error:
        raise whole_file(source, str(error), layers_cure([layer.name for layer in copper])) from None


def _features(step: Step, name: str) -> Features:
    found = [table[name].features() for table in (step.copper, step.stacked) if name in table]
    return found[0] if len(found) == 1 else found[0].with_flashes(found[1])


def _side(layer: int, layers: int) -> str:
    return "Top" if layer == 1 else "Bot" if layer == layers else "Inr"


def _qualifiers(reading: Reading, step: Step) -> Qualifiers:
    pins = reading.names.of(Sort.PIN)
    nets = [fields[0] for fields in reading.names.of(Sort.NET)]
    return qualifiers_of(
        [*nets, *step.pin_nets.values()],
        [*(part.name for part in step.parts), *(component for component, _ in pins)],
        [pin for _, pin in pins],
        reading.notes,
    )


def _parts(step: Step, qualifiers: Qualifiers) -> dict[str, Attributes]:
    return {part.name.removeprefix(qualifiers.component): part.attributes for part in step.parts if part.name}


def _profile(step: Step, holes: Holes) -> Polygon | MultiPolygon | None:
    """The profile without openings that are cut in it."""
    if step.profile is None:
        return None
    area = shapely.difference(step.profile, shapely.union_all([opening for opening, _, _ in holes.openings]))
    return area if isinstance(area, Polygon | MultiPolygon) else MultiPolygon()


def _stack(reading: Reading, order: Order) -> tuple[StackEntry, ...]:
    """Copper and dielectrics of the stackup; none where it holds a layer that the file does not have."""
    if any(sheet.layer not in reading.layers for sheet in order.sheets):
        return ()
    return tuple(
        StackEntry(sheet.layer in order.names, sheet.thickness, sheet.permittivity)
        for sheet in order.sheets
        if sheet.layer in order.names or reading.layers[sheet.layer].function in DIELECTRIC
    )
