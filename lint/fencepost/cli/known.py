"""Baselines on the command line: reading one, or writing one."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from fencepost.checking.baseline import Baseline, read_baseline, sift, written
from fencepost.checking.finding import Finding
from fencepost.cli.failing import say
from fencepost.cli.printing import write_file
from fencepost.errors import UsageError
from fencepost.frozen import dataclass
from fencepost.report.result import Result
from fencepost.report.text import counted
from fencepost.settings.load import shown_path


@dataclass(frozen=True)
class Baselines:
    """What is known, or where to write what is known from now on."""

    folder: Path
    known: Baseline | None
    target: Path | None

    @classmethod
    def of(cls, known: Path | None, target: Path | None) -> Baselines:
        """Raises InputError for a file that is no baseline, before any package is checked, and UsageError for both."""
        if known is not None and target is not None:
            raise UsageError("give --baseline to use one or --write-baseline to write one")
        place = known or target or Path()
        baseline = read_baseline(known, shown_path(known)) if known is not None else None
        return cls(place.parent, baseline, target)

    def sifted(self, results: Sequence[Result]) -> list[Result]:
        """The results without what is known. Writes the file where one is asked for; raises OSError."""
        names = [self._name(result) for result in results]
        if self.target is not None:
            self._write(results, names)
            return [replace(result, findings=(), known=len(result.findings)) for result in results]
        assert self.known is not None
        return [self._sift(self.known, result, name, names) for result, name in zip(results, names, strict=True)]

    def _name(self, result: Result) -> str:
        """The package from the folder of the file, so that it is the same from whatever folder the check is run."""
        try:
            return Path(os.path.relpath(result.package, self.folder)).as_posix()
        except ValueError:  # On another drive.
            return result.package

    def _sift(self, known: Baseline, result: Result, name: str, names: Sequence[str]) -> Result:
        ran = {rule.name for rule in result.rules}
        sifted = sift(result.findings, [one for one in known.of(name, names) if one.rule in ran])
        said = f"the baseline knows {counted(sifted.gone, 'finding')} more, gone by now; --write-baseline drops them"
        warnings = (*result.warnings, said) if sifted.gone else result.warnings
        return replace(result, findings=sifted.new, known=sifted.known, warnings=warnings)

    def _write(self, results: Sequence[Result], names: Sequence[str]) -> None:
        assert self.target is not None
        packages: dict[str, tuple[Finding, ...]] = {}
        for result, name in zip(results, names, strict=True):
            packages[name] = result.findings
        write_file(self.target, written(packages))
        total = sum(map(len, packages.values()))
        known = f"{counted(total, 'finding')} of {counted(len(packages), 'package')}"
        say(f"{shown_path(self.target)}: note: {known} known from now on")
