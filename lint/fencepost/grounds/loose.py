"""Copper that is connected to nothing."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from fencepost.board.model import Board, Copper, NetKind
from fencepost.board.shared import shared
from fencepost.readers.artwork import Kind

NO_CONDUCTOR = frozenset({"NonConductor", "EtchedComponent", "AntiPad", "Material", "Profile", "FiducialPad"})
"""Aperture functions of copper that is meant to be alone: text, printed parts, marks for machines."""

OTHER = frozenset({"Conductor", "Other", ""})
"""Aperture functions that say nothing of a pad; all others on a flash make it one."""


class Loose(Enum):
    """Why copper is loose. ALONE: it meets no plated hole and has no pad. APART: it is ground, it has no pin, and the
    holes that it meets lead to no other ground."""

    ALONE = "alone"
    APART = "apart"
