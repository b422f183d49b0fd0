"""ring-width: how rings become findings. What a ring measures is tested in tests/fabrication/test_rings.py."""

from __future__ import annotations

import pytest
from fencepost_rules.ring_width import RingWidth

from boards import board_of, findings_of
from fencepost.checking.finding import Finding, Severity
from sketch import Sketch

CLASS_3 = "[board]\nbuild_class = 3\n"
LEVEL_B = '[board]\nlevel = "B"\n'
OWN = '[rules.ring-width]\nminimum = "0.06 mm"\n'
OWN_INNER = '[rules.ring-width]\nminimum = "0.06 mm"\ninner = "0.08 mm"\n'


def check(sketch: Sketch, settings: str = "", **options) -> list[Finding]:
    return findings_of(RingWidth, board_of(sketch, settings, **options), settings)


def vias(pad: float, count: int = 1, **options) -> Sketch:
    """Vias of 0.3 mm on a board of four layers."""
    sketch = Sketch(layers=4)
    for i in range(count):
        sketch.via(f"N{i}", (3 + 2 * i, 10), drill=0.3, pad=pad, **options)
    return sketch


@pytest.mark.parametrize(
    ("settings", "pad", "layers"),
    [
        ("", 0.502, ()),
        ("", 0.5, ()),
        ("", 0.4985, ()),
        ("", 0.496, ("L1", "L2", "L3", "L4")),
        (CLASS_3, 0.602, ()),
        (CLASS_3, 0.6, ()),
        (CLASS_3, 0.596, ("L1", "L4")),
        (CLASS_3, 0.55, ("L1", "L4")),
        (CLASS_3, 0.546, ("L1", "L2", "L3", "L4")),
        (LEVEL_B, 0.55, ()),
        (LEVEL_B, 0.546, ("L1", "L2", "L3", "L4")),
        (OWN, 0.42, ()),
        (OWN, 0.416, ("L1", "L2", "L3", "L4")),
        (CLASS_3 + OWN, 0.42, ()),
        (OWN_INNER, 0.46, ()),
        (OWN_INNER, 0.456, ("L2", "L3")),
        (OWN_INNER, 0.416, ("L1", "L2", "L3", "L4")),
    ],
)
def test_at_just_over_and_just_under_each_limit(settings: str, pad: float, layers: tuple[str, ...]) -> None:
    """Half of pad less 0.3 mm; 1 µm is forgiven. Class 3: 0.15 and 0.125 mm; level B: 0.125 mm (from memory)."""
    found = check(vias(pad), settings)
    assert [finding.layers for finding in found] == ([layers] if layers else [])


def test_what_a_finding_says() -> None:
    (finding,) = check(vias(0.4))
    assert finding.message == "the via of N0 has a ring of 0.050 mm on L1..4, less than 0.100 mm"
    assert finding.severity is Severity.WARNING
    assert (finding.nets, finding.place.x_mm, finding.place.y_mm) == (("N0",), 3.0, 10.0)
    assert finding.place.location.file.endswith("PTH.drl")
    assert finding.measured.value == pytest.approx(0.05, abs=1e-6)
    assert finding.limit.value == pytest.approx(0.1)
    assert [remark.place.location.file for remark in finding.remarks] == ["board/board-L1.gbr"]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"pads": (1, 2, 3)}, "the via of N0 has no pad on L4"),
        ({"pads": (), "span": (2, 3)}, "the buried via has no pad on L2, L3"),
        ({"pads": (1,), "span": (1, 2)}, "the blind via of N0 has no pad on L2"),
    ],
)
def test_a_missing_pad_is_an_error(change: dict, message: str) -> None:
    (finding,) = check(vias(0.6, **change))
    assert (finding.message, finding.severity) == (message, Severity.ERROR)


def test_a_hole_that_breaks_out_is_an_error() -> None:
    sketch = vias(0.6, pads=(1, 4))
    sketch.trace("N0", 2, [(3, 10), (8, 10)], 0.15)
    (finding,) = check(sketch)
    assert finding.message == "the via of N0 breaks out of its copper on L2 over 300°"
    assert finding.severity is Severity.ERROR


@pytest.mark.parametrize(("count", "findings"), [(1, 1), (3, 3), (4, 1), (9, 1)])
def test_many_holes_of_one_tool_are_one_finding(count: int, findings: int) -> None:
    found = check(vias(0.4, count))
    assert len(found) == findings
    assert sorted({net for finding in found for net in finding.nets}) == [f"N{i}" for i in range(count)]
    if count > findings:
        assert (
            found[0].message
            == f"{count} vias of 0.30 mm have rings of as little as 0.050 mm on L1..4, less than 0.100 mm"
        )
        assert len(found[0].remarks) == min(count, 5) - 1


def test_the_worst_of_many_comes_first() -> None:
    sketch = vias(0.4, 5)
    sketch.via("BAD", (10, 15), drill=0.3, pad=0.36)
    (finding,) = check(sketch)
    assert (finding.place.x_mm, finding.place.y_mm) == (10, 15)
    assert finding.measured.value == pytest.approx(0.03, abs=1e-6)


@pytest.mark.parametrize("options", [{"turn": 30.0}, {"move": (40.0, -7.0)}, {"units": "inch"}, {"drill": "gerber"}])
def test_however_the_board_lies_and_is_written(options: dict) -> None:
    (finding,) = check(vias(0.4), **options)
    assert finding.measured.value == pytest.approx(0.05, abs=0.001)
    assert check(vias(0.5), **options) == []
