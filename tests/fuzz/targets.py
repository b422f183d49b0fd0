"""What is fuzzed: a reader for each format and whole packages, with files to begin from, and what may come of it."""

from __future__ import annotations

import tempfile
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from fencepost.board.from_ipc2581 import sources_from_ipc2581
from fencepost.board.load import load_board
from fencepost.errors import FencepostError, InputError
from fencepost.intake import open_package, package_from
from fencepost.readers.drill.excellon import read_drill
from fencepost.readers.drill.gerber import hits_from_artwork
from fencepost.readers.gerber import read_gerber
from fencepost.readers.jobfile import read_job
from fencepost.readers.testnet.reader import read_testnet
from fencepost.settings.load import load_settings
from fencepost.settings.model import DrillClaim, Settings
from fencepost.source import SourceFile
from fuzz import samples
from fuzz.mutation import packed, unpacked
from fuzz.sound import check_artwork, check_error, check_hits, check_netlist, check_sources

READ, REFUSED = "read", "refused"


@dataclass(frozen=True)
class Target:
    """`read` takes the bytes of one input, starting from which `originals` are damaged.

    It raises FencepostError for what it refuses, and AssertionError for a result that cannot be. `whole`: an input is
    one file, so that the place of an error must be in it.
    """

    originals: tuple[bytes, ...]
    read: Callable[[bytes], object]
    whole: bool = True


def outcome(target: Target, data: bytes) -> str:
    """READ, or REFUSED where an error for the user says why. Whatever else is raised is a defect and goes on."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            target.read(data)
        except FencepostError as error:
            check_error(error, data if target.whole else None)
            return REFUSED
    return READ


@cache
def targets() -> dict[str, Target]:
    """By name."""
    job, xml = samples.named(".gbrjob"), samples.small_board().ipc2581(forms="older", units="inch")
    everything = samples.GERBER_OF_EVERYTHING
    return {
        "gerber": Target((everything, everything, *samples.named(".gbr")), _gerber),
        "drill": Target((samples.DRILL_OF_EVERYTHING, *samples.named(".drl")), _drill),
        "testnet": Target(samples.named(".ipc"), _testnet),
        "ipc2581": Target((*samples.named(".xml"), xml), _ipc2581),
        "job": Target(job, _job),
        "settings": Target((samples.SETTINGS,), _settings, whole=False),
        "archive": Target(tuple(map(samples.archive_of, samples.packages())), _archive, whole=False),
        "board": Target(tuple(map(packed, samples.packages())), _board, whole=False),
    }


def _gerber(data: bytes) -> None:
    artwork = read_gerber(SourceFile("a.gbr", data))
    check_artwork(artwork)
    try:
        hits = hits_from_artwork(artwork)
    except InputError as error:
        check_error(error, data)  # a layer that is no drill file
    else:
        check_hits(hits)


def _drill(data: bytes) -> None:
    """A file that leaves its format open is read with settings that say it."""
    source = SourceFile("a.drl", data)
    try:
        check_hits(read_drill(source))
    except InputError as error:
        if not error.cure:
            raise
        claim = DrillClaim(plated=True, unit="mm", digits=(3, 3), zeros="trailing")
        check_hits(read_drill(source, claim))


def _testnet(data: bytes) -> None:
    check_netlist(read_testnet(SourceFile("a.ipc", data)))


def _ipc2581(data: bytes) -> None:
    check_sources(sources_from_ipc2581("a", SourceFile("a.xml", data), Settings()))


def _job(data: bytes) -> None:
    read_job(SourceFile("a.gbrjob", data))


def _settings(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "fencepost.toml"
        file.write_bytes(data)
        load_settings(file)


def _archive(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "fab.zip"
        file.write_bytes(data)
        open_package(file)


def _board(data: bytes) -> None:
    load_board(package_from("board", unpacked(data)), Settings())
