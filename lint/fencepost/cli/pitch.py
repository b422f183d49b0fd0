"""`fencepost pitch`: the calculator at the desk. No board is read, and nothing heavy is imported for a thin post."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from typing import Any

import click

from fencepost._version import VERSION
from fencepost.cli.printing import print_text
from fencepost.errors import UsageError
from fencepost.frozen import dataclass
from fencepost.physics.grid import HIGHEST_DB, THIN, endless_isolation, is_thin
from fencepost.physics.rim import fenced_resonance, gaps_along, open_resonance, rim_posts
from fencepost.physics.waves import frequency_for, pitch_for, wavelength
from fencepost.units import Frequency, Length, with_prefix

SCHEMA = "fencepost/pitch/1"

DIELECTRIC_CONSTANT = 4.3
FRACTION = 8.0
DIAMETER_MM = 0.3
LEAST_GAPS = 4
"""Gaps along a side of a board. All of these are common practice, no source."""

SAME = 1e-4
"""Figures are given with four digits: what differs by less is the same."""

_SIDES = re.compile(r"\s*([\d.]+)\s*([^\d\s.x×]*)\s*[x×]\s*([\d.]+)\s*([^\d\s.]\S*)\s*")


def _read(reader: Callable[[Any], Any]) -> Callable[[click.Context, click.Parameter, Any], Any]:
    """A callback that reads an option where it is given; what the reader refuses is an error of usage."""

    def callback(ctx: click.Context, param: click.Parameter, value: Any) -> Any:
        try:
            return None if value is None else reader(value)
        except ValueError as error:
            raise click.BadParameter(str(error)) from error

    return callback


def _length(text: str) -> float:
    return _between(Length.parse(text), 1e-3, 1e4, " mm")


def _frequency(text: str) -> float:
    return _between(Frequency.parse(text), 1e3, 1e12, " Hz")


def _board(text: str) -> tuple[float, float]:
    """`60 x 40 mm`, or each side with a unit of its own."""
    match = _SIDES.fullmatch(text)
    if match is None:
        raise ValueError(f'"{text}" is not a width and a height with a unit; write them as "60 x 40 mm"')
    width, unit, height, last = match.groups()
    return _length(f"{width} {unit or last}"), _length(f"{height} {last}")


def _constant(value: float) -> float:
    return _between(value, 1, 1000)


def _fraction(value: float) -> float:
    return _between(value, 2, 1000)


def _between(value: float, least: float, most: float, unit: str = "") -> float:
    """Refuses what no board has, and what is not a number."""
    if not least <= value <= most:
        raise ValueError(f"{value:g}{unit} must be from {least:g} to {most:g}{unit}")
    return float(value)


@dataclass(frozen=True)
class Question:
    """What was asked, in Hz and mm; None where it was not given."""

    frequency: float | None
    pitch: float | None
    dielectric_constant: float | None
    diameter: float | None
    fraction: float | None
    board: tuple[float, float] | None


@dataclass(frozen=True)
class Answer:
    """In Hz, mm and dB; None where there is nothing to say. Field names are the keys of the JSON."""

    frequency_hz: float
    wavelength_mm: float
    pitch_mm: float
    largest_pitch_mm: float | None
    highest_frequency_hz: float | None
    isolation_db: float | None
    dielectric_constant: float
    fraction: float
    diameter_mm: float | None
    board_mm: tuple[float, float] | None
    rim_posts: int | None
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]


_CONSTANT = f"Between the planes; {DIELECTRIC_CONSTANT:g} unless given."
_DIAMETER = f"Of the drilled posts; {DIAMETER_MM:g} mm unless given."
_FRACTION = f"A gap is at most a wavelength divided by this; {FRACTION:g} unless given."
_BOARD = 'Width and height, as "60 x 40 mm": how many posts stand round its rim.'


@click.command()
@click.option("--frequency", metavar="QUANTITY", callback=_read(_frequency), help="The highest in use.")
@click.option("--pitch", metavar="QUANTITY", callback=_read(_length), help="From centre to centre.")
@click.option("--dielectric-constant", metavar="NUMBER", type=float, callback=_read(_constant), help=_CONSTANT)
@click.option("--diameter", metavar="QUANTITY", callback=_read(_length), help=_DIAMETER)
@click.option("--fraction", metavar="NUMBER", type=float, callback=_read(_fraction), help=_FRACTION)
@click.option("--board", metavar="SIZE", callback=_read(_board), help=_BOARD)
@click.option("--format", "kind", type=click.Choice(["text", "json"]), default="text", help="What is printed.")
def command(
    frequency: float | None,
    pitch: float | None,
    dielectric_constant: float | None,
    diameter: float | None,
    fraction: float | None,
    board: tuple[float, float] | None,
    kind: str,
) -> None:
    """Work out the pitch of a fence of ground vias, without a board.

    A frequency asks for a pitch, and a pitch holds up to a frequency: give either, or both for the isolation of a long
    fence. Quantities carry their unit: "868 MHz", "2 mm", "80 mil".
    """
    if frequency is None and pitch is None:
        raise UsageError('give --frequency, as in --frequency "868 MHz", or --pitch, as in --pitch "2 mm", or both')
    question = Question(frequency, pitch, dielectric_constant, diameter, fraction, board)
    try:
        answer = work_out(question)
    except ValueError as error:
        raise UsageError(str(error)) from error
    print_text(as_json(answer) if kind == "json" else "".join(f"{line}\n" for line in as_text(question, answer)))


def work_out(question: Question) -> Answer:
    """Raises ValueError for posts as thick as their pitch, and where neither frequency nor pitch is given."""
    permittivity = question.dielectric_constant or DIELECTRIC_CONSTANT
    fraction = question.fraction or FRACTION
    largest = highest = None
    if question.frequency is not None:
        largest = pitch_for(question.frequency, permittivity, fraction)
    if question.pitch is not None:
        highest = frequency_for(question.pitch, permittivity, fraction)
    frequency, pitch = question.frequency or highest, question.pitch or largest
    if frequency is None or pitch is None:
        raise ValueError("neither a frequency nor a pitch is given")
    length = wavelength(frequency, permittivity)
    isolation = diameter = None
    if question.frequency is not None and question.pitch is not None and pitch < length:
        diameter = question.diameter or DIAMETER_MM
        isolation = endless_isolation(pitch, diameter, frequency, permittivity)
    return Answer(
        frequency_hz=frequency,
        wavelength_mm=length,
        pitch_mm=pitch,
        largest_pitch_mm=largest,
        highest_frequency_hz=highest,
        isolation_db=isolation,
        dielectric_constant=permittivity,
        fraction=fraction,
        diameter_mm=diameter,
        board_mm=question.board,
        rim_posts=rim_posts(*question.board, pitch) if question.board else None,
        cautions=tuple(_cautions(question, frequency, pitch, length, largest, permittivity)),
        assumptions=tuple(_assumptions(question, pitch, diameter)),
    )


def _cautions(
    question: Question, frequency: float, pitch: float, length: float, largest: float | None, permittivity: float
) -> Iterator[str]:
    """Why the pitch does not do, for the frequency or for the board."""
    hertz = with_prefix(frequency, "Hz")
    if pitch >= length:
        yield f"too coarse for {hertz}: gaps of a wavelength, {_mm(length)}, or more are no fence at all"
    elif largest is not None and pitch > largest * (1 + SAME):
        yield f"too coarse for {hertz}: {_mm(pitch)} is more than {_mm(largest)}; the fence leaks"
    if question.board is None:
        return
    shorter = min(question.board)
    gaps = gaps_along(shorter, pitch)
    if gaps < LEAST_GAPS:
        yield (
            f"too coarse for the board: its side of {shorter:g} mm has only {_gaps(gaps)}; "
            f"{_mm(shorter / LEAST_GAPS)} or less gives it {LEAST_GAPS} (common practice, no source)"
        )
    bare, fenced = (find(*question.board, permittivity) for find in (open_resonance, fenced_resonance))
    if frequency >= fenced:
        yield (
            f"a rim alone does not hold up to {hertz}: the planes within it resonate from "
            f"{with_prefix(fenced, 'Hz')} on, whatever its pitch; tie them all over the board, as close as the pitch"
        )
    elif frequency >= bare:
        yield (
            f"without a rim the planes resonate from {with_prefix(bare, 'Hz')} on; one that holds moves this up to "
            f"{with_prefix(fenced, 'Hz')}"
        )


def _assumptions(question: Question, pitch: float, diameter: float | None) -> Iterator[str]:
    practice = "(common practice, no source)"
    if question.dielectric_constant is None:
        yield f"a dielectric constant of {DIELECTRIC_CONSTANT:g} {practice}"
    if question.fraction is None:
        yield f"gaps of a wavelength divided by {FRACTION:g} at most {practice}"
    if diameter is not None:
        if question.diameter is None:
            yield f"posts of {DIAMETER_MM:g} mm {practice}"
        how = (
            "by the relation for thin posts (Marcuvitz, 1951), up to 0.4 dB above the exact figure"
            if is_thin(pitch, diameter)
            else f"solved, as posts thicker than {THIN:g} of the pitch are too thick for the relation for thin ones"
        )
        yield f"isolation of an endless fence between two planes, a wave square on to it: {how}"
    if question.board is not None:
        yield "posts of the rim on the outline itself, one at each corner"


def as_json(answer: Answer) -> str:
    """One object on one line; numbers to nine digits, null where there is nothing to say."""
    values = {key: _rounded(value) for key, value in vars(answer).items()}
    return json.dumps({"schema": SCHEMA, "version": VERSION, **values}, allow_nan=False) + "\n"


def _rounded(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_rounded(each) for each in value]
    return float(f"{value:.9g}") if isinstance(value, float) else value


def as_text(question: Question, answer: Answer) -> Iterator[str]:
    """A line for each thing asked, then what was assumed, then why the pitch does not do."""
    rows = list(_rows(question, answer))
    wide = max(len(label) for label, _ in rows)
    yield from (f"{label:<{wide}}  {said}" for label, said in rows)
    if answer.assumptions:
        yield ""
        yield "assumed"
        yield from (f"  {line}" for line in answer.assumptions)
    if answer.cautions:
        yield ""
        yield from (f"caution: {line}" for line in answer.cautions)


def _rows(question: Question, answer: Answer) -> Iterator[tuple[str, str]]:
    if question.frequency is not None:
        yield "frequency", with_prefix(answer.frequency_hz, "Hz", 4)
    if question.pitch is not None:
        yield "pitch", _mm(answer.pitch_mm)
    if answer.largest_pitch_mm is not None:
        yield "largest pitch", _mm(answer.largest_pitch_mm)
    if answer.highest_frequency_hz is not None:
        yield "highest frequency", with_prefix(answer.highest_frequency_hz, "Hz", 4)
    yield "wavelength", f"{_mm(answer.wavelength_mm)} at a dielectric constant of {answer.dielectric_constant:g}"
    if answer.isolation_db is not None:
        more = " or more" if answer.isolation_db >= HIGHEST_DB else ""
        yield "isolation", f"{answer.isolation_db:.1f} dB{more}, posts of {answer.diameter_mm:g} mm"
    elif question.frequency is None or question.pitch is None:
        yield "isolation", "asks for both a frequency and a pitch"
    if answer.board_mm is not None and answer.rim_posts is not None:
        along = (f"{_gaps(gaps_along(side, answer.pitch_mm))} along {side:g} mm" for side in answer.board_mm)
        yield "rim", f"{answer.rim_posts} posts: {', '.join(along)}"


def _mm(length: float) -> str:
    return f"{length:.0f} mm" if length >= 1000 else f"{length:.4g} mm"


def _gaps(count: int) -> str:
    return f"{count} gap{'' if count == 1 else 's'}"
