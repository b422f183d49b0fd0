"""`fencepost check`: read packages, run rules, report."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from time import perf_counter

import click

from fencepost.checking.finding import Severity
from fencepost.checking.registry import Rules, chosen, installed_rules
from fencepost.checking.runner import run
from fencepost.cli.failing import FOUND, NOT_CHECKED, complain, say
from fencepost.cli.opening import named_settings, open_board
from fencepost.cli.printing import print_text, write_file
from fencepost.errors import FencepostError
from fencepost.report import FORMATS, renderer
from fencepost.report.result import Result, result_of

NEVER = "never"
LEVELS = {severity.label: severity for severity in sorted(Severity, reverse=True)}


def _names(ctx: click.Context, param: click.Parameter, values: Sequence[str]) -> list[str]:
    """Names with commas between them."""
    names = [name.strip() for value in values for name in value.split(",") if name.strip()]
    if values and not names:
        raise click.BadParameter("names no rule")
    return names


def _outputs(ctx: click.Context, param: click.Parameter, values: Sequence[str]) -> list[tuple[str, Path]]:
    """FORMAT=FILE."""
    pairs = [value.partition("=") for value in values]
    for value, (kind, _, file) in zip(values, pairs, strict=True):
        if not file or kind not in FORMATS:
            raise click.BadParameter(f'"{value}" must be FORMAT=FILE with one of the formats {", ".join(FORMATS)}')
    return [(kind, Path(file)) for kind, _, file in pairs]


PATH = click.Path(path_type=Path)


@click.command()
@click.argument("paths", metavar="PATH...", nargs=-1, required=True, type=PATH)
@click.option("--config", metavar="FILE", type=PATH, help="Settings; else the nearest fencepost.toml.")
@click.option("--rules", "only", metavar="A,B", multiple=True, callback=_names, help="Run these rules only.")
@click.option("--skip", metavar="A,B", multiple=True, callback=_names, help="Run all rules but these.")
@click.option(
    "--format", "kind", type=click.Choice(list(FORMATS)), default="text", show_default=True, help="Report on stdout."
)
@click.option("--output", "outputs", metavar="FORMAT=FILE", multiple=True, callback=_outputs, help="Report to a file.")
@click.option(
    "--fail-on",
    type=click.Choice([*LEVELS, NEVER]),
    default="warning",
    show_default=True,
    help="The mildest finding that makes the exit code 1.",
)
def command(
    paths: Sequence[Path],
    config: Path | None,
    only: Sequence[str],
    skip: Sequence[str],
    kind: str,
    outputs: Sequence[tuple[str, Path]],
    fail_on: str,
) -> int:
    """Look for faults in fabrication packages.

    PATH is a folder or a .zip file with a board's fabrication data. JSON is one object for one PATH and a list of
    objects for several; no report is made where one of them could not be read whole. The exit code is 0 where nothing
    was found at or above the fail level, 1 where something was, 2 where a package could not be checked, 3 after a
    fault of the program.
    """
    rules = installed_rules()
    selected = chosen(rules, only, skip)
    results = [_check(path, config, rules, selected) for path in paths]
    checked = [result for result in results if result is not None]
    if len(checked) < len(paths):
        # A report that leaves a package out could be taken for a clean one.
        return NOT_CHECKED
    _report(checked, kind, outputs)
    return FOUND if _fails(checked, fail_on) else 0


def _check(path: Path, config: Path | None, rules: Rules, selected: Rules) -> Result | None:
    """None where the package could not be checked; the reasons are printed."""
    start = perf_counter()
    try:
        opened = open_board(path, config, rules)
        with named_settings(opened.settings_file):
            outcome = run(opened.board, selected, opened.settings)
    except FencepostError as error:
        complain(error)
        return None
    return result_of(opened.board, outcome, opened.warnings, perf_counter() - start)


def _report(results: Sequence[Result], kind: str, outputs: Sequence[tuple[str, Path]]) -> None:
    for each, file in outputs:
        write_file(file, renderer(each)(results))
    if kind != "text":
        for result in results:
            for warning in result.warnings:
                say(f"{result.package}: warning: {warning}")
    if kind == "text" and sys.stdout.isatty():
        from fencepost.report.terminal import show

        show(results, sys.stdout)
    else:
        print_text(renderer(kind)(results))


def _fails(results: Iterable[Result], fail_on: str) -> bool:
    level = LEVELS.get(fail_on)
    return level is not None and any(finding.severity >= level for result in results for finding in result.findings)
