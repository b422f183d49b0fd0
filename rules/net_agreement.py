"""What labels say against what copper does."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fencepost.board.model import Board, HoleKind
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.grounds.loose import loose_copper
from fencepost.names import listed
from fencepost.readers.testnet.netlist import Point as Kind
from fencepost.settings.model import Settings
from fencepost.signals.isolated import Isolated, isolated
from fencepost.signals.netlist import Comparison, Otherwise, compared
from fencepost.signals.opens import Opening, openings
from fencepost.signals.shorts import FOLLOWED, Contact, Part, contacts, not_followed

MOST_PINS = 3
"""Pins of an open net that are named."""


class NetAgreement(Rule):
    """Copper connects what it touches, whatever its label says. Where the two disagree, one of them is wrong.

    What goes wrong. A short or an open that came in after the last design rule check: an old netlist, a layer exported
    twice, copper edited in the fabrication data. Less visible, a via that is labelled GND and passes through the ground
    plane in an antipad: it looks like a tie, in a list it counts as one, and it ties nothing there.

    What is measured. The copper of each layer after polarity, joined where it comes within 1 µm, and joined between
    layers by the barrels of plated holes.
      short     two labels on copper that is connected; the place is where they meet
      open      one label on copper that nothing connects, where each side has a pad or a plated hole. Copper with
                neither connects nothing whether it is joined or not, and is left to stray-copper, as is ground
                with vias of its own and without a pin: nothing is cut off by it
      no tie    a plated hole that passes a layer on which copper of its own net is around it, and touches none of it:
                in at least half of all directions that copper is there 0.5 mm outside the pad. A note where the hole
                takes a pin, since pins are kept off planes so that they can be soldered
      netlist   an IPC-D-356 point on no copper, or on copper of another net than it says. Nets that have the same
                points under another name are listed in a note

    What is meant to join two nets is a note: copper whose aperture function is EtchedComponent, and a part whose own
    copper is on just these two nets, as a net tie or a closed solder bridge.

    Worked example. A ground via of 0.5 mm stands in a void of 0.9 mm in the plane on L2: the plane keeps 0.20 mm off
    all around, and the via ties L1 to L3 and not to L2.

    How to fix it. Refill the copper areas in the board design and export again. Where the label is wrong, correct the
    net there. A netlist that does not fit is of another revision: export all files at once.

    How to tune it. There is nothing to tune. What is meant can be waived by its nets.
    """

    name = "net-agreement"
    summary = "labels and copper disagree: a short, an open, a ground via that its plane keeps off"
    severity = Severity.ERROR

    def check(self, board: Board, options: RuleOptions, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Shorts, opens, holes that their own plane keeps off, and the netlist."""
        if not any((copper.label >= 0).any() for copper in board.copper) and board.points is None:
            yield self.unchecked("no copper file names its nets and there is no netlist: nothing says what is meant")
            return
        for contact in contacts(board):
            yield self._short(board, contact)
        for count in not_followed(board):
            yield self.unchecked(f"{count} more nets on one island of copper than the {FOLLOWED} that are followed")
        stray = {piece for loose in loose_copper(board) for piece in loose.pieces}
        for opening in openings(board):
            if _piece_of(board, opening.near) not in stray:
                yield self._open(board, opening)
        together: dict[int, list[Isolated]] = {}
        for one in isolated(board):
            together.setdefault(one.hole, []).append(one)
        for layers in together.values():
            yield self._no_tie(board, layers)
        if board.points is not None:
            yield from self._netlist(board, compared(board, board.points))

    def _short(self, board: Board, contact: Contact) -> Finding:
        names = tuple(board.nets[net].name for net in contact.nets)
        layer = f"L{contact.layer}"
        if contact.by is None:
            where = f"at a plated hole on {layer}" if contact.hole >= 0 else f"on {layer}"
            said = f"{names[0]} and {names[1]} are connected: their copper meets {where}"
        else:
            said = (
                f"{names[0]} and {names[1]} are joined on {layer} by {contact.by or 'an etched component'}, as is meant"
            )
        first, second = (_part(board, part, contact.x, contact.y) for part in contact.parts)
        return self.finding(
            said,
            first,
            severity=None if contact.by is None else Severity.NOTE,
            layers=(layer,),
            nets=names,
            remarks=(Remark(f"the copper of {names[1]}", second),),
        )

    def _open(self, board: Board, opening: Opening) -> Finding:
        name, layer = board.nets[opening.net].name, opening.near[0] + 1
        pins = listed(opening.pins[:MOST_PINS])
        more = len(opening.pins) - MOST_PINS
        with_pins = f" with {pins}{f' and {more} more' if more > 0 else ''}" if pins else ""
        x, y = opening.x, opening.y
        return self.finding(
            f"{name} is open: its copper on L{layer}{with_pins} is {opening.distance:.2f} mm from the rest of the net "
            "and joined to none of it",
            _part(board, opening.near, x, y),
            layers=(f"L{layer}",),
            nets=(name,),
            measured=Figure("distance", opening.distance, "mm"),
            remarks=(Remark(f"the nearest of the rest of {name}", _part(board, opening.rest, x, y)),),
        )

    def _no_tie(self, board: Board, layers: list[Isolated]) -> Finding:
        hole, gap = layers[0].hole, min(one.gap for one in layers)
        pin = board.holes.kind[hole] == HoleKind.COMPONENT
        name = board.nets[layers[0].net].name
        on = " and ".join(f"L{one.layer}" for one in layers)
        x, y = board.holes.centre[hole].tolist()
        return self.finding(
            f"the {name} {'pin' if pin else 'via'} is not connected to {name} on {on}: "
            f"the copper all around keeps {gap:.2f} mm off",
            Place(board.hole_location(hole), x, y),
            severity=Severity.NOTE if pin else Severity.WARNING,
            layers=tuple(f"L{one.layer}" for one in layers),
            nets=(name,),
            measured=Figure("distance", gap, "mm"),
            remarks=tuple(
                Remark(f"the {name} copper on L{one.layer}", _part(board, (one.layer - 1, one.part), x, y))
                for one in layers
            ),
        )

    def _netlist(self, board: Board, found: Comparison) -> Iterator[Finding]:
        netlist = found.points.netlist
        wrong = sum(one.count for one in found.otherwise)
        for count, where in ((len(found.missing), "not on the board"), (wrong, "on copper of other nets")):
            if count > found.asked / 2:
                first = found.missing[0] if found.missing else found.otherwise[0].point
                yield self.finding(
                    f"{count} of {found.asked} points of the netlist are {where}: it is of another board or revision, "
                    "or has another origin",
                    _point(found, first),
                )
                return
        for point in found.missing:
            name = netlist.nets[netlist.net[point]] if netlist.net[point] >= 0 else "no net"
            yield self.finding(
                f"the netlist has {_pin(found, point)} of {name} here, and there is {_lacking(found, point)}",
                _point(found, point),
                nets=(name,) if netlist.net[point] >= 0 else (),
            )
        for one in found.otherwise:
            yield self._otherwise(board, found, one)
        for both in found.joined:
            other = _pin(found, both.points[1])
            yield self.finding(
                f"{both.said[0]} and {both.said[1]} are connected, and the netlist has them apart",
                _point(found, both.points[0]),
                nets=both.said,
                remarks=(Remark(f"{other} of {both.said[1]}", _point(found, both.points[1])),),
            )
        if found.renamed:
            names = listed(f"{one.said} for {board.nets[one.net].name}" for one in found.renamed)
            yield self.finding(
                f"the netlist has other names for the same nets: {names}",
                _point(found, found.renamed[0].point),
                severity=Severity.NOTE,
            )

    def _otherwise(self, board: Board, found: Comparison, one: Otherwise) -> Finding:
        name = board.nets[one.net].name
        place = _point(found, one.point)
        piece = int(found.points.piece[one.point])
        layer = int(board.pieces.layer[piece])
        copper = board.copper[layer - 1]
        part = next(iter(copper.parts_of(piece)))
        times = f", and {one.count - 1} more points likewise" if one.count > 1 else ""
        return self.finding(
            f"the netlist has {_pin(found, one.point)} on {one.said}, and the copper here is labelled {name}{times}",
            place,
            layers=(f"L{layer}",),
            nets=(one.said, name),
            remarks=(Remark(f"the copper of {name}", _part(board, (layer - 1, int(part)), place.x_mm, place.y_mm)),),
        )


def _piece_of(board: Board, part: Part) -> int:
    return int(board.copper[part[0]].piece[part[1]])


def _part(board: Board, part: Part, x: float, y: float) -> Place:
    """The feature of a part that passes nearest to a point, which is given as the place."""
    return Place(board.copper[part[0]].location_near(part[1], x, y), x, y)


def _point(found: Comparison, point: int) -> Place:
    netlist = found.points.netlist
    x, y = netlist.xy[point].tolist()
    return Place(netlist.location(point), x, y)


def _lacking(found: Comparison, point: int) -> str:
    """What a point of the netlist should be on."""
    if found.points.netlist.kind[point] == Kind.SURFACE:
        return "no copper"
    return "no plated hole" if found.points.hole[point] < 0 else "no copper at its hole"


def _pin(found: Comparison, point: int) -> str:
    """U2-7, or a via."""
    netlist = found.points.netlist
    part, pin = str(netlist.part[point]), str(netlist.pin[point])
    return "a via" if part in ("", "VIA") else "-".join(filter(None, (part, pin)))
