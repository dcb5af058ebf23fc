"""One block of a campaign, computed: a job that can be sent to a thread, a process or another machine.

A worker needs `compute` and a `Job` alone, both of which can be pickled; nothing here depends on stopping
rules or ledgers.
"""

from __future__ import annotations

import functools
import threading
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from simcore.campaigns.options import RunOptions
from simcore.campaigns.pairing import BlockSums, pair_up
from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.engines.blocks import BlockDetail
from simcore.engines.events import EventEngine
from simcore.judging.tally import tally_of

KEPT = 4
"""Works whose engines a thread keeps: campaigns of a sweep take turns while their analyses are pending."""

AHEAD = 2
"""Blocks pending for each worker, so that none waits for work."""

Engine = BatchEngine | EventEngine


@dataclass(frozen=True)
class Work:
    """What all blocks of one campaign share; ``room`` is the most runs of one block, and copies that went to
    other processes are known by their ``mark``.
    """

    designs: tuple[Design, ...]
    options: RunOptions
    room: int
    mark: str = field(default_factory=lambda: uuid.uuid4().hex)

    def engine(self, number: int) -> Engine:
        """A new engine for one of the designs.  Margins are those of a design alone."""
        design, margins = self.designs[number], self.options.margins and len(self.designs) == 1
        if self.options.engine == "batch":
            return BatchEngine(design, self.room, margins=margins)
        return EventEngine(design, margins=margins)


@dataclass(frozen=True)
class Job:
    """One block: ``runs`` runs from ``first`` on, of which are wanted the tallies of the designs with the
    numbers ``tallies``, and the sums of each of the designs ``pairs`` against the first.
    """

    work: Work
    first: int
    runs: int
    tallies: tuple[int, ...] = (0,)
    pairs: tuple[int, ...] = ()


class _ThreadEngines(threading.local):
    """The engines that a thread used last, by the mark of their work and the number of their design: an
    engine holds arrays that are worth using again.
    """

    def __init__(self) -> None:
        self.engines: dict[str, dict[int, Engine]] = {}


_kept = _ThreadEngines()


def compute(job: Job) -> BlockSums:
    """The sums that a job needs, in its order.

    Raises simcore.campaigns.pairing.NotComparableError where designs of a pair do not meet the same hand,
    encoder and contacts.
    """
    if len(job.work.designs) > 1:
        return _on_the_same_runs(job)
    design, seed = job.work.designs[0], job.work.options.seed
    found = _engine(job.work).run(seed, job.first, job.runs)
    return BlockSums((tally_of(_names(design), found.sums, found.errors, found.margins),))


def _on_the_same_runs(job: Job) -> BlockSums:
    work = job.work
    numbers = sorted({*job.tallies, *job.pairs, *([0] if job.pairs else [])})
    pieces = zip(*(_details(job, number) for number in numbers), strict=True)
    sums, first = [], job.first
    for piece in pieces:
        details = dict(zip(numbers, piece, strict=True))
        runs = piece[0].result.errors.size
        tallies = tuple(
            tally_of(_names(work.designs[number]), each.result.sums, each.result.errors)
            for number in job.tallies
            for each in [details[number]]
        )
        pairs = tuple(
            pair_up(details[0], details[number], len(work.designs[0].hand), first) for number in job.pairs
        )
        sums.append(BlockSums(tallies, pairs))
        first += runs
    return functools.reduce(BlockSums.__add__, sums)


def _details(job: Job, number: int) -> Iterator[BlockDetail]:
    """All runs of a block in one design, in one piece or run by run; each valid until the next."""
    engine, seed = _engine(job.work, number), job.work.options.seed
    if isinstance(engine, BatchEngine):
        yield engine.detail(seed, job.first, job.runs)
    else:
        for run in range(job.first, job.first + job.runs):
            yield engine.record(seed, run).detail


def _names(design: Design) -> tuple[str, ...]:
    return tuple(entry.name for entry in design.hand)


def _engine(work: Work, number: int = 0) -> Engine:
    """The engine for one design of ``work``, whose engines are now the last in the row of those kept."""
    kept = _kept.engines
    engines = kept.pop(work.mark, None)
    if engines is None:
        while len(kept) >= KEPT:
            del kept[next(iter(kept))]
        engines = {}
    kept[work.mark] = engines
    if number not in engines:
        engines[number] = work.engine(number)
    return engines[number]


class Inline(Executor):
    """Computes in the calling thread, at once."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """As any executor's, but an error is raised at once."""
        future: Future[Any] = Future()
        future.set_result(fn(*args, **kwargs))
        return future


@contextmanager
def workers(threads: int) -> Iterator[tuple[Executor, int]]:
    """An executor of so many threads, and how many blocks to keep pending."""
    if threads <= 1:
        yield Inline(), 1
        return
    pool = ThreadPoolExecutor(threads)
    try:
        yield pool, AHEAD * threads
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
