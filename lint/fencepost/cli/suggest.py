"""`fencepost suggest`: ground vias that mend what the rules find, or rows and grids of them, all at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import click

from fencepost.board.model import Board, NetKind
from fencepost.checking.planning import Mending, mend, purpose_of, purposes_of
from fencepost.checking.registry import chosen, installed_rules
from fencepost.cli.failing import FOUND, say
from fencepost.cli.opening import Opened, open_board
from fencepost.cli.parcel import named_settings
from fencepost.cli.printing import print_text
from fencepost.errors import UsageError
from fencepost.grounds.frequency import ground_frequency
from fencepost.placement.cuts import cut_from_pours
from fencepost.placement.need import Need
from fencepost.placement.plan import plan
from fencepost.placement.room import no_room, said_of
from fencepost.placement.rows import fence_needs, pour_needs, rim_needs
from fencepost.placement.spots import best_spot
from fencepost.placement.via import ViaModel, via_model
from fencepost.placement.window import Placed
from fencepost.report.overlay import OverlayVia, overlay_files
from fencepost.report.proposals import FORMATS, Proposal, Proposals, Skipped
from fencepost.settings.decode import did_you_mean
from fencepost.settings.patterns import net_class_of
from fencepost.signals.limits import wave_limit
from fencepost.units import Length

PATH = click.Path(path_type=Path)

FENCE_FRACTION, POUR_FRACTION = 8.0, 20.0
"""Parts of a wavelength that vias of a row and of a grid may be apart (common practice, no source)."""

FARTHEST_MM, REACH_MM, TOGETHER_MM = 5.0, 3.0, 1.0
"""Widest pitch at any frequency; a post from its trace; traces that share a fence (common practice, no source)."""


def _length(ctx: click.Context, param: click.Parameter, value: str | None) -> Length | None:
    try:
        return None if value is None else Length.parse(value)
    except ValueError as error:
        raise click.BadParameter(str(error)) from None


def _names(ctx: click.Context, param: click.Parameter, values: Sequence[str]) -> list[str]:
    """Names with commas between them."""
    names = [name.strip() for value in values for name in value.split(",") if name.strip()]
    if values and not names:
        raise click.BadParameter("names no rule")
    return names


@click.command()
@click.argument("path", type=PATH)
@click.option("--config", metavar="FILE", type=PATH, help="Settings; else the nearest fencepost.toml.")
@click.option("--rules", "only", metavar="A,B", multiple=True, callback=_names, help="Mend what these rules find only.")
@click.option("--skip", metavar="A,B", multiple=True, callback=_names, help="Mend what all rules but these find.")
@click.option("--format", "kind", type=click.Choice(list(FORMATS)), default="text", show_default=True)
@click.option("--overlay", metavar="FOLDER", type=PATH, help="Write the vias as Gerber and drill files.")
@click.option("--fence", "fences", metavar="NET", multiple=True, help="Rows along both sides of a net instead.")
@click.option("--rim", is_flag=True, help="A row along the edge of the board instead.")
@click.option("--pour", is_flag=True, help="A grid over the ground of the board instead.")
@click.option("--pitch", metavar="LENGTH", callback=_length, help="Of rows and grids; else as the frequency asks.")
def command(
    path: Path,
    config: Path | None,
    only: Sequence[str],
    skip: Sequence[str],
    kind: str,
    overlay: Path | None,
    fences: Sequence[str],
    rim: bool,
    pour: bool,
    pitch: Length | None,
) -> int:
    """Propose ground vias that mend what was found, legal where they stand and consistent with one another.

    The exit code is 0 where all is mended, 1 where somewhere there was no room.
    """
    rows = bool(fences or rim or pour)
    if pitch is not None and not rows:
        raise UsageError("--pitch goes with --fence, --rim or --pour")
    rules = installed_rules()
    selected = chosen(rules, only, skip)
    opened = open_board(path, config, rules)
    with named_settings(opened.settings_file):
        model = via_model(opened.board, opened.settings)
        if rows:
            vias, found = _rows(opened, model, _asked(opened, model, fences, rim, pour, pitch))
        else:
            mending = mend(opened.board, model, selected, opened.settings)
            vias, found = mending.vias, _mended(opened.board, model, mending)
    for warning in opened.warnings:
        say(f"{opened.board.package}: warning: {warning}")
    if overlay is not None:
        _write(overlay, opened.board, model, vias)
    print_text(FORMATS[kind](found))
    return FOUND if found.skipped else 0


Asked = list[tuple[str, Need]]
"""What a via is for, and where it is wanted."""


def _asked(
    opened: Opened, model: ViaModel, fences: Sequence[str], rim: bool, pour: bool, pitch: Length | None
) -> Asked:
    board = opened.board
    asked: Asked = []
    for name in fences:
        if name not in board.net_index:
            raise UsageError(f'no net is called "{name}"{did_you_mean(name, board.net_index)}')
        net = board.net_index[name]
        if board.nets[net].kind is not NetKind.SIGNAL:
            raise UsageError(f'"{name}" is a {board.nets[net].kind.value} net; a fence stands along a signal')
        entry = net_class_of(opened.settings, name)
        step = pitch or _pitch(opened, FENCE_FRACTION, entry.highest_frequency if entry else None)
        partners = [board.net_index[other] for other in board.net_index if entry and _alike(opened, other, entry.name)]
        asked += [(f"fence of {name}", need) for need in fence_needs(board, net, step, REACH_MM, TOGETHER_MM, partners)]
    if rim:
        asked += [("rim", need) for need in rim_needs(board, model, pitch or _pitch(opened, FENCE_FRACTION))]
    if pour:
        asked += [("pour", need) for need in pour_needs(board, model, pitch or _pitch(opened, POUR_FRACTION))]
    return asked


def _alike(opened: Opened, name: str, class_name: str) -> bool:
    entry = net_class_of(opened.settings, name)
    return entry is not None and entry.name == class_name


def _pitch(opened: Opened, fraction: float, frequency: float | None = None) -> float:
    """What the frequency asks for, in mm. Raises UsageError where none is known."""
    known = ground_frequency(opened.settings)
    if frequency is None and known is None:
        raise UsageError("no frequency is known that the ground must hold; give a --pitch, or [board] a frequency")
    value = frequency if frequency is not None else known.value if known else None
    return wave_limit(value, opened.board.stackup.highest_permittivity, fraction, FARTHEST_MM).distance


def _rows(opened: Opened, model: ViaModel, asked: Asked) -> tuple[tuple[Placed, ...], Proposals]:
    board = opened.board
    planned = plan(board, model, (need for _, need in asked))
    names: dict[int, list[str]] = {}
    skipped = []
    for (name, need), via in zip(asked, planned.by, strict=True):
        if via >= 0:
            names.setdefault(via, []).append(name)
        else:
            skipped.append(_skipped(board, model, name, need, planned.vias))
    proposals = _proposals(board, planned.vias, lambda i: tuple(dict.fromkeys(names[i])))
    met = len(asked) - len(skipped)
    return planned.vias, _result(board, model, proposals, skipped, len(asked), met, "place")


def _mended(board: Board, model: ViaModel, mending: Mending) -> Proposals:
    skipped = [_skipped(board, model, purpose_of(one), one.mend[0], mending.vias) for one in mending.left]
    proposals = _proposals(board, mending.vias, lambda i: purposes_of(mending.served[i]))
    asked = len(mending.first)
    return _result(board, model, proposals, skipped, asked, max(asked - len(mending.left), 0), "finding")


def _proposals(board: Board, vias: Iterable[Placed], names: Callable[[int], tuple[str, ...]]) -> tuple[Proposal, ...]:
    return tuple(Proposal(via.x, via.y, board.nets[via.net].name, names(i)) for i, via in enumerate(vias))


def _skipped(board: Board, model: ViaModel, name: str, need: Need, vias: Sequence[Placed]) -> Skipped:
    spot = best_spot(board, model, need, vias)
    if spot is not None:
        said = f"a ground via fits at ({spot.x:.3f}, {spot.y:.3f}), and it alone does not mend it"
    else:
        said = "; ".join(said_of(no_room(board, model, need, vias), model))
    return Skipped(*need.at, name, said)


def _result(
    board: Board, model: ViaModel, vias: tuple[Proposal, ...], skipped: list[Skipped], asked: int, met: int, word: str
) -> Proposals:
    layers = ("L1", f"L{board.layers}")
    return Proposals(board.package, model.drill, model.pad, layers, vias, tuple(skipped), asked, met, word)


def _write(folder: Path, board: Board, model: ViaModel, vias: Sequence[Placed]) -> None:
    """Write the overlay. Without any via there is none to write."""
    if not vias:
        say("fencepost: no via is proposed, so no overlay is written")
        return
    drawn = [
        OverlayVia(
            via.x,
            via.y,
            board.nets[via.net].name,
            {layer: cut_from_pours(board, model, via, layer) for layer in range(1, board.layers + 1)}
            if model.through_pours
            else {},
        )
        for via in vias
    ]
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in overlay_files(drawn, model.drill, model.pad, board.layers).items():
        (folder / name).write_bytes(data)
