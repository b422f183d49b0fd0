"""Classes of nets by names in common use, for a board that comes without settings.

What is taken for what is always said. The rise times are typical for the interface, from memory, with no source: they
stand in until somebody writes the board's own into the settings.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import msgspec

from fencepost.board.model import Board, NetKind
from fencepost.settings.model import NetClass, Settings
from fencepost.units import Time


@dataclass(frozen=True)
class Interface:
    """A kind of fast signal: how its nets are commonly named, after the last slash, and its typical edge in seconds."""

    name: str
    names: re.Pattern[str]
    rise_time: float
    what: str


def _interface(name: str, names: str, rise_time: float, what: str) -> Interface:
    return Interface(name, re.compile(names, re.IGNORECASE), rise_time, what)


INTERFACES = (
    _interface("radio", r"(?:RF|ANT)(?:[_-]?\w*)?|\w+[_-](?:RF|ANT)\d*", 0.1e-9, "radio frequency"),
    _interface("usb", r"USB\w*?[_-]?(?:SS)?(?:[TR]X)?\d?[_-]?(?:D?[PMN]|D[_-][PN]|D?[+-])\d?", 0.5e-9, "USB"),
    _interface("display", r"(?:HDMI|TMDS|HTX|LVDS|EDP|DP[_-]?TX)\w*[_+-]?(?:[PN+-])", 0.2e-9, "display link"),
    _interface("mipi", r"(?:MIPI|DSI|CSI)[_-]?\w*?(?:D\d|CK|CLK)\w*?[_-]?[PN]", 0.2e-9, "MIPI D-PHY"),
    _interface("pcie", r"(?:PCIE|SATA|SGMII)\w*[_-]?(?:[TR]X|CLK|REF)\w*[_-]?[PN+-]", 0.1e-9, "serial link"),
    _interface("ethernet", r"MDI\[?\d?\]?[_-]?[PN+-]|(?:TRX|TRD)\d?[_-]?[PN+-]", 1e-9, "Ethernet pair"),
    _interface("mac", r"(?:R?G?MII[_-]?\w*?)?G?[RT]XD?(?:\d|CK|CLK|CTL|_?EN|_?DV)|GCLKIN|REFCLK\w*", 1e-9, "MII"),
    _interface(
        "memory",
        r"[\w-]*?(?:DQS?\d*|DQM\d*)(?:[_-]?[PN])?|QSPI\w*[_-]?(?:CLK|SCK|CS\w*|IO?\d|D\d)",
        0.5e-9,
        "memory bus",
    ),
    _interface("card", r"(?:SD|MMC|EMMC|SDIO|SDC\d?|WL-SDIO)\w*[_-](?:CLK|CMD|DS|D(?:AT)?\d+)", 1e-9, "SD or MMC"),
    _interface("panel", r"LCD[_-]?(?:D\d+|CLK|DE|[HV]SYNC)", 2e-9, "parallel display"),
    _interface("spi", r"\w*SPI\w*[_-]?(?:CLK|SCK|MOSI|MISO|SDI|SDO|CS\d*|SS\d*)", 2e-9, "SPI"),
    _interface("clock", r"(?:\w+[_-])?(?:CLK|CLOCK|MCLK|PCLK)\w*(?:[_-]?OUT|[_-]?IN)?[_-]?[PN]?", 1e-9, "clock"),
)

_BUS_MEMBER = re.compile(r"(?P<prefix>[\w-]+?)(?:DQ\d+)", re.IGNORECASE)
_BUS_REST = re.compile(r"(?:A|BA|DQ|DQM|DM|DQS|CK|CLK|CKE|CS|ODT|RAS|CAS|WE)\d*(?:[_-]?[PN])?", re.IGNORECASE)


def tail(name: str) -> str:
    """A net's own name, without the sheet path before the last slash."""
    return name.rsplit("/", 1)[-1]


def recognised_classes(names: Iterable[str]) -> tuple[NetClass, ...]:
    """Classes of the nets whose names say what they are, each net in one of them, classes in the table's order.

    Address and control lines join the memory bus whose data lines share their prefix. A pin with several uses is named
    for all of them, divided by a backslash or a bar: the first that is known counts.
    """
    known = sorted(set(names))
    uses = {name: re.split(r"[\\|]", tail(name)) for name in known}
    prefixes = {match["prefix"] for own in uses.values() for use in own if (match := _BUS_MEMBER.match(use))}
    members: dict[str, list[str]] = {interface.name: [] for interface in INTERFACES}
    for name in known:
        kind = next((kind for use in uses[name] if (kind := _interface_of(use, prefixes))), None)
        if kind:
            members[kind].append(name)
    return tuple(
        NetClass(name=interface.name, nets=tuple(members[interface.name]), rise_time=Time(interface.rise_time))
        for interface in INTERFACES
        if members[interface.name]
    )


def _interface_of(use: str, bus_prefixes: set[str]) -> str | None:
    if any(use.startswith(prefix) and _BUS_REST.fullmatch(use[len(prefix) :]) for prefix in bus_prefixes if prefix):
        return "memory"
    return next((interface.name for interface in INTERFACES if interface.names.fullmatch(use)), None)


def with_classes(board: Board, settings: Settings) -> tuple[Settings, tuple[str, ...]]:
    """The settings, with recognised classes where they name none, and what was taken for what."""
    if settings.classes:
        return settings, ()
    classes = recognised_classes(net.name for net in board.nets if net.named and net.kind is NetKind.SIGNAL)
    said = tuple(
        f'class "{entry.name}" by name, with a rise time of {float(entry.rise_time or 0) * 1e9:g} ns: '
        f"{', '.join(entry.nets)}"
        for entry in classes
    )
    return msgspec.structs.replace(settings, classes=classes), said
