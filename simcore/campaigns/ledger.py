"""What a campaign asks of a ledger, wherever that keeps its blocks.

A ledger keeps finished blocks of runs under the identity of what was simulated.  Campaigns know this
contract alone; files are the business of those who read and write them.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol

from simcore.judging.tally import Tally


class Span(NamedTuple):
    """``runs`` runs from run number ``first`` on."""

    first: int
    runs: int

    @property
    def end(self) -> int:
        """The run after the last."""
        return self.first + self.runs


class Ledger(Protocol):
    """Keeps tallies of spans of runs, cell by cell."""

    def spans(self, identity: str) -> list[Span]:
        """What is kept under an identity, in any order; spans may overlap."""
        ...

    def tally(self, identity: str, span: Span) -> Tally:
        """One of them."""
        ...

    def keep(self, identity: str, span: Span, tally: Tally) -> None:
        """Keep a finished one; keeping it again changes nothing."""
        ...


class NoLedger:
    """Keeps nothing."""

    def spans(self, identity: str) -> list[Span]:
        """None at all."""
        return []

    def tally(self, identity: str, span: Span) -> Tally:
        """Raises KeyError: there is none."""
        raise KeyError(span)

    def keep(self, identity: str, span: Span, tally: Tally) -> None:
        """Forgets it."""
