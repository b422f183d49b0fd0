"""What is asked for on the command line, for all packages alike."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import field
from pathlib import Path
from typing import Any

from fencepost.frozen import dataclass


@dataclass(frozen=True)
class Order:
    """`fail_on` is None where the settings decide.

    `drawn`: a report will draw the board, so that the result must hold its drawing. `cached`: what an earlier run
    found may be taken, and what is found is kept.
    """

    today: datetime.date
    config: Path | None = None
    only: tuple[str, ...] = ()
    skip: tuple[str, ...] = ()
    fail_on: str | None = None
    given: Mapping[str, Any] = field(default_factory=dict)
    drawn: bool = False
    cached: bool = False
