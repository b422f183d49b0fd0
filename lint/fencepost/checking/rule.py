"""What a rule is.

A rule is one class in one module. Its docstring is the page that `fencepost explain` prints: what goes wrong, what is
measured, the formula with its source, how to fix it, how to tune it. `Options` are its settings, typed and documented.

    class MyRule(Rule):
        \"\"\"...\"\"\"
        name = "my-rule"
        summary = "finds ..."
        severity = Severity.WARNING

        class Options(RuleOptions, frozen=True, kw_only=True):
            distance: Annotated[Length, Meta(description="...")] = Length(1.5)

        def check(self, board, options, settings):
            yield self.finding(...)
"""

from __future__ import annotations

import inspect
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from typing import Annotated, Any, ClassVar

import msgspec

from fencepost.board.model import Board
from fencepost.checking.evidence import Shape
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Suggestion, Unchecked
from fencepost.placement.need import Need
from fencepost.settings.model import Settings


class RuleOptions(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The settings that every rule has. A rule's own come in a subclass named `Options`."""

    severity: Annotated[
        Severity | None, msgspec.Meta(description="error, warning or note instead of the rule's own")
    ] = None


class Rule(ABC):
    """One thing to look for. Rules do not know of one another and keep no state between boards."""

    name: ClassVar[str]
    summary: ClassVar[str]
    severity: ClassVar[Severity] = Severity.WARNING
    version: ClassVar[int] = 1
    """Raised whenever the same board would get other findings."""
    long: ClassVar[bool] = False
    """Takes longer than the others on most boards: it is begun first where several processes share the work."""

    Options: ClassVar[type[RuleOptions]] = RuleOptions

    drawn: bool = True
    """Whether a report will draw what findings were judged by; the runner says so."""

    @abstractmethod
    def check(self, board: Board, options: Any, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Yield what is wrong with the board, and an `Unchecked` for whatever could not be looked at."""

    @classmethod
    def page(cls) -> str:
        """The rule's documentation, as written in its docstring."""
        return inspect.cleandoc(cls.__doc__ or cls.summary)

    def finding(
        self,
        message: str,
        place: Place,
        *,
        severity: Severity | None = None,
        layers: tuple[str, ...] = (),
        nets: tuple[str, ...] = (),
        measured: Figure | None = None,
        limit: Figure | None = None,
        remarks: tuple[Remark, ...] = (),
        suggestion: Suggestion | None = None,
        mend: tuple[Need, ...] = (),
        evidence: tuple[Shape, ...] | Callable[[], tuple[Shape, ...]] = (),
    ) -> Finding:
        """A finding of this rule, of its own severity unless another is given.

        Evidence that takes time to make is given as a function, which is called only where it will be drawn.
        """
        if callable(evidence):
            evidence = evidence() if self.drawn else ()
        return Finding(
            self.name, severity or self.severity, message, place,
            layers, nets, measured, limit, remarks, suggestion, mend, evidence,
        )  # fmt: skip

    def unchecked(self, reason: str) -> Unchecked:
        """What this rule could not look at, and why."""
        return Unchecked(self.name, reason)
