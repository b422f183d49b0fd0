"""Who checks the packages: this process, several of this machine, or a cluster. Each is an `Executor`."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from typing import Protocol

from fencepost.cli.job import Answer, Job, Tell, check_package

Numbered = tuple[int, Answer]


class Executor(Protocol):
    """Does jobs, in any order, and leaves nothing running behind when it ends or is stopped half way."""

    def run(self, jobs: Sequence[Job], tell: Tell) -> Generator[Numbered, None, None]:
        """An answer for each job as soon as it is there, with the job's number. `tell` hears what is being done."""
        ...


class InProcess:
    """One after another, in this process."""

    def run(self, jobs: Sequence[Job], tell: Tell) -> Generator[Numbered, None, None]:
        for i, job in enumerate(jobs):
            yield i, check_package(job, lambda stage, job=job: tell(f"{job.shown}: {stage}"))  # type: ignore[misc]
