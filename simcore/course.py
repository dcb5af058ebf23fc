"""One campaign: which block is wanted next, what is in, and whether it has ended.

It computes nothing and knows not who does.  The stopping rule looks at the ends of the blocks of a grid
that belongs to the design, and at the end, so its decisions depend neither on the size of the blocks that
are computed nor on what a ledger has.
"""

from __future__ import annotations

import time
from bisect import bisect_right
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from simcore.computing import Job, Work
from simcore.design import Design
from simcore.edges import Floats
from simcore.identity import identity, pair_identity
from simcore.ledger import Ledger, NoLedger, Span
from simcore.options import RunOptions
from simcore.pairing import BlockSums, PairedSums, nothing_paired
from simcore.stopping import ALL_RUNS, INTERRUPTED, Watch
from simcore.sums import WRONG
from simcore.tally import Tally, nothing
from simcore.truth import transitions_per_run

EDGES_PER_BLOCK = 150_000
FEW = {"events": 8}
"""Runs of a block where an engine is so slow that more would show no progress."""


def runs_per_block(design: Design) -> int:
    """Enough runs to drown the cost of a call, few enough to stay in cache and to show progress."""
    return max(8, min(2000, EDGES_PER_BLOCK // (8 * transitions_per_run(design))))


def blocks(first_run: int, runs: int, size: int) -> Iterator[Span]:
    """Spans of at most ``size`` runs, in order."""
    for start in range(first_run, first_run + runs, size):
        yield Span(start, min(size, first_run + runs - start))


@dataclass(frozen=True)
class Outcome:
    """A finished campaign: the ``tallies`` of all its designs on the same runs, and ``pairs``, the sums of
    each of the others paired with the first; what ended it, and how long it took (s).

    ``all_rates`` (designs, groups, quantities; see simcore.sums) are those of steps where what ended the
    campaign biases the plain ones (see simcore.endings), else None; ``kept`` counts the runs that a ledger
    had already.
    """

    designs: tuple[Design, ...]
    options: RunOptions
    tallies: tuple[Tally, ...]
    pairs: tuple[PairedSums, ...]
    ended_by: str
    seconds: float
    all_rates: Floats | None = None
    kept: int = 0

    @property
    def design(self) -> Design:
        """The first of the designs, often the only one."""
        return self.designs[0]

    @property
    def tally(self) -> Tally:
        """Its tally."""
        return self.tallies[0]

    @property
    def rates(self) -> Floats | None:
        """Its rates (groups, quantities) among ``all_rates``."""
        return None if self.all_rates is None else self.all_rates[0]

    @property
    def rate(self) -> float | None:
        """Its rate of wrong steps among ``rates``."""
        return None if self.rates is None else float(self.rates[0, WRONG])

    @property
    def runs(self) -> int:
        """Runs done, by all designs."""
        return self.tally.runs

    @property
    def seed(self) -> int:
        """The seed of all draws."""
        return self.options.seed

    @property
    def first_run(self) -> int:
        """Number of the first run."""
        return self.options.first_run

    @property
    def engine(self) -> str:
        """The engine that computed what no ledger had."""
        return self.options.engine

    @property
    def analyses(self) -> int:
        """How many analyses share the error allowance of a comparison (see simcore.deciding)."""
        return self.options.stop.analyses(runs_per_block(self.design))


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
    """One campaign on its way, of one design or of several on the same runs; for one thread.

    A block of several designs counts once all of them have it, so whatever ends the campaign, all have met
    the same runs.  Raises ValueError where one design alone is to be settled.
    """

    def __init__(self, designs: Sequence[Design], options: RunOptions, ledger: Ledger | None = None) -> None:
        if options.stop.settled is not None and len(designs) < 2:
            raise ValueError("nothing to settle: there is one design only")
        self.designs, self.options = tuple(designs), options
        self.began = time.perf_counter()
        grid = runs_per_block(designs[0])
        size = min(options.block or FEW.get(options.engine, grid), grid)
        self.work = Work(self.designs, options, size)
        self.ledger: Ledger = ledger or NoLedger()
        self.shelves = Shelves(self.designs, options, self.ledger)
        first, stop = options.first_run, options.stop
        self.cutter = Cutter(first, first + stop.runs, grid, size, self.shelves.whole())
        self.watch = Watch(stop, grid)
        names = [tuple(entry.name for entry in design.hand) for design in designs]
        self.sums = self.at_look = BlockSums(
            tuple(nothing(each) for each in names), tuple(nothing_paired(len(names[0])) for _ in names[1:])
        )
        self.kept = 0
        self.ended_by: str | None = None if stop.runs > 0 else ALL_RUNS
        self._order: deque[tuple[Span, bool]] = deque()
        self._finished: dict[Span, BlockSums] = {}

    @property
    def tally(self) -> Tally:
        """The first design's tally so far."""
        return self.sums.tallies[0]

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
                return Job(self.work, *span, *self.shelves.missing(span))
            self._advance()
        return None

    def _in_doubt(self) -> bool:
        """Whether a look at a block that is still out might end the campaign."""
        first = self.options.first_run
        return any(
            span.end == self.cutter.border(span.first) and self.watch.may_end(span.end - first)
            for span, _ in self._order
        )

    def take(self, job: Job, found: BlockSums) -> None:
        """A finished block, in any order; what comes after the end is kept, but not counted."""
        span = Span(job.first, job.runs)
        self._finished[span] = self.shelves.completed(job, span, found)
        self._advance()

    def _advance(self) -> None:
        """Add what is in, in run order, and look where it is time to."""
        while self._order and self.ended_by is None:
            span, stored = self._order[0]
            if stored:
                part = self.shelves.stored(span)
                self.kept += span.runs
            elif span in self._finished:
                part = self._finished.pop(span)
            else:
                return
            self._order.popleft()
            self.sums = self.sums + part
            if span.end == self.cutter.border(span.first):
                self._look()

    def _look(self) -> None:
        self.ended_by = self.watch.look(self.at_look, self.sums, time.perf_counter() - self.began)
        self.at_look = self.sums

    def outcome(self) -> Outcome:
        """How it ended; before its end, as if it had been interrupted now."""
        return Outcome(
            self.designs, self.options, self.sums.tallies, self.sums.pairs, self.ended_by or INTERRUPTED,
            time.perf_counter() - self.began, self.watch.rates() if self.ended_by else None, self.kept,
        )  # fmt: skip


class Shelves:
    """What a ledger has of a campaign's designs and pairs: under which identity each span is kept.

    Tallies that were kept with their margins serve those who want none.
    """

    def __init__(self, designs: Sequence[Design], options: RunOptions, ledger: Ledger) -> None:
        self.ledger, seed = ledger, options.seed
        self.margins = options.margins and len(designs) == 1
        self.names = [identity(design, seed, self.margins) for design in designs]
        self.pair_names = [pair_identity(designs[0], other, seed) for other in designs[1:]]
        self.tallies = [self._kept(name) for name in self.names]
        self.pairs = [self._kept(name) for name in self.pair_names]
        if not self.margins:
            for kept, design in zip(self.tallies, designs, strict=True):
                for span, name in self._kept(identity(design, seed, True)).items():
                    kept.setdefault(span, name)

    def _kept(self, name: str) -> dict[Span, str]:
        return dict.fromkeys(self.ledger.spans(name), name)

    def whole(self) -> list[Span]:
        """Spans of which nothing is missing."""
        first, *others = (*self.tallies, *self.pairs)
        return [span for span in first if all(span in kept for kept in others)]

    def missing(self, span: Span) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """The numbers of the designs of which there is no tally of a span, and of those not paired."""
        tallies = tuple(number for number, kept in enumerate(self.tallies) if span not in kept)
        pairs = tuple(number for number, kept in enumerate(self.pairs, start=1) if span not in kept)
        return tallies, pairs

    def stored(self, span: Span) -> BlockSums:
        """All of a span of which nothing is missing."""
        return BlockSums(
            tuple(self._tally(kept[span], span) for kept in self.tallies),
            tuple(self.ledger.pair(kept[span], span) for kept in self.pairs),
        )

    def completed(self, job: Job, span: Span, found: BlockSums) -> BlockSums:
        """All of a span whose missing parts were ``found``, which are kept."""
        tallies = dict(zip(job.tallies, found.tallies, strict=True))
        pairs = dict(zip(job.pairs, found.pairs, strict=True))
        for number, tally in tallies.items():
            self.ledger.keep(self.names[number], span, tally)
        for number, pair in pairs.items():
            self.ledger.keep(self.pair_names[number - 1], span, pair)
        return BlockSums(
            tuple(
                tallies[number] if number in tallies else self._tally(kept[span], span)
                for number, kept in enumerate(self.tallies)
            ),
            tuple(
                pairs[number] if number in pairs else self.ledger.pair(kept[span], span)
                for number, kept in enumerate(self.pairs, start=1)
            ),
        )

    def _tally(self, name: str, span: Span) -> Tally:
        found = self.ledger.tally(name, span)
        return found if self.margins else replace(found, margins=None)
