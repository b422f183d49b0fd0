"""The text report, held against the design's contract by a parser written from the design."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.text import Text

from fencepost.checking.finding import Finding, Remark, Severity, Suggestion, Unchecked
from fencepost.report import FORMATS, renderer
from fencepost.report.terminal import show
from fencepost.report.text import millimetres
from handmade import FINDING, RESULT, place

DESIGN = """\
fab/tide-L1.gbr:412:1: warning: QSPI_IO2 goes from L1 over L2 to L4 over L3, and no ground via ties L2 to L3 within 1.50 mm [transition-return]
fab/tide-PTH.drl:88:1: note: the nearest tie is 3.42 mm away; the loop adds about 1.5 nH
fab/tide-PTH.drl:31:1: note: a 0.25/0.50 mm ground via fits at (31.95, 18.45), 0.75 mm away
"""  # noqa: E501
"""The example of the design, to the letter."""

LINE = re.compile(
    r"(?P<file>[^:\n]+):(?P<line>\d+):(?P<column>\d+): (?P<severity>error|warning|note): "
    r"(?P<message>.*?)(?: \[(?P<rule>[a-z][a-z0-9-]*)\])?"
)
HOSTILE = "N\x1b[31m\n\u202e[bold]::\r"

render = renderer("text")


def finding_lines(text: str) -> list[re.Match[str]]:
    return [match for line in text.splitlines() if (match := LINE.fullmatch(line))]


def test_the_design_s_example_is_printed_to_the_letter():
    assert render([RESULT]).startswith(DESIGN)


def test_after_the_findings_come_the_asides_and_one_line_of_summary():
    rest = render([RESULT])[len(DESIGN) :].splitlines()
    assert rest == [
        'fab: warning: fencepost.toml: nets.power[0]: no net fits "VBUS"',
        "fab: assumed: ground nets by name: GND",
        "fab: unchecked: the package has no profile [rim-pitch]",
        "fab: 1 warning, 1 unchecked; 4 copper layers, 60.00 x 40.00 mm, 120 holes, 31 nets; 0.84 s",
    ]


def test_a_clean_board_is_one_line():
    clean = replace(RESULT, findings=(), assumptions=(), unchecked=(), warnings=())
    assert render([clean]) == "fab: no findings; 4 copper layers, 60.00 x 40.00 mm, 120 holes, 31 nets; 0.84 s\n"


def test_several_packages_share_one_summary():
    error = replace(FINDING, severity=Severity.ERROR)
    other = replace(RESULT, package="other", findings=(error, FINDING, FINDING), elapsed_s=1.2)
    text = render([RESULT, other])
    assert [match["severity"] for match in finding_lines(text) if match["rule"]] == [
        "warning",
        "error",
        "warning",
        "warning",
    ]
    assert text.splitlines()[-1] == "2 packages: 1 error, 3 warnings, 2 unchecked; 2.04 s"
    assert text.count(": assumed: ") == 2


words = st.text(st.characters(exclude_characters="[]"), max_size=20)


@given(message=words, net=words, severity=st.sampled_from(Severity), remarks=st.lists(words, max_size=3))
def test_every_finding_is_a_line_and_every_remark_a_note_whatever_the_names_hold(message, net, severity, remarks):
    finding = Finding(
        "some-rule",
        severity,
        f"net {net}: {message}!",
        place(7),
        remarks=tuple(Remark(f"{text}.", place(9)) for text in remarks),
    )
    text = render([replace(RESULT, findings=(finding,))])
    first, *notes = finding_lines(text)
    assert (first["file"], first["line"], first["severity"], first["rule"]) == (
        "fab/a.gbr",
        "7",
        severity.label,
        "some-rule",
    )
    assert [(note["line"], note["severity"], note["rule"]) for note in notes] == [("9", "note", None)] * len(remarks)


def hostile_result():
    where = replace(place(), location=replace(place().location, file=f"fab/{HOSTILE}.gbr"))
    finding = Finding(
        HOSTILE, Severity.ERROR, HOSTILE, where, remarks=(Remark(HOSTILE, where),), suggestion=FINDING.suggestion
    )
    return replace(
        RESULT,
        package=f"::error::{HOSTILE}",
        assumptions=(HOSTILE,),
        findings=(finding,),
        unchecked=(Unchecked(HOSTILE, HOSTILE),),
        warnings=(HOSTILE,),
    )


@pytest.mark.parametrize("name", sorted(set(FORMATS) - {"github"}))
def test_no_report_prints_what_a_terminal_or_a_build_s_log_would_obey(name):
    text = renderer(name)([hostile_result(), hostile_result()])
    assert [char for char in text if not char.isprintable() and char != "\n"] == []
    assert [line for line in text.splitlines() if line.lstrip().startswith("::")] == []
    assert "x1b" in text or "u001b" in text


def test_on_a_terminal_the_text_is_the_same_and_markup_stays_text(monkeypatch):
    """Reference: rich's own decoder takes the colours away again."""
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    stream = io.StringIO()
    show([hostile_result(), RESULT], stream)
    coloured = stream.getvalue()
    assert coloured.count("\x1b[") > 10
    assert Text.from_ansi(coloured).plain.rstrip("\n") == render([hostile_result(), RESULT]).rstrip("\n")
    assert set(re.findall(r"\x1b(.[^a-zA-Z]*[a-zA-Z])", coloured)) <= {"[1m", "[0m", "[1;31m", "[1;33m", "[36m", "[2m"}


def test_without_colours_a_terminal_gets_the_plain_text(monkeypatch):
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    stream = io.StringIO()
    show([RESULT], stream)
    assert stream.getvalue() == render([RESULT])


@pytest.mark.parametrize(
    ("value", "text"),
    [(31.95, "31.95"), (31.9549, "31.955"), (60, "60.00"), (0.0004, "0.00"), (-0.0004, "0.00"), (-1.5, "-1.50")],
)
def test_positions_are_given_to_a_micrometre(value, text):
    assert millimetres(value) == text


def test_a_suggestion_without_a_hole_of_its_own_stands_at_the_finding():
    via = Suggestion(32.2, 18.45, 0.2, 0.45, ("L1", "L4"))
    text = render([replace(RESULT, findings=(replace(FINDING, remarks=(), suggestion=via),))])
    said = "fab/tide-L1.gbr:412:1: note: a 0.20/0.45 mm ground via fits at (32.20, 18.45), 1.00 mm away"
    assert text.splitlines()[1] == said
