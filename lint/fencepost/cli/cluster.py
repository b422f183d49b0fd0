"""Packages handed to a Dask cluster. Needs `pip install "fencepost[cluster]"`, here and on the workers.

Files are read here and sent along, so that the workers need none of this machine's folders.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from typing import Any

from fencepost._version import VERSION
from fencepost.cli.executor import Numbered
from fencepost.cli.failing import FAULT, told
from fencepost.cli.job import Answer, Job, Tell, check_package, packed
from fencepost.errors import FencepostError, UsageError

TIMEOUT = "15s"


class Cluster:
    """The cluster whose scheduler is at an address, as in `tcp://10.0.0.5:8786`."""

    def __init__(self, address: str) -> None:
        self._address = address

    def run(self, jobs: Sequence[Job], tell: Tell) -> Generator[Numbered, None, None]:
        """Raises UsageError where nobody answers at the address."""
        distributed = _library()
        try:
            client = distributed.Client(self._address, timeout=TIMEOUT, set_as_default=False)
        except (OSError, ValueError) as error:
            raise UsageError(f"--cluster {self._address}: {error}") from None
        futures: dict[Any, int] = {}
        try:
            for i, job in enumerate(jobs):
                try:
                    parcel = packed(job)
                except FencepostError as error:
                    code, lines = told(error)
                    yield i, Answer(job.shown, None, code, lines)
                else:
                    # Another run may ask for the same job, and this one must not get its answer.
                    futures[client.submit(check_package, parcel, pure=False)] = i
            tell(f"{len(futures)} packages on the cluster")
            with client.as_current():
                done = distributed.as_completed(list(futures))
            for future in done:
                yield futures[future], _answer(future, jobs[futures[future]])
        finally:
            client.cancel(list(futures))
            client.close()


def _library() -> Any:
    try:
        import distributed
    except ImportError:
        raise UsageError('--cluster needs the package distributed: pip install "fencepost[cluster]"') from None
    return distributed


def _answer(future: Any, job: Job) -> Answer:
    error = future.exception()
    if error is not None:
        return Answer(job.shown, None, FAULT, (f"{job.shown}: fault: the cluster lost it: {error}",))
    answer: Answer = future.result()
    theirs = answer.result.version if answer.result else VERSION
    if theirs != VERSION:
        said = f"{job.shown}: fault: a worker of the cluster has fencepost {theirs}, and this is {VERSION}"
        return Answer(job.shown, None, FAULT, (said,))
    return answer
