"""Kinds of fast signals, and the names in common use for their nets.

Speeds are typical for the interface, from memory, with no source.
"""

from __future__ import annotations

import re

from fencepost.frozen import dataclass
from fencepost.units import Frequency, Time


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


# How a half of a pair ends; a signal that is active low; a select; what may stand before and behind a name.
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


def is_slow(use: str) -> bool:
    """Whether a name, in capitals, has a word for a signal that changes seldom or slowly."""
    forms = {form for word in _WORD.findall(use) for form in (word, word.removeprefix("N"), word.removesuffix("N"))}
    return bool(forms & _SLOW_WORDS) or _SLOW_CLOCK.search(use) is not None
