"""The page as text: names from files stay text, all of it is in one file, and the numbers are those of the result."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from fencepost.board.model import NetKind
from fencepost.checking.evidence import Area, Circle, Heat, Line, Shape, Spot
from fencepost.checking.finding import Severity
from fencepost.checking.waivers import Waived
from fencepost.report.page import render
from fencepost.report.page.drawing import Drawing, Ink, Sheet, drawing_of
from fencepost.report.page.pictures import pictures
from fencepost.report.page.section import section_svg
from fencepost.report.result import Result
from fencepost.source import Location
from handmade import FINDING, RESULT, board

HOSTILE = [
    "</script><script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "\"' onmouseover=alert(1) x='",
    "<!--<script>",
    "]]>&amp;&#60;b&#62;",
    "\u2028\u2029\x00\x1b[31m\u202edrow",
    "\ud800",
]
"""Names that would be obeyed somewhere if they were not escaped."""


class Elements(HTMLParser):
    """The elements of a page with their attributes, and the text outside of style and script."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def drawing(layers: int = 4) -> Drawing:
    return drawing_of(board(layers=layers))


def hostile(name: str) -> Result:
    """A result that has a name wherever one can stand. A role is never one of ours, which would be drawn as such."""
    role = f"role {name}"
    place = replace(FINDING.place, location=Location(f"fab/{name}", 1, 1))
    shapes: tuple[Shape, ...] = (
        Spot(1, 1, role, name, name),
        Circle(31.2, 18.45, 2, "reference before", "L2", name),
        Circle(31.2, 18.45, 2, "reference after", "L3", name),
        Spot(31.2, 18.45, "signal via", label=name),
        Line(((0, 0), (1, 1)), role, name, name),
        Area((((0, 0), (1, 0), (0, 1)),), role, name, name),
        Heat(0, 0, 1, ((0.5,),), role, name, name),
    )
    finding = replace(
        FINDING, rule=name, message=name, place=place, layers=(name,), nets=(name,), evidence=shapes,
        remarks=(replace(FINDING.remarks[0], message=name),),
    )  # fmt: skip
    drawn = replace(drawing(), files=(name,) * 4, nets=(name, "A"), kinds=(NetKind.GROUND, NetKind.SIGNAL))
    return replace(
        RESULT, package=name, findings=(finding,), assumptions=(name,), warnings=(name,),
        waived=(Waived(finding, name),), drawing=drawn,
    )  # fmt: skip


PLAIN = Elements(render([hostile("name")]))


@pytest.mark.parametrize("name", HOSTILE)
def test_names_with_markup_script_or_controls_stay_text(name: str) -> None:
    """The page has the same elements and kinds of attributes as with a harmless name, and the name is in its text."""
    page = render([hostile(name)])
    found = Elements(page)
    assert [(tag, list(attrs)) for tag, attrs in found.tags] == [(tag, list(attrs)) for tag, attrs in PLAIN.tags]
    assert not set(page) & set("\x00\x1b\u202e\u2028\u2029\ud800")
    if name.isprintable():
        assert name in "".join(found.text)


@given(st.text(alphabet=st.characters(codec=None), max_size=30))
def test_no_name_at_all_changes_what_elements_the_page_has(name: str) -> None:
    found = Elements(render([hostile(name)]))
    assert [tag for tag, _ in found.tags] == [tag for tag, _ in PLAIN.tags]


@pytest.mark.parametrize("name", HOSTILE)
def test_pictures_are_well_formed_whatever_the_names(name: str) -> None:
    for file, picture in pictures([hostile(name)]).items():
        assert re.fullmatch(r"[a-z0-9-]+\.svg", file)
        root = etree.fromstring(picture.encode())
        assert not [one for one in root.iter() if etree.QName(one).localname in ("script", "img", "image", "a")]


def test_the_page_refers_to_nothing_outside_of_it() -> None:
    for _, attributes in PLAIN.tags:
        assert not {"src", "srcset", "action", "style", "onclick", "onload"} & set(attributes)
        assert (attributes.get("href") or "#").startswith("#")
    page = render([replace(RESULT, drawing=drawing())])
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)|@import|url\((?!#)", page)


def test_the_data_of_the_page_is_json_with_every_finding() -> None:
    page = render([hostile(HOSTILE[0])])
    data = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.S)
    assert data is not None
    read = json.loads(data[1])
    assert list(read["findings"]) == [hostile(HOSTILE[0]).findings[0].fingerprint]


def test_findings_of_one_fingerprint_have_names_of_their_own() -> None:
    page = render([replace(RESULT, findings=(FINDING, FINDING)), RESULT])
    names = re.findall(r'<li class="finding" id="([^"]+)"', page)
    own = FINDING.fingerprint
    assert names == [own, f"{own}-2", f"{own}-3"]


@pytest.mark.parametrize(
    ("result", "words"),
    [
        (replace(RESULT, findings=(), unchecked=()), "No findings."),
        (replace(RESULT, findings=()), "No findings; 1 part could not be checked."),
        (replace(RESULT, unchecked=()), "Not clean: findings at or above warning."),
        (replace(RESULT, unchecked=(), fail_level=Severity.ERROR), "Findings, none of which fails the check."),
    ],
)
def test_the_verdict_says_what_the_exit_code_says(result: Result, words: str) -> None:
    assert words in Elements(render([result])).text


def test_a_page_without_a_drawing_still_has_its_list() -> None:
    assert FINDING.message in "".join(Elements(render([RESULT])).text)


TRANSITION = (
    Circle(10, 10, 2, "reference before", "L2", "GND"),
    Circle(10, 10, 2, "reference after", "L3", "GND"),
    Spot(10, 10, "signal via", label="A"),
    Circle(10, 10, 1.5, "limit"),
)


def planes() -> Drawing:
    """A board of four layers with a full plane on L2 and L3, and holes for the signal at 10 mm and a tie at 13 mm."""
    plane = Ink(np.array([shapely.box(0, 0, 60, 40)], dtype=object), np.zeros(1))
    own = drawing()
    return replace(
        own,
        sheets=tuple(Sheet(layer, NetKind.GROUND, plane) for layer in (2, 3)),
        holes=Ink(np.array([shapely.Point(10, 10), shapely.Point(13, 10)], dtype=object), np.array([0.3, 0.3])),
        plated=np.array([True, True]),
        first=np.array([1, 1], dtype=np.int32),
        last=np.array([4, 4], dtype=np.int32),
        ties=np.array([False, True]),
        hole_net=np.array([1, 0], dtype=np.int32),
    )


def _numbers(section: str, kind: str, key: str) -> list[float]:
    root = etree.fromstring(section.encode())
    return [float(one.get(key)) for one in root.iter() if one.get("class") == kind]


def test_the_cross_section_is_to_scale() -> None:
    """3 mm from via to tie with 1 mm beyond each; layers 1.5 mm apart as in the stackup."""
    section = section_svg(planes(), (*TRANSITION, Spot(13, 10, "tie")))
    middles = [
        x + width / 2
        for x, width in zip(_numbers(section, "drilled", "x"), _numbers(section, "drilled", "width"), strict=True)
    ]
    scale = (middles[1] - middles[0]) / 3
    assert _numbers(section, "drilled", "width") == pytest.approx([0.3 * scale] * 2, abs=0.2)
    tops = _numbers(section, "copper ground", "y")
    plane_tops = sorted(set(tops[:2]))
    assert plane_tops[1] - plane_tops[0] == pytest.approx((1.5 + 0.035) * scale, abs=0.2)
    assert "3.00 mm" in section


def test_the_cross_section_without_a_tie_shows_the_break_and_no_way() -> None:
    section = section_svg(planes(), TRANSITION)
    assert 'class="cross"' in section
    assert 'class="way"' not in section
    assert "Nothing takes the return current here" in section


def test_other_findings_have_no_cross_section() -> None:
    assert section_svg(planes(), (Spot(1, 1, "tie"),)) == ""
