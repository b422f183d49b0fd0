"""Classes of nets by names in common use, for a board that comes without settings.

What is taken for what is always said. Speeds are typical for the interface, from memory, with no source: they stand in
until somebody writes the board's own into the settings. Signals that change seldom or slowly are in no class.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import msgspec

from fencepost.board.model import Board, NetKind
from fencepost.names import listed, tail
from fencepost.settings.model import NetClass, Settings
from fencepost.units import Frequency, Time, with_prefix

LONGEST_NAME = 200
"""Longer names are not looked at: nobody wrote them to be read."""


@dataclass(frozen=True)
class Bus:
    """Nets that share what stands before: CLK and D0 are anybody's, but with CMD they are a memory card's.

    `anchor` fits the names that give the bus away, `member` all of its names, in at least `fewest` of which it must be
    there.
    """

    anchor: re.Pattern[str]
    member: re.Pattern[str]
    fewest: int


@dataclass(frozen=True)
class Interface:
    """A kind of fast signal, how fast it is, and how its nets are commonly named: each by itself, or as a bus."""

    name: str
    what: str
    speed: Frequency | Time
    names: re.Pattern[str] | None = None
    bus: Bus | None = None
    fence: bool = False


def _names(*patterns: str) -> re.Pattern[str]:
    return re.compile("|".join(f"(?:{pattern})" for pattern in patterns), re.IGNORECASE)


def _bus(anchor: str, member: str, fewest: int) -> Bus:
    return Bus(_names(f"(?P<prefix>.*?)(?:{anchor})"), _names(member, anchor), fewest)


_HALF = r"[_-]?[PNM+-]"
_LOW = r"(?:[_-]?[NB]|#)?"
_SELECT = rf"N?(?:CS|SS|NSS|SSEL)\d*{_LOW}"
_BEFORE = r"(?:\w+[_-])?"
_SERIES = r"(?:[_-]?(?:[RC]|\d{1,2}|CONN?|ESD))?"

INTERFACES = (
    Interface(
        "radio",
        "radio frequency; 2.4 GHz ISM band",
        Frequency(2.5e9),
        _names(
            r"(?:RF|ANT)(?:[_-]?\d+|[_-]?(?:IN|OUT|IO|TX|RX|AUX|[PN])\d?|[_-]\w+)?",
            r"(?:WIFI|WLAN|WL|BT|BLE|GPS|GNSS|LTE|GSM|LORA|UWB|LNA|PA|TX|RX|MAIN|DIV|AUX)\d?[_-]?(?:RF|ANT)\w{0,3}",
            r"(?:LNA|BALUN)\d?[_-]?(?:IN|OUT)\d?",
            r"NET-\((?:ANT|AE)\d*-\w+\)",
        ),
        fence=True,
    ),
    Interface(
        "link",
        "PCI Express, SATA, SGMII, SuperSpeed USB",
        Time(0.1e-9),
        _names(
            rf"{_BEFORE}(?:PCIE?|SATA|Q?SGMII|XFI|SERDES|SFP)[\w-]*?(?:[TR]XD?|CLK|REF|[AB])\d*{_HALF}\d*{_SERIES}",
            rf"{_BEFORE}USB[\w-]*?(?:SS)?[TR]X\d*{_HALF}\d*{_SERIES}",
            r"PE[TR][PN]\d+",
        ),
    ),
    Interface(
        "display",
        "HDMI, DVI, DisplayPort, LVDS",
        Time(0.2e-9),
        _names(
            rf"{_BEFORE}(?:HDMI|TMDS|HTX|LVDS|DVI|E?DP\d?[_-])[\w-]*?"
            rf"(?:TXD?|RXD?|D|DATA|ML|LANE|CK|CLK|CLOCK|C|[0-3])[_-]?\d*{_HALF}{_SERIES}"
        ),
    ),
    Interface(
        "mipi",
        "MIPI D-PHY of displays and cameras",
        Time(0.2e-9),
        _names(rf"{_BEFORE}(?:MIPI|DSI|CSI|CAM|DPHY)\d?[\w-]*?[_-]?(?:D(?:ATA)?|CK|CLK|C|LANE)[_-]?\d?[_-]?[PN]\d?"),
    ),
    Interface(
        "usb",
        "USB 2.0",
        Time(0.5e-9),
        _names(rf"{_BEFORE}(?:USB|OTG)[\w.-]*?(?:D[_-]?[PMN]|D?[+-]|[_-][PMN])\d*{_SERIES}", r"D[+-]"),
    ),
    Interface(
        "ethernet",
        "Ethernet, from the transceiver to the transformer",
        Time(1e-9),
        _names(
            rf"{_BEFORE}(?:MDI|TRD|TRX|TP)[_-]?\[?[0-3A-D]\]?{_HALF}",
            rf"{_BEFORE}(?:ETH|ENET|LAN|PHY)\w*?[TR][XD]{_HALF}",
            r"[TR][XD][+-]",
        ),
    ),
    Interface(
        "memory",
        "memory bus",
        Time(0.5e-9),
        bus=_bus(
            r"[LU]?DQS?\d*(?:[_-]?[PNTC]|#)?|RWDS",
            r"(?:C?A|BA|BG|D|DM|DMI|DQM)\d+|[LU]?(?:DM|DQM)|(?:CK|CLK)\d?(?:[_-]?[PNTC]|#)?"
            rf"|N?(?:CKE|CS|ODT|RAS|CAS|WE|ACT)\d*{_LOW}",
            4,
        ),
    ),
    Interface(
        "mac",
        "Ethernet, from the controller to the transceiver (MII, RMII, RGMII)",
        Time(1e-9),
        bus=_bus(
            r"[TR]X[_-]?(?:CTL|DV|EN|CLK|CK|C)|CRS[_-]?DV|[TR]XC",
            r"[TR]X?D?[_-]?\[?[0-7]\]?|[TR]X[_-]?ERR?|CRS|COL|(?:REF|GTX|G)?[_-]?CLK(?:IN|OUT)?(?:125)?",
            5,
        ),
    ),
    Interface(
        "flash",
        "serial flash on several lines",
        Time(1e-9),
        _names(rf"{_BEFORE}[QOFX]SPI\w*?[_-]?(?:S?CLK|SCK|S?IO\d|D\d|DQS?\d?|{_SELECT})"),
    ),
    Interface(
        "card",
        "SD, SDIO, MMC",
        Time(1e-9),
        bus=_bus("CMD", r"CLK|CK|DS|D(?:AT|ATA)?[_-]?\d", 3),
    ),
    Interface(
        "video",
        "parallel display or camera",
        Time(2e-9),
        bus=_bus("[HV]SYNC|DE|PCLK|DCLK|DOTCLK", r"[RGBD]\d+|D(?:AT|ATA)[_-]?\d+|CLK", 8),
    ),
    Interface(
        "spi",
        "SPI",
        Time(2e-9),
        bus=_bus("MOSI|MISO|COPI|CIPO|SDI|SDO", rf"S?CLK|SCK|{_SELECT}", 3),
    ),
    Interface(
        "clock",
        "clock",
        Time(1e-9),
        _names(
            rf"{_BEFORE}(?:REF|SYS|PIX|DOT|CORE|FPGA|CPU|[PX])?(?:CLK|CLOCK)(?:[_-]?(?:IN|OUT))?\d*"
            rf"(?:[_-]?\d+M(?:HZ)?)?(?:{_HALF})?{_SERIES}",
        ),
    ),
)

_SLOW = {
    "control": "RST RESET PERST POR EN ENABLE DIS OE CTL CTRL SEL MODE CFG STRAP BOOT WAKE DRV SW GPIO TEST RFU",
    "reports": "INT IRQ INTR ALERT FAULT FLT OC OVC PG PGOOD OK RDY READY BUSY REQ CLKREQ DET DETECT CD WP ID HPD",
    "slow buses": "SCL SDA SMB TWI UART USART RTS CTS CEC JTAG TCK TMS TDI TDO SWCLK SWDIO RFID",
    "power": "PWR PWM SENSE SNS FB ADC VBUS VBUSDET RTC",
    "people": "LED KEY BTN AUD AUDIO MIC SPK HP LINE PCM LRCK LRCLK BCLK MCLK WCLK",
}
_SLOW_WORDS = frozenset(word for words in _SLOW.values() for word in words.split())
"""Words of names that say: no fast edges, or none that matter. With or without N before or behind, and a number."""

_SLOW_CLOCK = re.compile(r"32(?:\.?768)?K|32768|I[2-3][CS]")
_WORD = re.compile(r"[A-Z]+")


def recognised_classes(names: Iterable[str]) -> tuple[NetClass, ...]:
    """Classes of the nets whose names say what they are, each net in one of them, classes in the table's order.

    Sheet paths do not count. A pin with several uses is named for all of them, divided by a backslash or a bar: the
    first that is known counts.
    """
    uses = {name: re.split(r"[\\|]", tail(name).upper()) for name in set(names) if len(name) <= LONGEST_NAME}
    buses = {entry.name: _prefixes(entry.bus, uses) for entry in INTERFACES if entry.bus}
    members: dict[str, list[str]] = defaultdict(list)
    for name, own in sorted(uses.items()):
        kind = next((kind for use in own if (kind := _interface_of(_sheet(name), use, buses))), None)
        if kind:
            members[kind].append(name)
    return tuple(_class(entry, members[entry.name]) for entry in INTERFACES if members[entry.name])


def _class(entry: Interface, nets: list[str]) -> NetClass:
    speed = {"frequency" if isinstance(entry.speed, Frequency) else "rise_time": entry.speed}
    return NetClass(name=entry.name, nets=tuple(nets), fence=entry.fence, **speed)


def _sheet(name: str) -> str:
    return name[: -len(tail(name))]


def _prefixes(bus: Bus, uses: dict[str, list[str]]) -> set[tuple[str, str]]:
    """Where a bus is: sheet, and what its names have before. Its rest is all of a name from there on."""
    all_uses = {(_sheet(name), use) for name, own in uses.items() for use in own}
    found = {(sheet, match["prefix"]) for sheet, use in all_uses if (match := bus.anchor.fullmatch(use))}
    count: dict[tuple[str, str], int] = defaultdict(int)
    for sheet, use in all_uses:
        for place in _places(bus, found, sheet, use):
            count[place] += 1
    return {place for place, number in count.items() if number >= bus.fewest and not _is_slow(place[1])}


def _places(bus: Bus, found: set[tuple[str, str]], sheet: str, use: str) -> list[tuple[str, str]]:
    cuts = [(sheet, use[:i]) for i in range(len(use)) if (sheet, use[:i]) in found]
    return [place for place in cuts if bus.member.fullmatch(use, len(place[1]))]


def _interface_of(sheet: str, use: str, buses: dict[str, set[tuple[str, str]]]) -> str | None:
    for entry in INTERFACES:
        if entry.bus and _places(entry.bus, buses[entry.name], sheet, use):
            return entry.name
    if _is_slow(use):
        return None
    return next((entry.name for entry in INTERFACES if entry.names and entry.names.fullmatch(use)), None)


def _is_slow(use: str) -> bool:
    forms = {form for word in _WORD.findall(use) for form in (word, word.removeprefix("N"), word.removesuffix("N"))}
    return bool(forms & _SLOW_WORDS) or _SLOW_CLOCK.search(use) is not None


def with_classes(board: Board, settings: Settings) -> tuple[Settings, tuple[str, ...]]:
    """The settings, with recognised classes where they name none, and what was taken for what."""
    if settings.classes:
        return settings, ()
    classes = recognised_classes(net.name for net in board.nets if net.named and net.kind is NetKind.SIGNAL)
    said = tuple(f'class "{entry.name}" by name, with {kept_by(entry)}: {listed(entry.nets)}' for entry in classes)
    return msgspec.structs.replace(settings, classes=classes), said


def kept_by(entry: NetClass) -> str:
    """What a class asks for: `a frequency of 2.5 GHz and fences`, `a rise time of 1 ns`."""
    if entry.frequency is not None:
        speed = f"a frequency of {with_prefix(entry.frequency, 'Hz')}"
    else:
        speed = f"a rise time of {with_prefix(entry.rise_time or 0.0, 's')}"
    return f"{speed} and fences" if entry.fence else speed
