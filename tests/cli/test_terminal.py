"""What a terminal shows: snapshots of the text report, progress, and completion in a shell."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from dataclasses import replace

import pytest
from click.shell_completion import ShellComplete

from fencepost.checking.registry import installed_rules
from fencepost.cli import commands
from fencepost.cli.progress import Progress
from fencepost.report.terminal import show
from fencepost.report.text import render
from handmade import RESULT

TEXT = """\
fab/tide-L1.gbr:412:1: warning: QSPI_IO2 goes from L1 over L2 to L4 over L3, and no ground via ties L2 to L3 within 1.50 mm [transition-return]
fab/tide-PTH.drl:88:1: note: the nearest tie is 3.42 mm away; the loop adds about 1.5 nH
fab/tide-PTH.drl:31:1: note: a 0.25/0.50 mm ground via fits at (31.95, 18.45), 0.75 mm away
fab: warning: fencepost.toml: nets.power[0]: no net fits "VBUS"
fab: assumed: ground nets by name: GND
fab: unchecked: the package has no profile [rim-pitch]
fab: 1 warning, 1 unchecked; 4 copper layers, 60.00 x 40.00 mm, 120 holes, 31 nets; 0.84 s
"""  # noqa: E501
B, Y, C, D, N = "\x1b[1m", "\x1b[1;33m", "\x1b[36m", "\x1b[2m", "\x1b[0m"
COLOURED = f"""\
{B}fab/tide-L1.gbr:412:1: {N}{Y}warning: {N}QSPI_IO2 goes from L1 over L2 to L4 over L3, and no ground via ties L2 to L3 within 1.50 mm{D} [transition-return]{N}
{B}fab/tide-PTH.drl:88:1: {N}{C}note: {N}the nearest tie is 3.42 mm away; the loop adds about 1.5 nH
{B}fab/tide-PTH.drl:31:1: {N}{C}note: {N}a 0.25/0.50 mm ground via fits at (31.95, 18.45), 0.75 mm away
{D}fab: warning: fencepost.toml: nets.power[0]: no net fits "VBUS"{N}
{D}fab: assumed: ground nets by name: GND{N}
{D}fab: unchecked: the package has no profile [rim-pitch]{N}
fab: 1 warning, 1 unchecked; 4 copper layers, 60.00 x 40.00 mm, 120 holes, 31 nets; 0.84 s
"""  # noqa: E501


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("columns", ["80", "200"])
@pytest.mark.parametrize(("colour", "expected"), [(True, COLOURED), (False, TEXT)])
def test_the_text_report_is_the_same_at_any_width_and_with_colours_where_they_are_wanted(
    monkeypatch, columns, colour, expected
):
    """Lines are left for the terminal to wrap, so that they can be searched, copied and opened."""
    for key in ("FORCE_COLOR", "NO_COLOR", "COLORTERM"):
        monkeypatch.delenv(key, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLUMNS", columns)
    if not colour:
        monkeypatch.setenv("NO_COLOR", "1")
    stream = Terminal()
    show([RESULT], stream)
    plain = stream.getvalue() if colour else stream.getvalue().replace(B, "").replace(D, "").replace(N, "")
    assert plain == expected
    assert render([RESULT]) == TEXT


def test_quiet_text_is_findings_and_what_was_not_checked():
    kept = [line for line in TEXT.splitlines() if "assumed" not in line and not line.startswith("fab: 1 ")]
    assert render([RESULT], quiet=True).splitlines() == kept
    assert render([replace(RESULT, findings=(), unchecked=(), warnings=())], quiet=True) == ""


def shown(delay_s: float, wanted: bool = True, stream=None, said: str = "fab: reading") -> str:
    stream = stream or Terminal()
    with Progress(wanted, stream, delay_s) as progress:
        progress.tell("before")
        if delay_s == 0 and progress._timer is not None:
            progress._timer.join()
        progress.tell(said)
    return stream.getvalue()


@pytest.fixture
def colours(monkeypatch) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)


def test_progress_appears_on_a_terminal_after_its_delay_and_the_cursor_comes_back(colours):
    said = shown(0)
    assert "fab: reading" in said
    assert said.rindex("\x1b[?25h") > said.rindex("\x1b[?25l")


@pytest.mark.parametrize(
    ("delay_s", "wanted", "stream"), [(3600, True, Terminal), (0, False, Terminal), (0, True, io.StringIO)]
)
def test_progress_is_silent_where_it_is_soon_over_not_wanted_or_in_a_pipe(colours, delay_s, wanted, stream):
    assert shown(delay_s, wanted, stream()) == ""


def test_names_in_the_progress_are_no_markup_and_move_nothing(colours):
    stream = Terminal()
    with Progress(True, stream, 0) as progress:
        progress.tell("[bold]x\x1b[2J\n::error::")
        progress._timer.join()
    assert "\x1b[2J" not in stream.getvalue()
    assert r"[bold]x\x1b[2J\n::error::" in stream.getvalue()


def completions(*words: str) -> list[str]:
    """What click offers for the last of these words."""
    asked = ShellComplete(commands, {}, "fencepost", "_FENCEPOST_COMPLETE")
    return [item.value for item in asked.get_completions(list(words[:-1]), words[-1])]


def test_a_shell_completes_commands_rules_and_formats():
    names = list(installed_rules())
    assert {"check", "explain", "rules"} <= set(completions(""))
    assert completions("explain", "") == names
    assert completions("check", "--rules", "fence") == [name for name in names if name.startswith("fence")]
    assert completions("check", "--skip", f"{names[0]},") == [f"{names[0]},{name}" for name in names[1:]]
    assert {"sarif", "junit"} <= set(completions("check", "--format", ""))
    assert "sarif=" in completions("check", "--output", "s")


def test_the_script_for_a_shell_is_click_s_own():
    environment = {**os.environ, "_FENCEPOST_COMPLETE": "zsh_source"}
    done = subprocess.run(
        [sys.executable, "-m", "fencepost"], env=environment, capture_output=True, text=True, check=True
    )
    assert done.stdout.startswith("#compdef fencepost")
