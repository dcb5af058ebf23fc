"""What a campaign requires of a ledger.

A ledger keeps finished blocks of runs under the identity of what was simulated (see
simcore.campaigns.identity): tallies under that of a design, paired sums under that of two.  Files are the
business of scenarios.ledger.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol

from simcore.campaigns.pairing import PairedSums
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
    """Keeps the sums of spans of runs."""

    def spans(self, identity: str) -> list[Span]:
        """What is kept under an identity, in any order; spans may overlap."""
        ...

    def tally(self, identity: str, span: Span) -> Tally:
        """One of them, of a design."""
        ...

    def pair(self, identity: str, span: Span) -> PairedSums:
        """One of them, of two designs."""
        ...

    def keep(self, identity: str, span: Span, sums: Tally | PairedSums) -> None:
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

    def pair(self, identity: str, span: Span) -> PairedSums:
        """Raises KeyError as well."""
        raise KeyError(span)

    def keep(self, identity: str, span: Span, sums: Tally | PairedSums) -> None:
        """Does nothing."""
