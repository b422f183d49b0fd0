"""What the rules said of a package, as bytes and back, under a key that changes with all that it depends on."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace

import msgspec

from fencepost.caching.keys import content, digest, environment, program, rule_packs
from fencepost.caching.store import Store
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Suggestion, Unchecked
from fencepost.intake import Package
from fencepost.report.result import BoardSummary, Judgement, RuleInfo
from fencepost.settings.load import Loaded


class _Finding(msgspec.Struct, frozen=True, array_like=True):
    """All of a finding that is printed; its evidence is drawn only, and its needs have been seen to."""

    rule: str
    severity: Severity
    message: str
    place: Place
    layers: tuple[str, ...]
    nets: tuple[str, ...]
    measured: Figure | None
    limit: Figure | None
    remarks: tuple[Remark, ...]
    suggestion: Suggestion | None


class _Judgement(msgspec.Struct, frozen=True, array_like=True):
    """A judgement without a drawing."""

    board: BoardSummary
    assumptions: tuple[str, ...]
    findings: tuple[_Finding, ...]
    unchecked: tuple[Unchecked, ...]
    warnings: tuple[str, ...]
    rules: tuple[RuleInfo, ...]


def judgement_key(package: Package, loaded: Loaded, only: Iterable[str], skip: Iterable[str]) -> str:
    """Of every input and of all that works on it: files and their names, settings and where they stand, rules, code."""
    files = [part for entry in package.files for part in (entry.source.name, entry.kind.value, content(entry.source))]
    settings = (loaded.file, repr(loaded.tables), repr(sorted(loaded.origins.places.items())))
    asked = (repr(sorted(set(only))), repr(sorted(set(skip))))
    return digest(["judgement", program(), rule_packs(), environment(), package.name, *settings, *asked, *files])


def kept_judgement(store: Store, key: str) -> Judgement | None:
    """The judgement under a key. No time was spent on its rules."""
    data = store.get(key)
    if data is not None:
        with suppress(msgspec.MsgspecError, UnicodeDecodeError):
            return decoded(data)
    return None


def keep_judgement(store: Store, key: str, judgement: Judgement) -> None:
    """Put it there, unless a name in it is no text that could be written."""
    with suppress(UnicodeEncodeError):
        store.put(key, encoded(judgement))


def encoded(judgement: Judgement) -> bytes:
    """Everything of a judgement but its drawing, the evidence of findings, and times. Raises UnicodeEncodeError."""
    names = _Finding.__struct_fields__
    kept = _Judgement(
        judgement.board,
        judgement.assumptions,
        tuple(_Finding(*(getattr(finding, name) for name in names)) for finding in judgement.findings),
        judgement.unchecked,
        judgement.warnings,
        tuple(replace(rule, seconds=0.0) for rule in judgement.rules),
    )
    return msgspec.msgpack.encode(kept, enc_hook=float)  # A limit may be a length or a frequency out of the settings.


def decoded(data: bytes) -> Judgement:
    """The judgement again. Raises MsgspecError where the data are not those of one."""
    kept = msgspec.msgpack.decode(data, type=_Judgement)
    findings = (Finding(*msgspec.structs.astuple(finding)) for finding in kept.findings)
    return Judgement(kept.board, kept.assumptions, tuple(findings), kept.unchecked, kept.warnings, kept.rules)
