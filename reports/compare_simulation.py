"""A comparison as something to simulate in a thread of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reports.simulate import Show
    from simcore.campaigns.comparing import Comparison
    from simcore.design import Design


@dataclass(frozen=True)
class CompareRequest:
    """``runs`` runs of each of the designs, and how."""

    designs: tuple[Design, ...]
    seed: int
    runs: int
    threads: int

    def outcome(self, note: Show) -> Comparison:
        """The comparison."""
        from simcore.campaigns.comparing import compare_designs

        return compare_designs(
            self.designs, seed=self.seed, runs=self.runs, threads=self.threads, progress=note
        )

    def nothing(self, seconds: float) -> Comparison:
        """The comparison of no runs."""
        from simcore.campaigns.comparing import nothing_compared

        return nothing_compared(self.designs, self.seed, seconds)
