"""A pack of rules on disk, as if it were installed, for tests that start processes of their own."""

from __future__ import annotations

import os
from pathlib import Path

RULE = """
import os, pathlib, time
from fencepost.checking.finding import Severity
from fencepost.checking.rule import Rule

class Rule(Rule):
    \"\"\"Page.\"\"\"
    name = "odd-one"
    summary = "does what it is told to"
    def check(self, board, options, settings):
{body}
        return ()
"""


def installed(folder: Path, body: str) -> dict[str, str]:
    """An environment in which the rule `odd-one` is installed, with this body."""
    indented = "".join(f"        {line}\n" for line in body.splitlines())
    (folder / "odd_pack.py").write_text(RULE.format(body=indented))
    meta = folder / "odd_pack-1.0.dist-info"
    meta.mkdir()
    (meta / "METADATA").write_text("Metadata-Version: 2.1\nName: odd-pack\nVersion: 1.0\n")
    (meta / "entry_points.txt").write_text("[fencepost.rules]\nodd = odd_pack\n")
    path = os.pathsep.join(filter(None, (str(folder), os.environ.get("PYTHONPATH"))))
    return {**os.environ, "PYTHONPATH": path}
