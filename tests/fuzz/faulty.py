"""Small boards with known faults, as packages in several forms, with the settings that they are checked by."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from shapely import box

from fuzz.mutation import Files
from sketch import Path, Sketch
from sketch.items import Pour, Trace, Via

SETTINGS = """
[board]
frequency = "2.4 GHz"
[nets]
ground = ["GND"]
power = ["VCC"]
[[class]]
name = "fast"
nets = ["SIG*", "USB_*"]
rise_time = "1 ns"
[[class]]
name = "radio"
nets = ["RF"]
frequency = "5 GHz"
fence = true
[rules.fence-pitch]
distance = "2 mm"
[rules.rim-pitch]
distance = "6 mm"
[rules.pour-tie]
distance = "12 mm"
[rules.pour-resonance]
severity = "note"
[rules.hole-aspect]
maximum = 7
[check]
fail_on = "note"
"""


def routed() -> Sketch:
    """Layer changes without ties, a slot under a trace, a blind tie, a via with a thin ring, and holes too near."""
    board = Sketch(layers=4, size=(24.0, 16.0), name="routed")
    for layer in (2, 3):
        board.pour("GND", layer, holes=[(17.0, 2.0, 17.4, 6.0)] if layer == 2 else [])
    board.trace("SIG1", 1, [(2, 12), (6, 12)])
    board.via("SIG1", (6, 12))
    board.trace("SIG1", 4, [(6, 12), (10, 12)])
    board.trace("SIG2", 1, [(13, 4), (21, 4)])
    board.trace("SIG3", 1, [(13, 12), (16, 12)])
    board.via("SIG3", (16, 12), drill=0.25, pad=0.35)
    board.trace("SIG3", 4, [(16, 12), (20, 12)])
    board.via("GND", (16.8, 12), span=(1, 2))
    board.via("GND", (4, 4))
    board.via("GND", (4.45, 4))
    board.via("GND", (8, 4), drill=0.15, pad=0.5)
    board.trace("SIG4", 1, [(2, 8), (8, 8)])
    board.trace("SIG5", 1, [(2, 8.21), (8, 8.21)])
    board.hole((4.5, 4.7), 0.8)
    return board


def poured() -> Sketch:
    """A fence with a gap, a rim with one, a bare place, copper connected to nothing, a short and an open."""
    board = Sketch(layers=2, size=(26.0, 20.0), name="poured")
    for layer in (1, 2):
        board.pour("GND", layer)
    for y in (0.8, 19.2):
        board.via_row("GND", (0.8, y), (25.2, y), 4.0)
    board.vias("GND", [(0.8, 5), (0.8, 9), (0.8, 13), (25.2, 5), (25.2, 16)])
    board.trace("RF", 1, [(4, 6), (16, 6)], 0.3)
    board.pad("J1", "1", "RF", 1, (4, 6), 0.8)
    board.pad("U1", "1", "RF", 1, (16, 6), 0.8)
    for y in (4.9, 7.1):
        board.vias("GND", [(x, y) for x in (4, 5.5, 7, 8.5, *((11.5,) if y > 6 else (10, 11.5)), 13, 14.5, 16)])
    board.copper("", 1, (18.0, 9.0, 20.5, 10.5), label="GND")
    board.trace("A", 1, [(4, 12), (9, 12)], 0.2)
    board.trace("B", 1, [(9, 12), (9, 15)], 0.2)
    board.trace("SIG", 1, [(13, 15), (15, 15)], 0.2)
    board.trace("SIG", 1, [(16, 15), (18, 15)], 0.2)
    board.component("J1", "SMA")
    return board


def paired() -> Sketch:
    """A pair with a tie on one side of its layer change, and a stub."""
    board = Sketch(layers=4, size=(14.0, 12.0), name="paired")
    for layer in (2, 3):
        board.pour("GND", layer)
    for net, y in (("USB_P", 6.4), ("USB_N", 5.6)):
        board.trace(net, 1, [(2, y), (7, y)])
        board.via(net, (7, y), drill=0.25, pad=0.5)
        board.trace(net, 4, [(7, y), (12, y)])
    board.via("GND", (7, 7.3))
    return board


def sound() -> Sketch:
    """A board without faults: a signal that changes layer between two ties, another one that does not, a free hole."""
    board = Sketch(layers=4, size=(16.0, 12.0), name="sound")
    for layer in (2, 3):
        board.pour("GND", layer)
    for y in (1.0, 11.0):
        board.via_row("GND", (1, y), (15, y), 3.5)
    board.vias("GND", [(1, 6), (15, 6), (8, 5), (8, 7)])
    board.trace("SIG", 1, [(3, 6), (8, 6)])
    board.via("SIG", (8, 6))
    board.trace("SIG", 4, [(8, 6), (13, 6)])
    board.trace("SIG2", 1, [(3, 8.5), (13, 8.5)])
    for name, net, layer, at in (("R1", "SIG", 1, (3, 6)), ("R2", "SIG", 4, (13, 6)), ("R3", "SIG2", 1, (3, 8.5)),
                                 ("R4", "SIG2", 1, (13, 8.5))):  # fmt: skip
        board.pad(name, "1", net, layer, at, 0.6)
    board.hole((13.5, 3), 1.0)
    return board


def _ties(board: Sketch, **options: object) -> None:
    """The two ties beside the layer change are gone, or others."""
    for at in ((8, 5), (8, 7)):
        board.remove(*board.find(Via, at=at))
        if options:
            board.via("GND", at, **options)


FAULTS: dict[str, tuple[str, Callable[[Sketch], object]]] = {
    "untied": ("transition-return", _ties),
    "kept off": ("transition-return", lambda board: _ties(board, isolate=(2,))),
    "blind ties": ("tie-span", lambda board: _ties(board, span=(1, 2))),
    "slot": (
        "reference-gap",
        lambda board: board.replace(board.find(Pour, layer=2)[0], holes=(box(9, 7.8, 9.5, 9.2),)),
    ),
    "thin ring": ("ring-width", lambda board: board.replace(board.find(Via, net="SIG")[0], pad=0.35)),
    "near hole": ("hole-wall", lambda board: board.hole((15, 5.25), 1.0)),
    "small drill": ("hole-size", lambda board: board.via("GND", (5, 3), drill=0.1, pad=0.5)),
    "loose copper": ("stray-copper", lambda board: board.copper("", 1, (10, 2, 12, 3), label="GND")),
    "short": ("net-agreement", lambda board: board.trace("SIG", 1, [(5, 6), (5, 8.5)])),
    "open": (
        "net-agreement",
        lambda board: board.replace(board.find(Trace, net="SIG2")[0], path=Path.line([(3, 8.5), (12, 8.5)])),
    ),
    "near trace": ("copper-spacing", lambda board: board.trace("SIG", 1, [(6, 6), (6, 7), (7.55, 7)])),
}
"""What can be wrong with the sound board, each with the rule that says so."""

FORMS: tuple[Callable[[Sketch], Files], ...] = (
    lambda board: board.gerber(),
    lambda board: {**board.gerber(units="inch", drill_nets=True), "sound.ipc": board.testnet()},
    lambda board: {"sound.xml": board.ipc2581()},
)


def faulty(name: str) -> Sketch:
    """The sound board with one fault."""
    board = sound()
    FAULTS[name][1](board)
    return board


@cache
def packages() -> tuple[Files, ...]:
    """Boards with many faults, and those with one, in several forms."""
    first, second, third = routed(), poured(), paired()
    single = [form(faulty(name)) for number, name in enumerate(FAULTS) for form in (FORMS[0], FORMS[1 + number % 2])]
    return (
        first.gerber(), {**first.gerber(units="inch", drill="gerber", drill_nets=True), "routed.ipc": first.testnet()},
        second.gerber(slots="rout"),
        {**second.gerber(attributes="comments", job=False), "poured.ipc": second.testnet()},
        third.gerber(drill_nets=True, components="copper"), {"paired.xml": third.ipc2581()},
        {"routed.xml": first.ipc2581(forms="older", units="inch")}, *single,
    )  # fmt: skip
