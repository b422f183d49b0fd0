"""The report page in a real browser: what it shows agrees with the JSON report, and it can be worked in every way.

The JSON report is the reference: it is held against the design's schema by tests of its own.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from fencepost.report import renderer
from fencepost.report.result import Result
from page.opened import Open, Opened

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


@pytest.fixture
def report(demo: Result) -> dict[str, Any]:
    """The JSON report of the same check."""
    return dict(json.loads(renderer("json")([demo])))


def test_it_opens_from_disk_without_a_word_on_the_console_and_without_any_request(
    open_page: Open, demo_page: Path
) -> None:
    opened = open_page(demo_page)
    opened.page.wait_for_timeout(200)
    assert opened.said == []
    assert opened.asked == []


def test_its_policy_keeps_scripts_of_the_page_from_the_network(open_page: Open, demo_page: Path) -> None:
    """Content Security Policy Level 3: default-src 'none' forbids every fetch."""
    opened = open_page(demo_page)
    script = "() => fetch('https://example.invalid/').then(() => 'went out', (error) => 'refused')"
    assert opened.page.evaluate(script) == "refused"
    assert any("Content Security Policy" in line for line in opened.said)


def test_list_and_markers_hold_the_findings_of_the_json_report(
    open_page: Open, demo_page: Path, report: dict[str, Any]
) -> None:
    opened = open_page(demo_page)
    names = {finding["fingerprint"] for finding in report["findings"]}
    assert len(names) == len(report["findings"]) > 5
    assert set(opened.shown) == names == opened.markers
    for finding in report["findings"]:
        item = opened.page.locator(f'[id="{finding["fingerprint"]}"] .head').text_content() or ""
        assert finding["message"] in item
        assert finding["severity"] in item
        assert f"{finding['file']}:{finding['line']}:{finding['column']}" in item


def test_counts_at_the_top_are_those_of_the_json_report(
    open_page: Open, demo_page: Path, report: dict[str, Any]
) -> None:
    top = open_page(demo_page).page.locator("header").inner_text()
    for word, count in report["summary"].items():
        assert re.search(rf"\b{count}\s+{word}s?\b", top)
    assert "60.00 × 40.00 mm" in top


def test_markers_stand_where_the_json_report_says(open_page: Open, demo_page: Path, report: dict[str, Any]) -> None:
    """Differences of places, in pixels, against differences in the JSON: one scale, and y upwards."""
    opened = open_page(demo_page)
    spots = {
        finding["fingerprint"]: opened.page.locator(f'.marker[data-name="{finding["fingerprint"]}"]').get_attribute(
            "transform"
        )
        for finding in report["findings"]
    }
    first, *others = report["findings"]
    scale = opened.scale
    x0, y0 = map(float, re.findall(r"-?[\d.]+", spots[first["fingerprint"]]))
    for finding in others:
        x, y = map(float, re.findall(r"-?[\d.]+", spots[finding["fingerprint"]]))
        assert x - x0 == pytest.approx((finding["x_mm"] - first["x_mm"]) * scale, abs=0.3)
        assert y0 - y == pytest.approx((finding["y_mm"] - first["y_mm"]) * scale, abs=0.3)


@pytest.mark.parametrize(
    ("control", "key"), [("rule", "rule"), ("severity", "severity"), ("net", "nets"), ("layer", "layers")]
)
def test_each_filter_leaves_what_fits_it_in_list_and_markers(
    open_page: Open, demo_page: Path, report: dict[str, Any], control: str, key: str
) -> None:
    opened = open_page(demo_page)
    values = opened.page.locator(f"#by-{control} option").evaluate_all("all => all.map((one) => one.value)")
    every: set[str] = set()
    for value in filter(None, values):
        opened.page.select_option(f"#by-{control}", value)
        own = {
            finding["fingerprint"]
            for finding in report["findings"]
            if value == finding[key] or (isinstance(finding[key], list) and value in finding[key])
        }
        assert own
        assert set(opened.shown) == own == opened.markers
        every |= own
    assert every == {finding["fingerprint"] for finding in report["findings"] if finding[key]}


def test_search_finds_by_all_words_in_any_case_and_is_undone_by_one_button(
    open_page: Open, demo_page: Path, report: dict[str, Any]
) -> None:
    opened = open_page(demo_page)
    opened.page.fill("#search", "qspi_io2 GROUND")
    found = opened.shown
    messages = {finding["fingerprint"]: json.dumps(finding).lower() for finding in report["findings"]}
    assert found
    assert all("qspi_io2" in messages[name] and "ground" in messages[name] for name in found)
    assert opened.page.inner_text("#shown") == f"{len(found)} of {len(messages)} findings"
    opened.page.fill("#search", "no such words anywhere")
    assert opened.shown == []
    assert opened.page.locator("#none").is_visible()
    opened.page.click("#unfilter")
    opened.page.wait_for_timeout(50)
    assert len(opened.shown) == len(messages)


def test_sorting_by_severity_and_by_distance_from_the_limit(
    open_page: Open, demo_page: Path, report: dict[str, Any]
) -> None:
    opened = open_page(demo_page)
    findings = {finding["fingerprint"]: finding for finding in report["findings"]}
    rank = {"error": 0, "warning": 1, "note": 2}
    ranks = [rank[findings[name]["severity"]] for name in opened.shown]
    assert ranks == sorted(ranks)
    opened.page.select_option("#sort", "file")
    assert opened.shown == list(findings)
    opened.page.select_option("#sort", "worst")
    worst = findings[opened.shown[0]]
    ratio = worst["measured"]["value"] / worst["limit"]["value"]
    assert max(ratio, 1 / ratio) > 2


def _first(report: dict[str, Any], rule: str) -> str:
    return next(str(one["fingerprint"]) for one in report["findings"] if one["rule"] == rule)


def test_a_click_moves_the_board_to_the_finding_and_a_second_one_back(
    open_page: Open, demo_page: Path, report: dict[str, Any]
) -> None:
    opened = open_page(demo_page)
    name, before = _first(report, "transition-return"), opened.scale
    head = opened.page.locator(f'[id="{name}"] .head')
    head.click()
    assert head.get_attribute("aria-expanded") == "true"
    assert opened.page.locator(f'[id="{name}"] .body').is_visible()
    assert opened.scale > 3 * before
    frame = opened.page.locator("#view").bounding_box()
    mark = opened.page.locator(f'.marker[data-name="{name}"]').bounding_box()
    assert abs(mark["x"] + mark["width"] / 2 - frame["x"] - frame["width"] / 2) < frame["width"] / 4
    assert opened.page.url.endswith(f"#{name}")
    head.click()
    assert opened.scale == pytest.approx(before, rel=0.01)
    assert not opened.page.locator(f'[id="{name}"] .body').is_visible()
    assert "#" not in opened.page.url


def test_a_transition_shows_all_that_it_was_judged_by_and_its_cross_section(
    open_page: Open, demo_page: Path, report: dict[str, Any]
) -> None:
    opened = open_page(demo_page)
    name = _first(report, "transition-return")
    opened.page.click(f'[id="{name}"] .head')
    drawn = opened.page.locator("#shapes")
    for role in (
        "signal-via", "before", "after", "reference-before", "reference-after", "tie", "distance", "limit", "proposed",
    ):  # fmt: skip
        assert drawn.locator(f".r-{role}").count(), role
    finding = next(one for one in report["findings"] if one["fingerprint"] == name)
    limit = float(drawn.locator("circle.r-limit").get_attribute("r"))
    assert limit == pytest.approx(finding["limit"]["value"] * opened.scale, rel=0.01)
    assert f"{finding['measured']['value']:.2f} mm" in opened.page.locator("#labels").text_content()
    section = opened.page.locator(f'[id="{name}"] svg.section')
    assert section.is_visible()
    assert section.locator(".cross").count() == 1
    assert section.locator(".way").count() == 1


def test_a_gap_in_a_fence_is_marked_at_its_measured_width(
    open_page: Open, demo_page: Path, report: dict[str, Any]
) -> None:
    opened = open_page(demo_page)
    name = _first(report, "fence-pitch")
    opened.page.click(f'[id="{name}"] .head')
    path = opened.page.locator("#shapes path.r-widest")
    length = path.evaluate("path => path.getTotalLength()")
    finding = next(one for one in report["findings"] if one["fingerprint"] == name)
    assert length == pytest.approx(finding["measured"]["value"] * opened.scale, rel=0.02)


def test_a_link_opens_its_finding_and_a_wrong_one_does_nothing(
    open_page: Open, demo_page: Path, report: dict[str, Any]
) -> None:
    name = _first(report, "fence-pitch")
    opened = open_page(demo_page, f"#{name}")
    assert opened.page.locator('.head[aria-expanded="true"]').count() == 1
    assert opened.page.locator(f'[id="{name}"] .body').is_visible()
    other = open_page(demo_page, "#%3Cscript%3E")
    assert other.page.locator('.head[aria-expanded="true"]').count() == 0
    assert other.said == []


def test_the_board_zooms_and_moves_by_wheel_mouse_and_keys(open_page: Open, demo_page: Path) -> None:
    opened = open_page(demo_page)
    page, before = opened.page, opened.scale
    page.focus("#view")
    box = page.locator("#view").bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.move(*middle)
    page.mouse.wheel(0, -300)
    page.wait_for_timeout(50)
    wheel = opened.scale
    assert wheel > 1.3 * before
    page.keyboard.press("+")
    assert opened.scale == pytest.approx(1.4 * wheel, rel=0.01)
    spot = _spot(opened)
    page.keyboard.press("ArrowRight")
    assert _spot(opened)[0] == pytest.approx(spot[0] - 60, abs=1)
    page.keyboard.press("0")
    assert opened.scale == pytest.approx(before, rel=0.01)
    page.mouse.move(*middle)
    spot = _spot(opened)
    page.mouse.down()
    page.mouse.move(middle[0] + 50, middle[1] + 30, steps=5)
    page.mouse.up()
    assert _spot(opened) == pytest.approx((spot[0] + 50, spot[1] + 30), abs=1)
    assert page.locator('.head[aria-expanded="true"]').count() == 0


def _spot(opened: Opened) -> tuple[float, float]:
    text = opened.page.locator(".marker").first.get_attribute("transform")
    x, y = map(float, re.findall(r"-?[\d.]+", text))
    return x, y


def test_two_fingers_zoom_and_a_tap_on_a_marker_opens_its_finding(open_page: Open, demo_page: Path) -> None:
    opened = open_page(demo_page, **PHONE)
    page, before = opened.page, opened.scale
    page.locator("#view").scroll_into_view_if_needed()
    box = page.locator("#view").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    session = page.context.new_cdp_session(page)
    for kind, apart in (("touchStart", 30), ("touchMove", 60), ("touchMove", 90), ("touchEnd", 0)):
        points = [{"x": x - apart, "y": y, "id": 0}, {"x": x + apart, "y": y, "id": 1}] if apart else []
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    page.wait_for_timeout(100)
    assert opened.scale == pytest.approx(3 * before, rel=0.15)
    page.click("#fit")
    page.wait_for_timeout(150)
    mark = page.locator(".marker").last.locator(".hit").bounding_box()
    page.touchscreen.tap(mark["x"] + mark["width"] / 2, mark["y"] + mark["height"] / 2)
    assert page.locator('.head[aria-expanded="true"]').count() == 1


def test_the_whole_list_can_be_worked_by_keys(open_page: Open, demo_page: Path) -> None:
    opened = open_page(demo_page)
    page, names = opened.page, opened.shown
    focused = "document.activeElement.closest('li')?.id"
    page.focus(f'[id="{names[0]}"] .head')
    page.keyboard.press("ArrowDown")
    assert page.evaluate(focused) == names[1]
    page.keyboard.press("Enter")
    assert page.locator(f'[id="{names[1]}"] .body').is_visible()
    page.keyboard.press("n")
    assert page.locator(f'[id="{names[2]}"] .body').is_visible()
    assert page.locator('.head[aria-expanded="true"]').count() == 1
    page.keyboard.press("p")
    page.keyboard.press("Escape")
    assert page.locator('.head[aria-expanded="true"]').count() == 0
    page.keyboard.press("End")
    assert page.evaluate(focused) == names[-1]
    page.keyboard.press("/")
    assert page.evaluate("document.activeElement.id") == "search"
    page.keyboard.type("n")
    assert page.input_value("#search") == "n"
    assert page.locator('.head[tabindex="0"]').count() == 1


def test_a_finding_is_copied_as_the_text_report_has_it(open_page: Open, demo_page: Path, demo: Result) -> None:
    opened = open_page(demo_page, permissions=["clipboard-read", "clipboard-write"])
    name = opened.shown[0]
    opened.page.click(f'[id="{name}"] .head')
    opened.page.click(f'[id="{name}"] .copy')
    opened.page.wait_for_timeout(100)
    copied = opened.page.evaluate("navigator.clipboard.readText()")
    assert copied
    assert copied in renderer("text")([demo])


def test_a_layer_that_is_switched_off_leaves_the_picture(open_page: Open, demo_page: Path) -> None:
    opened = open_page(demo_page)
    ink = """() => {
        const canvas = document.getElementById("copper");
        const data = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
        let sum = 0;
        for (let i = 0; i < data.length; i += 4) sum += data[i] + 3 * data[i + 1] + 7 * data[i + 2];
        return sum;
    }"""
    seen = [opened.page.evaluate(ink)]
    for layer in ("L1", "L2", "L3", "L4"):
        opened.page.uncheck(f'#layers input[name="{layer}"]')
        seen.append(opened.page.evaluate(ink))
    assert len(set(seen)) == 5
    for layer in ("L1", "L2", "L3", "L4"):
        opened.page.check(f'#layers input[name="{layer}"]')
    assert opened.page.evaluate(ink) == seen[0]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_axe_finds_nothing_serious(open_page: Open, demo_page: Path, scheme: str, size: str) -> None:
    """Against axe-core's rules for WCAG 2.1, level A and AA, contrast among them."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    opened = open_page(demo_page, color_scheme=scheme, **(PHONE if size == "phone" else {}))
    opened.page.locator("li.finding .head").first.click()
    found = axe.Axe().run(opened.page).response["violations"]
    bad = [(one["id"], one["nodes"][0]["html"][:120]) for one in found if one["impact"] in ("serious", "critical")]
    assert bad == []


def test_nothing_is_wider_than_a_phone(open_page: Open, demo_page: Path) -> None:
    opened = open_page(demo_page, **PHONE)
    opened.page.locator("li.finding .head").first.click()
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= 390


def test_print_holds_every_finding_with_its_notes_and_no_controls(
    open_page: Open, demo_page: Path, report: dict[str, Any]
) -> None:
    opened = open_page(demo_page)
    opened.page.emulate_media(media="print")
    text = opened.page.locator("ol.findings").inner_text()
    for finding in report["findings"]:
        assert finding["message"] in text
        assert all(note["message"] in text for note in finding["notes"])
    assert not opened.page.locator("#filters").is_visible()
    assert opened.page.pdf(format="A4").startswith(b"%PDF")
