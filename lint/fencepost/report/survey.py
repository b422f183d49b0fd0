"""What was read from a package and how it was understood, as plain values: what `describe` prints and writes as JSON.

Lengths are in mm, frequencies in Hz, impedances in ohms, shares from 0 to 1. Layers count from 1 at the top. The fields
are the keys of the JSON, so that a change here is a change of its schema.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import numpy as np

from fencepost._version import VERSION
from fencepost.board.model import Board, HoleKind, NetKind
from fencepost.frozen import dataclass
from fencepost.report.result import summary_of
from fencepost.settings.model import NetClass, Settings
from fencepost.settings.patterns import net_class_of
from fencepost.signals.kinds import Reach, ReturnKind, returns_of
from fencepost.signals.pairs import pairs_of
from fencepost.signals.references import LayerReferences, references_of

SCHEMA = "fencepost/description/1"


@dataclass(frozen=True)
class File:
    """A file of the package: what it is, and what it was used for."""

    name: str
    kind: str
    use: str


@dataclass(frozen=True)
class Dielectric:
    """Between a copper layer and the next one; `assumed` where nobody said so."""

    thickness_mm: float
    permittivity: float
    assumed: bool


@dataclass(frozen=True)
class Layer:
    """A copper layer, and what lies below it."""

    layer: int
    thickness_mm: float
    file: str
    below: Dielectric | None


@dataclass(frozen=True)
class Over:
    """Ground or power copper that traces run over or under, and over what share of their length."""

    net: str
    layer: int
    share: float


@dataclass(frozen=True)
class References:
    """The signal traces of one layer; `none` is the share of their length over no copper that counts."""

    layer: int
    length_mm: float
    over: tuple[Over, ...]
    none: float


@dataclass(frozen=True)
class HoleGroup:
    """Holes of one kind and span."""

    kind: str
    plated: bool
    first: int
    last: int
    count: int
    smallest_mm: float
    largest_mm: float


@dataclass(frozen=True)
class PairNets:
    """A differential pair; `given` is False where only the names of its nets tell of it."""

    name: str
    positive: str
    negative: str
    given: bool


@dataclass(frozen=True)
class ClassNets:
    """A class and the nets in it."""

    name: str
    frequency_hz: float
    fence: bool
    impedance_ohm: float | None
    nets: tuple[str, ...]


@dataclass(frozen=True)
class Survey:
    """`nets` are those with names, by the words of `NetKind`; `unnamed` counts nets that copper alone tells of.

    `transitions` counts them by the words of `ReturnKind`, with ties within `limits`: `distance_mm`, the `fraction` of
    a wavelength, and `capacitor_mm`. `recognised` are the assumptions that say which classes were taken from names.
    """

    schema: str
    version: str
    package: str
    settings: str
    size_mm: tuple[float, float]
    corner_mm: tuple[float, float]
    thickness_mm: float
    files: tuple[File, ...]
    layers: tuple[Layer, ...]
    nets: dict[str, tuple[str, ...]]
    unnamed: int
    references: tuple[References, ...]
    holes: tuple[HoleGroup, ...]
    transitions: dict[str, int]
    limits: dict[str, float]
    pairs: tuple[PairNets, ...]
    classes: tuple[ClassNets, ...]
    recognised: tuple[str, ...]
    components: tuple[str, ...]
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]


def survey_of(
    board: Board,
    settings: Settings,
    reach: Reach,
    *,
    files: Iterable[File] = (),
    settings_file: str = "",
    recognised: tuple[str, ...] = (),
    warnings: Iterable[str] = (),
) -> Survey:
    """Look over a board. Raises SettingsError, without the file's name, for a net in two classes or pairs."""
    box = board.profile.bounds if not board.profile.is_empty else (0.0, 0.0, 0.0, 0.0)
    named = [net for net in board.nets if net.named]
    kinds = Counter(one.kind for one in returns_of(board, settings, reach))
    return Survey(
        schema=SCHEMA,
        version=VERSION,
        package=board.package,
        settings=settings_file,
        size_mm=summary_of(board).size_mm,
        corner_mm=(box[0], box[1]),
        thickness_mm=board.stackup.thickness,
        files=tuple(files),
        layers=_layers(board),
        nets={kind.value: tuple(net.name for net in named if net.kind is kind) for kind in NetKind},
        unnamed=len(board.nets) - len(named),
        references=tuple(_references(board, own) for own in references_of(board)),
        holes=_holes(board),
        transitions={kind.value: kinds[kind] for kind in ReturnKind},
        limits={"distance_mm": reach.distance, "fraction": reach.fraction, "capacitor_mm": reach.capacitor},
        pairs=tuple(PairNets(one.name, one.positive, one.negative, one.given) for one in pairs_of(board, settings)),
        classes=_classes(settings, [net.name for net in board.nets]),
        recognised=recognised,
        components=tuple(part.name for part in board.components),
        assumptions=board.assumptions,
        warnings=tuple(warnings),
    )


def _layers(board: Board) -> tuple[Layer, ...]:
    below = [Dielectric(gap.thickness, gap.permittivity, gap.assumed) for gap in board.stackup.gaps]
    return tuple(
        Layer(copper.layer, thickness, copper.artwork.source.name, under)
        for copper, thickness, under in zip(board.copper, board.stackup.copper, [*below, None], strict=True)
    )


def _references(board: Board, own: LayerReferences) -> References:
    over = tuple(Over(board.nets[one.net].name, one.layer, one.share) for one in own.over)
    return References(own.layer, own.length, over, own.none)


def _holes(board: Board) -> tuple[HoleGroup, ...]:
    holes = board.holes
    columns = np.column_stack([holes.kind, holes.plated, holes.first, holes.last]).astype(np.int64)
    groups, which = np.unique(columns, axis=0, return_inverse=True)
    sizes = [holes.diameter[which.ravel() == i] for i in range(len(groups))]
    return tuple(
        HoleGroup(
            HoleKind(kind).name.lower(), bool(plated), first, last, len(size), float(size.min()), float(size.max())
        )
        for (kind, plated, first, last), size in zip(groups.tolist(), sizes, strict=True)
    )


def _classes(settings: Settings, names: list[str]) -> tuple[ClassNets, ...]:
    members: dict[str, list[str]] = {entry.name: [] for entry in settings.classes}
    for name in names:
        if entry := net_class_of(settings, name):
            members[entry.name].append(name)
    return tuple(_class(entry, members[entry.name]) for entry in settings.classes)


def _class(entry: NetClass, nets: list[str]) -> ClassNets:
    impedance = None if entry.impedance is None else float(entry.impedance)
    return ClassNets(entry.name, entry.highest_frequency or 0.0, entry.fence, impedance, tuple(nets))
