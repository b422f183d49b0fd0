"""Fingerprints for services that take two findings of one fingerprint for one."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Iterator

from fencepost.checking.finding import Finding


def numbered(findings: Iterable[Finding]) -> Iterator[tuple[Finding, int]]:
    """Each finding with how many of the same fingerprint have come so far, itself among them."""
    seen: Counter[str] = Counter()
    for finding in findings:
        seen[finding.fingerprint] += 1
        yield finding, seen[finding.fingerprint]


def unique(package: str, finding: Finding, number: int) -> str:
    """A fingerprint that no other finding of the run has."""
    said = f"{package}\0{finding.fingerprint}\0{number}"
    return hashlib.sha256(said.encode("utf-8", "surrogatepass")).hexdigest()
