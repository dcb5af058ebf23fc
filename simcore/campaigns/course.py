"""The course of one campaign: which block is wanted next, what is in, and whether it has ended.

It computes nothing and knows not who does.  The stopping rule looks at the ends of the blocks of a grid
that belongs to the design, and at the end, so its decisions depend neither on the size of the blocks that
are computed nor on what a ledger has.
"""

from __future__ import annotations

import time
from bisect import bisect_right
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

from simcore.base.records import Floats
from simcore.campaigns.computing import Job, Work
from simcore.campaigns.identity import identity
from simcore.campaigns.ledger import Ledger, NoLedger, Span
from simcore.design import Design
from simcore.engines.truth import transitions_per_run
from simcore.judging.sums import WRONG
from simcore.judging.tally import Tally, nothing
from simcore.statistics.stopping import ALL_RUNS, INTERRUPTED, Stop, Watch

EDGES_PER_BLOCK = 150_000


def runs_per_block(design: Design) -> int:
    """Enough runs to drown the cost of a call, few enough to stay in cache and to show progress."""
    return max(8, min(2000, EDGES_PER_BLOCK // (8 * transitions_per_run(design))))


def blocks(first_run: int, runs: int, size: int) -> Iterator[Span]:
    """Spans of at most ``size`` runs, in order."""
    for start in range(first_run, first_run + runs, size):
        yield Span(start, min(size, first_run + runs - start))


@dataclass(frozen=True)
class Outcome:
    """A finished campaign: its tally, what ended it, and how long it took (s).

    ``rates`` (groups, quantities; see simcore.judging.sums) are those of steps where what ended the
    campaign bends the plain ones (see simcore.statistics.stopping), else None; ``kept`` counts the runs
    that a ledger had already.
    """

    design: Design
    seed: int
    first_run: int
    engine: str
    tally: Tally
    ended_by: str
    seconds: float
    rates: Floats | None = None
    kept: int = 0

    @property
    def rate(self) -> float | None:
        """The rate of wrong steps among ``rates``."""
        return None if self.rates is None else float(self.rates[0, WRONG])


@dataclass(frozen=True)
class Plan:
    """What to simulate: runs from ``first_run`` on until ``stop``, with their margins or without;
    ``block`` is the most runs of one block, None for those of the grid.
    """

    design: Design
    seed: int
    stop: Stop
    first_run: int = 0
    engine: str = "batch"
    block: int | None = None
    margins: bool = True


class Cutter:
    """Cuts the runs of a plan into spans of at most ``size`` runs, none across a border of the grid of
    ``grid`` runs; where a ledger has a span that fits, that span.
    """

    def __init__(self, first: int, end: int, grid: int, size: int, stored: list[Span]) -> None:
        self.first, self.at, self.end = first, first, end
        self.grid, self.size = grid, size
        self.ends: dict[int, list[int]] = {}
        for span in stored:
            self.ends.setdefault(span.first, []).append(span.end)
        self.firsts = sorted(self.ends)

    def border(self, run: int) -> int:
        """The first border of the grid after ``run``."""
        return min(self.first + ((run - self.first) // self.grid + 1) * self.grid, self.end)

    def __call__(self) -> tuple[Span, bool] | None:
        """The next span, and whether it is a stored one; None at the end."""
        if self.at >= self.end:
            return None
        at, border = self.at, self.border(self.at)
        fitting = [end for end in self.ends.get(at, ()) if end <= border]
        self.at = max(fitting) if fitting else min(at + self.size, self._next_stored(at), border)
        return Span(at, self.at - at), bool(fitting)

    def _next_stored(self, run: int) -> int:
        """Where the first stored span after ``run`` begins."""
        place = bisect_right(self.firsts, run)
        return self.firsts[place] if place < len(self.firsts) else self.end


class Course:
    """One campaign on its way; for one thread."""

    def __init__(self, plan: Plan, ledger: Ledger | None = None) -> None:
        grid = runs_per_block(plan.design)
        size = min(plan.block or grid, grid)
        self.plan = plan
        self.began = time.perf_counter()
        self.work = Work(plan.design, plan.seed, plan.engine, plan.margins, size)
        self.ledger: Ledger = ledger or NoLedger()
        self.identity = identity(plan.design, plan.seed, plan.margins)
        stored = self.ledger.spans(self.identity)
        self.cutter = Cutter(plan.first_run, plan.first_run + plan.stop.runs, grid, size, stored)
        self.watch = Watch(plan.stop, grid)
        self.tally = self.at_look = nothing(tuple(entry.name for entry in plan.design.hand))
        self.kept = 0
        self.ended_by: str | None = None if plan.stop.runs > 0 else ALL_RUNS
        self._order: deque[tuple[Span, bool]] = deque()
        self._finished: dict[Span, Tally] = {}

    def next(self, *, ahead: bool = True) -> Job | None:
        """The next block to compute; None when nothing more is wanted, for now or at all.

        Not ``ahead``: only a block that is wanted whatever those still out will show.
        """
        while self.ended_by is None:
            if not ahead and self._in_doubt():
                return None
            cut = self.cutter()
            if cut is None:
                return None
            self._order.append(cut)
            span, stored = cut
            if not stored:
                return Job(self.work, span.first, span.runs)
            self._advance()
        return None

    def _in_doubt(self) -> bool:
        """Whether a look at a block that is still out might end the campaign."""
        return any(
            span.end == self.cutter.border(span.first) and self.watch.may_end(span.end - self.plan.first_run)
            for span, _ in self._order
        )

    def take(self, job: Job, tally: Tally) -> None:
        """A finished block, in any order; what comes after the end is kept, but not counted."""
        span = Span(job.first, job.runs)
        self.ledger.keep(self.identity, span, tally)
        self._finished[span] = tally
        self._advance()

    def _advance(self) -> None:
        """Add what is in, in run order, and look where it is time to."""
        while self._order and self.ended_by is None:
            span, stored = self._order[0]
            if stored:
                part = self.ledger.tally(self.identity, span)
                self.kept += span.runs
            elif span in self._finished:
                part = self._finished.pop(span)
            else:
                return
            self._order.popleft()
            self.tally = self.tally + part
            if span.end == self.cutter.border(span.first):
                self._look()

    def _look(self) -> None:
        self.ended_by = self.watch.look(self.at_look, self.tally, time.perf_counter() - self.began)
        self.at_look = self.tally

    def outcome(self) -> Outcome:
        """How it ended; before its end, as if it had been interrupted now."""
        plan, seconds = self.plan, time.perf_counter() - self.began
        ended_by = self.ended_by or INTERRUPTED
        rates = self.watch.rates() if self.ended_by else None
        return Outcome(
            plan.design, plan.seed, plan.first_run, plan.engine,
            self.tally, ended_by, seconds, rates, self.kept,
        )  # fmt: skip
