"""`fencepost check`: read packages, run rules, report."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fencepost.cli import completion, given
from fencepost.cli.executor import Executor, InProcess
from fencepost.cli.failing import FOUND, say
from fencepost.cli.job import LEVELS, NEVER, Answer, Job
from fencepost.cli.order import Order
from fencepost.cli.printing import print_text, write_file, write_folder
from fencepost.cli.progress import Progress
from fencepost.errors import UsageError
from fencepost.frozen import dataclass
from fencepost.parallel import cpu_count
from fencepost.report import DRAWN, FOLDERS, FORMATS, renderer

if TYPE_CHECKING:
    from fencepost.cli.known import Baselines
    from fencepost.report.result import Result

PATH = click.Path(path_type=Path)


def _names(ctx: click.Context, param: click.Parameter, values: Sequence[str]) -> tuple[str, ...]:
    """Names with commas between them."""
    names = tuple(name.strip() for value in values for name in value.split(",") if name.strip())
    if values and not names:
        raise click.BadParameter("names no rule")
    return names


def _outputs(ctx: click.Context, param: click.Parameter, values: Sequence[str]) -> list[tuple[str, Path]]:
    """FORMAT=FILE."""
    pairs = [value.partition("=") for value in values]
    known = [*FORMATS, *FOLDERS]
    for value, (kind, _, file) in zip(values, pairs, strict=True):
        if not file or kind not in known:
            raise click.BadParameter(f'"{value}" must be FORMAT=FILE with one of the formats {", ".join(known)}')
    files = [file for _, _, file in pairs]
    if len(set(files)) < len(files):
        raise click.BadParameter("two reports would be written to one file")
    return [(kind, Path(file)) for kind, _, file in pairs]


@dataclass(frozen=True)
class Manner:
    """How the check is done and told, whatever is checked."""

    kind: str
    outputs: Sequence[tuple[str, Path]]
    quiet: bool
    verbose: bool
    jobs: int
    cluster: str | None


@click.command()
@click.argument("paths", metavar="PATH...", nargs=-1, required=True, type=PATH)
@click.option("--config", metavar="FILE", type=PATH, help="Settings; else the nearest fencepost.toml.")
@click.option("--set", "keys", metavar="KEY=VALUE", multiple=True, callback=given.tables, help="A key of the settings.")
@click.option(
    "--rules", "only", metavar="A,B", multiple=True, callback=_names, shell_complete=completion.rule_names,
    help="Run these rules only.",
)  # fmt: skip
@click.option(
    "--skip", metavar="A,B", multiple=True, callback=_names, shell_complete=completion.rule_names,
    help="Run all rules but these.",
)  # fmt: skip
@click.option(
    "--format", "kind", type=click.Choice(list(FORMATS)), default="text", show_default=True, help="Report on stdout."
)
@click.option(
    "--output", "outputs", metavar="FORMAT=FILE", multiple=True, callback=_outputs, shell_complete=completion.outputs,
    help="Report to a file; may be given several times.",
)  # fmt: skip
@click.option(
    "--fail-on", type=click.Choice([*LEVELS, NEVER]),
    help="The mildest finding that makes the exit code 1; else as in the settings, or warning.",
)  # fmt: skip
@click.option("--baseline", metavar="FILE", type=PATH, help="Report only what is new against this file.")
@click.option("--write-baseline", metavar="FILE", type=PATH, help="Write all findings as known to a file.")
@click.option("--changed", is_flag=True, help="PATHs are changed files; check the packages that they belong to.")
@click.option("--jobs", metavar="N", type=click.IntRange(1, 1024), help="Packages at a time; else one a processor.")
@click.option("--cluster", metavar="ADDRESS", help="Hand the packages to a Dask cluster, as in tcp://host:8786.")
@click.option("--no-cache", is_flag=True, help="Take nothing from earlier runs, and keep nothing for later ones.")
@click.option("--show-settings", is_flag=True, help="Print the settings and where they come from; check nothing.")
@click.option("--quiet", "-q", is_flag=True, help="Print findings and errors only.")
@click.option("--verbose", "-v", is_flag=True, help="Say on stderr how long each stage took.")
def command(
    paths: Sequence[Path],
    config: Path | None,
    keys: Mapping[str, Any],
    only: tuple[str, ...],
    skip: tuple[str, ...],
    kind: str,
    outputs: Sequence[tuple[str, Path]],
    fail_on: str | None,
    baseline: Path | None,
    write_baseline: Path | None,
    changed: bool,
    jobs: int | None,
    cluster: str | None,
    no_cache: bool,
    show_settings: bool,
    quiet: bool,
    verbose: bool,
) -> int:
    """Look for faults in fabrication packages.

    PATH is a folder or a .zip file with a board's fabrication data. JSON is one object for one PATH and a list of
    objects for several; no report is made where one of them could not be read whole. The exit code is 0 where nothing
    was found at or above the fail level, 1 where something was, 2 where a package could not be checked, 3 after a
    fault of the program.
    """
    if quiet and verbose:
        raise UsageError("--quiet and --verbose contradict each other")
    if changed:
        paths = _changed(paths, quiet)
        if not paths:
            return 0
    drawn = not DRAWN.isdisjoint({kind, *(each for each, _ in outputs)})
    order = Order(datetime.date.today(), config, only, skip, fail_on, keys, drawn, cached=not no_cache)
    if show_settings:
        from fencepost.checking.registry import chosen, installed_rules
        from fencepost.cli.shown_settings import show

        rules = installed_rules()
        chosen(rules, only, skip)
        show(paths, order, rules)
        return 0
    baselines = _baselines(baseline, write_baseline)
    manner = Manner(kind, outputs, quiet, verbose, min(jobs or cpu_count(), len(paths)), cluster)
    answers = _answers([Job(path, order) for path in paths], manner)
    code = max(answer.code for answer in answers)
    results = [answer.result for answer in answers if answer.result is not None]
    if code or len(results) < len(answers):
        # A report that leaves a package out could be taken for a clean one.
        return code
    if baselines is not None:
        results = baselines.sifted(results)
    _report(results, manner)
    return FOUND if any(result.failed for result in results) else 0


def _baselines(known: Path | None, target: Path | None) -> Baselines | None:
    if known is None and target is None:
        return None
    from fencepost.cli.known import Baselines

    return Baselines.of(known, target)


def _changed(paths: Sequence[Path], quiet: bool) -> Sequence[Path]:
    from fencepost.cli.packages import packages_of

    grouped = packages_of(paths, Path.cwd())
    if not quiet:
        for note in grouped.notes:
            say(note)
    return grouped.packages


def _answers(jobs: Sequence[Job], manner: Manner) -> list[Answer]:
    """In the order of the jobs. What went wrong is said."""
    with Progress(not manner.quiet) as progress, closing(_executor(manner).run(jobs, progress.tell)) as coming:
        numbered = dict(coming)
    answers = [numbered[i] for i in range(len(jobs))]
    # A rule that does not exist is missing from every package, and is said once.
    for line in dict.fromkeys(line for answer in answers for line in answer.lines):
        say(line)
    if manner.verbose:
        for answer in answers:
            for line in _timed(answer):
                say(line)
    return answers


def _executor(manner: Manner) -> Executor:
    if manner.cluster is not None:
        from fencepost.cli.cluster import Cluster

        return Cluster(manner.cluster)
    if manner.jobs > 1:
        from fencepost.cli.several import Processes

        return Processes(manner.jobs)
    return InProcess()


def _timed(answer: Answer) -> Iterable[str]:
    for stage, seconds in answer.seconds.items():
        yield f"{answer.package}: {seconds:8.3f} s  {stage}"


def _report(results: Sequence[Result], manner: Manner) -> None:
    for each, file in manner.outputs:
        if each in FOLDERS:
            write_folder(file, import_module(FOLDERS[each]).pictures(results))
        else:
            write_file(file, renderer(each)(results))
    if manner.kind != "text":
        if not manner.quiet:
            for result in results:
                for warning in result.warnings:
                    say(f"{result.package}: warning: {warning}")
        print_text(renderer(manner.kind)(results))
    elif sys.stdout is not None and sys.stdout.isatty():
        from fencepost.report.terminal import show

        show(results, sys.stdout, manner.quiet)
    else:
        from fencepost.report import text

        print_text(text.render(results, manner.quiet))
