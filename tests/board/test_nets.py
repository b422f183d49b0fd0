"""Nets by name, and which net a piece of copper has when labels agree and disagree."""

import numpy as np
import pytest

from fencepost.board.model import NetKind
from fencepost.board.nets import island_nets, net_table, recognised_kind
from fencepost.settings.model import NetSettings


@pytest.mark.parametrize(
    ("kind", "names"),
    [
        (NetKind.GROUND, "GND AGND DGND PGND GNDA GND1 VSS VSSA 0V GND_RF RF_GND /power/GND EARTH"),
        (
            NetKind.POWER,
            "+3V3 +5V 3V3 5V 1V8_IO 1.1V_SYS +3.3VD VCC VDD VDDIO VDD_CORE VBAT VBUS VIN AVDD +BAT -12V VCC-PC",
        ),
        (
            NetKind.SIGNAL,
            "QSPI_CLK USB_P RESET# VSYNC HSYNC SIGNAL_GND_SENSE_N RS485_P VIDEO D0 A15 V_SENSE_OK Net-(R1-Pad2)",
        ),
    ],
)
def test_kinds_by_names_in_common_use(kind: NetKind, names: str) -> None:
    assert {name: recognised_kind(name) for name in names.split()} == dict.fromkeys(names.split(), kind)


def test_recognition_is_said_and_settings_replace_it() -> None:
    nets, notes = net_table({"GND", "+3V3", "X"}, (), NetSettings())
    assert [(net.name, net.kind) for net in nets] == [
        ("+3V3", NetKind.POWER),
        ("GND", NetKind.GROUND),
        ("X", NetKind.SIGNAL),
    ]
    assert notes == ("ground nets by name: GND", "power nets by name: +3V3")
    nets, notes = net_table({"GND", "+3V3", "X"}, (), NetSettings(ground=("X",), power=()))
    assert [net.kind for net in nets] == [NetKind.SIGNAL, NetKind.SIGNAL, NetKind.GROUND]
    assert notes == ()


@pytest.mark.parametrize(
    ("labels", "net", "conflicts"),
    [
        ([0, 0, 0], 0, []),
        ([-1, 1, -1], 1, []),
        ([-1, -1, -1], -1, []),
        ([0, 1, 1], 1, [(0, 1)]),
        ([1, 0, -1], 0, [(0, 1)]),
    ],
)
def test_the_label_of_most_parts_names_the_island(
    labels: list[int], net: int, conflicts: list[tuple[int, ...]]
) -> None:
    island = np.zeros(len(labels), dtype=np.int32)
    found, said = island_nets(island, np.array(labels, dtype=np.int32), 1)
    assert found.tolist() == [net]
    assert [conflict.nets for conflict in said] == conflicts
