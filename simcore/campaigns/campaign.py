"""Campaigns: which block of runs comes next, which are complete, what ends a campaign, and what computes it.

One loop serves a design alone, the cells of a sweep and designs that are compared.  A block counts only when
all earlier ones are complete, so the result is always that of the first so many runs, in any order of
execution.  Stopping rule, ledger and sums do not depend on the executor: any with the interface of
`concurrent.futures` will do.

The stopping rule is applied at the ends of the blocks of a grid that belongs to the design, and at the end,
so its decisions depend neither on the size of the blocks that are computed nor on what a ledger has.
"""

from __future__ import annotations

import time
from bisect import bisect_right
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass, replace
from typing import Any

from simcore.base.records import Floats
from simcore.campaigns.computing import Job, Work, compute, workers
from simcore.campaigns.identity import identity, pair_identity
from simcore.campaigns.ledger import Ledger, NoLedger, Span
from simcore.campaigns.options import RunOptions
from simcore.campaigns.pairing import BlockSums, PairedSums, nothing_paired
from simcore.design import Design
from simcore.engines.truth import transitions_per_run
from simcore.judging.sums import WRONG
from simcore.judging.tally import Tally, nothing
from simcore.statistics.stopping import ALL_RUNS, INTERRUPTED, Stop, Watch

EDGES_PER_BLOCK = 150_000
FEW = {"events": 8}
"""Runs of a block for a slow engine, so that progress shows."""


def runs_per_block(design: Design) -> int:
    """Enough runs that a call costs little, few enough to stay in cache and to show progress."""
    return max(8, min(2000, EDGES_PER_BLOCK // (8 * transitions_per_run(design))))


def blocks(first_run: int, runs: int, size: int) -> Iterator[Span]:
    """Spans of at most ``size`` runs, in order."""
    for start in range(first_run, first_run + runs, size):
        yield Span(start, min(size, first_run + runs - start))


@dataclass(frozen=True)
class Outcome:
    """A finished campaign: the ``tallies`` of all its designs on the same runs, and ``pairs``, the sums of
    each of the others paired with the first; what ended it, and how long it took (s).

    ``all_rates`` (designs, groups, quantities; see simcore.judging.sums) are those of steps where what
    ended the campaign biases the plain ones (see simcore.statistics.stopping), else None; ``kept`` counts
    the runs that a ledger had already.
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
        return self.tallies[0]

    @property
    def rates(self) -> Floats | None:
        """Its rates (groups, quantities) among ``all_rates``."""
        return None if self.all_rates is None else self.all_rates[0]

    @property
    def rate(self) -> float | None:
        return None if self.rates is None else float(self.rates[0, WRONG])

    @property
    def runs(self) -> int:
        return self.tally.runs

    @property
    def seed(self) -> int:
        return self.options.seed

    @property
    def first_run(self) -> int:
        return self.options.first_run

    @property
    def engine(self) -> str:
        """The engine that computed what no ledger had."""
        return self.options.engine

    @property
    def analyses(self) -> int:
        """How many analyses share the error allowance of a comparison (see simcore.statistics.paired)."""
        return self.options.stop.analyses(runs_per_block(self.design))


class SpanCutter:
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


class Campaign:
    """A campaign in progress, of one design or of several on the same runs; for one thread.

    A block of several designs counts once all of them have it, so that all have the same runs however the
    campaign ends.  Raises ValueError where one design alone is to be settled.
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
        self.stored = StoredSpans(self.designs, options, self.ledger)
        first, stop = options.first_run, options.stop
        self.cutter = SpanCutter(first, first + stop.runs, grid, size, self.stored.whole())
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
        return self.sums.tallies[0]

    def next(self, *, ahead: bool = True) -> Job | None:
        """The next block to compute; None when there is none, for now or at all.

        Not ``ahead``: only a block that is needed whatever the pending ones show.
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
                return Job(self.work, *span, *self.stored.missing(span))
            self._advance()
        return None

    def _in_doubt(self) -> bool:
        """Whether the analysis after a pending block might end the campaign."""
        first = self.options.first_run
        return any(
            span.end == self.cutter.border(span.first) and self.watch.may_end(span.end - first)
            for span, _ in self._order
        )

    def take(self, job: Job, found: BlockSums) -> None:
        """Take a finished block, in any order; after the end it is kept in the ledger, but not counted."""
        span = Span(job.first, job.runs)
        self._finished[span] = self.stored.completed(job, span, found)
        self._advance()

    def _advance(self) -> None:
        """Add complete blocks in run order, and apply the stopping rule at the grid."""
        while self._order and self.ended_by is None:
            span, stored = self._order[0]
            if stored:
                part = self.stored.stored(span)
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


class StoredSpans:
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


Progress = Callable[[int, int], None]
Note = Callable[[Campaign], None]
Futures = dict[Future[Any], tuple[Campaign, Job]]


def drive(
    campaigns: Iterable[Campaign], executor: Executor, in_hand: int, note: Note | None = None
) -> Iterator[Campaign]:
    """Each campaign, in order, when it has ended; ``note`` is called after each block of a campaign.

    Later campaigns begin while earlier ones wait for their last blocks, or for an analysis that might end
    them, so that no worker is idle.
    The very first block is computed alone, so that nothing is compiled twice.
    """
    source, running = iter(campaigns), deque[Campaign]()
    futures: Futures = {}
    limit = 1
    while True:
        _submit(source, running, futures, executor, limit)
        if running and running[0].ended_by is not None:
            yield running.popleft()
            continue
        if not futures:
            return
        done, _ = wait(futures, return_when=FIRST_COMPLETED)
        for future in done:
            campaign, job = futures.pop(future)
            campaign.take(job, future.result())
            if note is not None:
                note(campaign)
        _withdraw(futures)
        limit = in_hand


def _submit(
    source: Iterator[Campaign], running: deque[Campaign], futures: Futures, executor: Executor, limit: int
) -> None:
    """Submit blocks until ``limit`` are pending: of the earliest campaign whose next block is certainly
    needed, else of the next campaign; of one that may end before it only when there is no other.

    No further campaign begins while the first has ended, or while there are many, so that of those that are
    complete in a ledger only a few are held at a time.
    """
    while len(futures) < limit and not (running and running[0].ended_by is not None):
        found = _wanted(running, ahead=False)
        if found is None and len(running) < 2 * limit:
            following = next(source, None)
            if following is not None:
                running.append(following)
                continue
        found = found or _wanted(running, ahead=True)
        if found is None:
            return
        futures[executor.submit(compute, found[1])] = found


def _wanted(running: deque[Campaign], *, ahead: bool) -> tuple[Campaign, Job] | None:
    for campaign in running:
        job = campaign.next(ahead=ahead)
        if job is not None:
            return campaign, job
    return None


def _withdraw(futures: Futures) -> None:
    """Cancel blocks of campaigns that have ended, unless they are being computed."""
    ended = [future for future, (campaign, _) in futures.items() if campaign.ended_by is not None]
    for future in ended:
        if future.cancel():
            del futures[future]


def run_designs(
    designs: Sequence[Design],
    options: RunOptions,
    *,
    ledger: Ledger | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Simulate the same runs of every design; tally each, and pair each of the others with the first.

    ``progress`` is called with (runs done, runs at most) after each block.  A KeyboardInterrupt ends the
    campaign with the runs that all designs have finished.  What a ``ledger`` has is not computed again, and
    what is computed is kept there.  Raises simcore.campaigns.pairing.NotComparableError where
    several designs do not have the same hand, encoder and contacts.
    """
    campaign = Campaign(designs, options, ledger)

    def note(campaign: Campaign) -> None:
        if progress is not None:
            progress(campaign.tally.runs, options.stop.runs)

    try:
        with workers(options.threads) as (executor, in_hand):
            for _ in drive([campaign], executor, in_hand, note):
                pass
    except KeyboardInterrupt:
        pass
    return campaign.outcome()


def run_campaign(
    design: Design,
    *,
    seed: int,
    runs: int,
    stop: Stop | None = None,
    ledger: Ledger | None = None,
    progress: Progress | None = None,
    **how: Any,
) -> Outcome:
    """The campaign of one design: ``runs`` runs, or until ``stop``; ``how`` are other RunOptions."""
    options = RunOptions(seed, stop or Stop(runs), **how)
    return run_designs([design], options, ledger=ledger, progress=progress)
