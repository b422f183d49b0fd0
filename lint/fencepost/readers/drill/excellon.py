"""Excellon and XNC drill files."""

from __future__ import annotations

from fencepost.limits import DEFAULT_LIMITS, Limits
from fencepost.readers.artwork import DrillHits
from fencepost.readers.drill.facts import gather
from fencepost.readers.drill.grammar import read_statements
from fencepost.readers.drill.machine import Machine
from fencepost.readers.drill.settle import settle
from fencepost.settings.model import DrillClaim
from fencepost.source import SourceFile


def read_drill(source: SourceFile, claim: DrillClaim | None = None, limits: Limits = DEFAULT_LIMITS) -> DrillHits:
    """Read an Excellon or XNC drill file whole, in the order of its hits; a routed path is a row for each segment.

    `claim` is what settings say of the file; it fills gaps and may not contradict the file. Raises InputError at the
    first thing that is not understood, and where a limit is passed; where settings can cure it, the lines to paste go
    with it.

    Sources: the Excellon format 2 part program commands; Ucamco, The XNC Format Specification.
    """
    statements = read_statements(source, limits)
    facts = gather(statements)
    _, sizes = settle(source, facts, claim, limits)
    machine = Machine(facts, sizes, limits)
    machine.run(statements)
    return machine.rows.finish(machine.labels.file)
