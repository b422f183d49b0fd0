"""Nets by their names: what they are taken for, and what they are not.

Names marked with a standard are the signal names of that standard, from memory. The others are in common use: common
practice, no source.
"""

from __future__ import annotations

import pytest

from boards import board_of, settings_of
from fencepost.board.model import NetKind
from fencepost.board.nets import recognised_kind
from fencepost.settings.model import NetClass
from fencepost.signals.interfaces import INTERFACES
from fencepost.signals.recognition import kept_by, recognised_classes, with_classes
from fencepost.units import Frequency, Time
from sketch import Sketch


def numbered(*names: str) -> list[str]:
    """`D0..3` stands for D0 to D3."""
    found = []
    for name in names:
        stem, dots, last = name.partition("..")
        first = stem[-1:] if dots else ""
        found += [f"{stem[:-1]}{i}" for i in range(int(first), int(last) + 1)] if dots else [name]
    return found


def classes_of(*names: str) -> dict[str, str]:
    """The class of each net that is in one."""
    return {net: entry.name for entry in recognised_classes(numbered(*names)) for net in entry.nets}


KINDS = {
    NetKind.GROUND: "GND AGND DGND PGND SGND CHGND CHASSIS CHASSIS_GND GND_A GND-RF VSSQ AVSS DVSS /analog/AGND gnd",
    NetKind.POWER: (
        "P3V3 P1V8_DDR N5V V3P3 V1P8A 1P8V VTT VCORE IOVDD AVCC OVDD VDDQ VPP VCC_3V3 USB_VBUS USB_5V EXT_3V3 12V0 +12 "
        "VBATT BATT+ VDD_ADC VDD_INT VDD_LED 2.8V_AVDD-CSI /supply/+3V3 +3.3VA vdd"
    ),
    NetKind.SIGNAL: (
        "VBUS_DET VBUSDET VBUS_EN 5V_EN EN_5V EN_3V3 3V3_EN_N 3V3_PG PG_1V8 VDD_OK 3V3_FAULT# VIN_SENSE VBAT_SNS "
        "ADC_VBAT VBAT_MON GND_SENSE AGND_DET VDD_FB VOUTP VINN VIN+ VSYNC VIDEO VALID VOICE V1 V12 P1 N12 PB3 R1V "
        "BAT- PWR_EN PS_ON"
    ),
}


@pytest.mark.parametrize(("kind", "name"), [(kind, name) for kind, names in KINDS.items() for name in names.split()])
def test_ground_and_power_are_told_from_what_switches_and_watches_them(kind: NetKind, name: str) -> None:
    assert recognised_kind(name) is kind


ALONE = {
    "radio": "RF RF1 RF_IN RFOUT RF_ANT ANT ANT2 ANT_MAIN WIFI_RF BT_ANT GNSS_RF LNA_IN RF_2G4 /radio/RF_TX",
    "link": (
        "PETp0 PETn0 PERp3 PERn3 "  # PCI Express Card Electromechanical Specification
        "PCIE_TX_P PCIE0_RX1_N PCIE_REFCLK_P PCIE_CLK- SATA_RXN SATA_A+ SGMII_TXP SERDES1_RX_N USB_SSTXP USB3_RX1_N "
        "USB_TX2-"
    ),
    "display": (
        "TMDS_DATA0+ TMDS_DATA2- TMDS_CLOCK+ "  # HDMI Specification 1.3: TMDS Data0+, TMDS Clock+
        "HDMI_D0_P HDMI_TX2- HDMI_CLK+ HTX0N HTXCP LVDS_CLKP LVDS0_D3N EDP_TX0_P DP0_ML1_N DVI_D2+"
    ),
    "mipi": "CSI_D0_P CSI0_CLKN DSI-CKN DSI_D3_P MIPI_CSI_DN0 CSI_DP1 CAM1_DN0 CAM_CLK_P MIPI_DSI_LANE2_N",
    "usb": "D+ D- USB_D+ USB_D- USB_DP USB_DM USB1-DM USB0-D_N USBDP OTG_DM USB_P USB_HUB_DP1 USB_DP_R /usb/USB_DN",
    "ethernet": "MDI0_P MDI[3]- MDI_1N TRD0P TRX2+ ETH_TXP ETH_RX_N LAN_TD+ TD+ RD- TP0_P",
    "flash": "QSPI_CLK QSPI_SCK QSPI_CS QSPI_NCS QSPI_IO0 QSPI1_IO3 OSPI_D7 OSPI_DQS FSPI_CS0# XSPI_CLK",
    "clock": "CLK CLK_25M CLKOUT REFCLK SYS_CLK FPGA_CLK0 XCLK CAM_PCLK eMMC_CLK CLK_IN_P CLK1 PHY_REFCLK_N CLK_100MHZ",
}


@pytest.mark.parametrize(("kind", "name"), [(kind, name) for kind, names in ALONE.items() for name in names.split()])
def test_a_name_that_says_what_it_is_needs_no_company(kind: str, name: str) -> None:
    assert classes_of(name) == {name: kind}


BUSES = {
    # JEDEC JESD79-3 (DDR3): signal names, with # for those that are active low.
    "DDR3": (
        "memory",
        "DDR_DQ0..15 DDR_DQS0 DDR_DQS0# DDR_DM0 DDR_A0..14 DDR_BA0..2 DDR_CK DDR_CK# DDR_CKE DDR_CS# DDR_RAS# "
        "DDR_CAS# DDR_WE# DDR_ODT",
        "DDR_RESET# DDR_VREF DDR_ZQ DDR_EVENT#",
    ),
    "memory without a prefix": ("memory", "DQ0..7 DQS0_P DQS0_N A0..12 CK_P CK_N CS0_N WE_N", "ALERT_N"),
    "LPDDR": ("memory", "M_DQ0..7 M_DQS0_T M_DQS0_C M_CA0..5 M_CK_T M_CK_C M_CKE0 M_DMI0", "M_RESET_N"),
    "SDRAM": ("memory", "SD_DQ0..7 SD_LDQM SD_UDQM SD_A0..12 SD_BA0 SD_CLK SD_CKE SD_nCS SD_nRAS SD_nCAS SD_nWE", ""),
    "octal flash": ("memory", "MEM_D0..7 MEM_DQS MEM_CLK MEM_CS", "MEM_RST"),
    # RGMII 2.0 (2002) and IEEE 802.3 clauses 22 and 35 (MII, GMII); RMII 1.2 (1998).
    "RGMII": ("mac", "TXC TX_CTL TD0..3 RXC RX_CTL RD0..3", "MDC MDIO"),
    "RMII": ("mac", "ETH_TXD0..1 ETH_TX_EN ETH_RXD0..1 ETH_CRS_DV ETH_REF_CLK", "ETH_MDC ETH_MDIO ETH_RST"),
    "MII": ("mac", "E_TX_CLK E_TXD0..3 E_TX_EN E_RX_CLK E_RXD0..3 E_RX_DV E_RX_ER E_CRS E_COL", "E_INT"),
    # SD Physical Layer Specification, and JEDEC JESD84 (eMMC).
    "SD card": ("card", "SD_CLK SD_CMD SD_DAT0..3", "SD_CD SD_WP SD_DET#"),
    "eMMC": ("card", "MMC1-CLK MMC1-CMD MMC1-D0..7 MMC1-DS", "MMC1-RST"),
    "display in parallel": ("video", "LCD_D0..23 LCD_HSYNC LCD_VSYNC LCD_DE LCD_CLK", "LCD_PWM LCD_RST LCD_BL"),
    "camera in parallel": ("video", "DVP_D0..7 DVP_HSYNC DVP_VSYNC DVP_PCLK", "DVP_PWR DVP_SDA"),
    "SPI": ("spi", "SPI1_SCK SPI1_MOSI SPI1_MISO SPI1_CS0..1", "SPI1_INT SPI1_RST"),
    "SPI called after its part": ("spi", "RAD_SCK RAD_MOSI RAD_MISO RAD_CS", "RAD_BUSY RAD_RST RAD_IRQ"),
    "SPI in new words": ("spi", "A_SCLK A_COPI A_CIPO A_NSS", ""),
}


@pytest.mark.parametrize(("kind", "inside", "outside"), BUSES.values(), ids=BUSES)
def test_a_bus_is_known_by_some_of_its_names_and_takes_in_those_that_begin_alike(
    kind: str, inside: str, outside: str
) -> None:
    found = classes_of(*inside.split(), *outside.split(), "OTHER_D0..3", "OTHER_CS")
    assert found == dict.fromkeys(numbered(*inside.split()), kind)


SLOW = {
    # UM10204 (I2C), SMBus, JTAG as in IEEE 1149.1.
    "I2C": "SCL SDA I2C1_SCL I2C1_SDA I2C_CLK TWI0-SCK TWI0-SDA SMB_CLK SMB_DATA PMU-SCK HDMI_SCL CAM_SDA",
    "UART": "UART_TX UART_RX TXD0 RXD0 TXD1 RXD1 UART1_RTS BT-UART-CTS DBG_TX UART_TX_EN",
    "debugging": "TCK TMS TDI TDO TRST SWCLK SWDIO JTAG_CLK",
    "reset": "RST NRST RST_N RESET# ETH_RST PCIE_RST_N PERST# HDMI_RST_N RF_RST",
    "enable and select": "EN EN_P USB_EN CLK_EN LVDS_EN_N RF_EN ANT_SEL RF_SW1 LNA_EN MIPI-DSI-EN WIFI_EN",
    "interrupt": "INT IRQ_N CTP-INT RFID_IRQ CLKREQ# PCIE_CLKREQ_N",
    "report": "USB_OC USB0-ID USB0-DRV HDMI_HPD HDMI_CEC SD_DET",
    "people": "LED LED_P LED_N KEY1 BTN_N GPIO_LED LCD_PWM",
    "measuring": "BAT_SENSE SENSE_P SENSE_N ADC_IN0 TEMP_P VBUS_SENSE",
    "I2S": "I2S_MCLK I2S_BCLK I2S_LRCK I2S_SDO I2S_SDI I2S_CLK MCLK",
    "audio": "BT-PCM-CLK BT-PCM-SYNC MIC_P MIC_N AUD_CLK HPOUTL",
    "slow clocks": "CLK32K AP-CK32KO RTC_CLK CLK_32768 CLK_32.768K",
    "field buses": "RS485_P RS485_N CAN_H CAN_L",
    "no word at all": "A N P D0 PB3 PE17 Net-(R10-Pad1) NC X",
}


@pytest.mark.parametrize("names", SLOW.values(), ids=SLOW)
def test_slow_signals_are_in_no_class(names: str) -> None:
    assert classes_of(*names.split()) == {}


@pytest.mark.parametrize(
    "names",
    [
        "MOSI SCK",  # too few for SPI
        "UART_TX_EN UART_TXD0 UART_RXD0",  # an enable makes no MII
        "A0..7 D0..7 CS",  # no data strobe
        "I2S_SDO I2S_SDI I2S_CLK I2S_CS",  # a slow word before all of it
        "DE HSYNC VSYNC",
    ],
)
def test_too_little_of_a_bus_is_none(names: str) -> None:
    assert classes_of(*names.split()) == {}


def test_a_bus_is_looked_for_sheet_by_sheet() -> None:
    assert classes_of("/a/MOSI", "/a/MISO", "/a/SCK", "/b/CS", "/b/MOSI") == dict.fromkeys(
        ("/a/MOSI", "/a/MISO", "/a/SCK"), "spi"
    )


def test_of_a_pin_with_several_uses_the_first_that_is_known_counts() -> None:
    """A port that serves a card or a display; where the first use says nothing, the second does."""
    names = [*(rf"PF{i}\SD_D{i}" for i in range(4)), r"PF4\SD_CLK", r"PF5\SD_CMD", "PF6|USB_DP", "USB_DM|LED"]
    found = classes_of(*names)
    assert found == dict.fromkeys(names[:6], "card") | {"PF6|USB_DP": "usb", "USB_DM|LED": "usb"}


def test_each_net_is_in_one_class_and_classes_keep_their_order() -> None:
    names = [name for words in ALONE.values() for name in words.split()]
    found = recognised_classes(names)
    nets = [net for entry in found for net in entry.nets]
    assert sorted(nets) == sorted(set(names))
    order = [entry.name for entry in INTERFACES]
    assert [entry.name for entry in found] == sorted((entry.name for entry in found), key=order.index)


def test_names_that_nobody_reads_are_left_alone() -> None:
    assert classes_of("USB_" + "D" * 10_000 + "_DP") == {}


def board_with(*nets: str, settings: str = ""):
    sketch = Sketch(layers=2, size=(40.0, 100.0))
    sketch.pour("GND", 2)
    sketch.via("GND", (38, 18))
    for i, net in enumerate(nets):
        sketch.trace(net, 1, [(2, 1 + i), (8, 1 + i)])
    return board_of(sketch, settings)


def test_what_is_taken_for_what_is_said_and_radio_traces_get_fences() -> None:
    settings, said = with_classes(board_with("RF_ANT", "USB_DP", "USB_DM", "LED"), settings_of())
    assert said == (
        'class "radio" by name, with a frequency of 2.5 GHz and fences: RF_ANT',
        'class "usb" by name, with a rise time of 500 ps: USB_DM, USB_DP',
    )
    assert [(entry.name, entry.fence) for entry in settings.classes] == [("radio", True), ("usb", False)]


def test_nets_that_are_ground_or_power_are_in_no_class() -> None:
    given = '[nets]\npower = ["RF_SUPPLY"]\n'
    settings, said = with_classes(board_with("RF_SUPPLY", settings=given), settings_of(given))
    assert (settings.classes, said) == ((), ())


def test_settings_with_a_class_end_the_guessing() -> None:
    given = '[[class]]\nname = "slow"\nnets = ["LED"]\nrise_time = "1 us"\n'
    settings, said = with_classes(board_with("LED", "RF_ANT", settings=given), settings_of(given))
    assert ([entry.name for entry in settings.classes], said) == (["slow"], ())


@pytest.mark.parametrize(
    ("speed", "words"),
    [
        ({"frequency": Frequency(868e6)}, "a frequency of 868 MHz"),
        ({"rise_time": Time(2e-9)}, "a rise time of 2 ns"),
        ({"rise_time": Time(2e-9), "fence": True}, "a rise time of 2 ns and fences"),
    ],
)
def test_a_class_in_words(speed: dict, words: str) -> None:
    assert kept_by(NetClass(name="a", nets=("A",), **speed)) == words


def test_a_long_class_is_said_in_one_line() -> None:
    names = numbered("DDR_DQ0..63", "DDR_DQS0", "DDR_A0..15", *(f"DDR_BA{i}" for i in (0, 2, 4)))
    _, (said,) = with_classes(board_with(*names), settings_of())
    assert said.endswith("DDR_A0..15, DDR_BA0, DDR_BA2, DDR_BA4, DDR_DQ0..63, DDR_DQS0")
