"""Many runs: blocks of them, on threads, added up in run order.

A block counts only when all earlier ones are in, so the result is always that of the first
so many runs, whatever the threads did.  Whoever computes a block (a thread here) knows
nothing of the tally, and the tally knows nothing of who computed it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Protocol

from simcore.batch import BatchEngine
from simcore.blocks import BlockResult
from simcore.chain import Design
from simcore.events import EventEngine
from simcore.tally import Tally, nothing, tally_of
from simcore.truth import transitions_per_run

EDGES_PER_BLOCK = 150_000
ENGINES = ("batch", "events")

ALL_RUNS = "all runs done"
INTERRUPTED = "interrupted"


class Engine(Protocol):
    """Whatever can run and judge a block."""

    def run(self, seed: int, first_run: int, runs: int) -> BlockResult:
        """Tallies of ``runs`` runs from ``first_run`` on."""
        ...


@dataclass(frozen=True)
class Outcome:
    """A finished campaign: its tally, what ended it, and how long it took (s)."""

    design: Design
    seed: int
    first_run: int
    engine: str
    tally: Tally
    ended_by: str
    seconds: float


Progress = Callable[[int, int], None]


def runs_per_block(design: Design) -> int:
    """Enough runs to drown the cost of a call, few enough to stay in cache and to show progress."""
    return max(8, min(2000, EDGES_PER_BLOCK // (8 * transitions_per_run(design))))


def blocks(first_run: int, runs: int, size: int) -> Iterator[tuple[int, int]]:
    """(first run, runs) of each block."""
    for start in range(first_run, first_run + runs, size):
        yield start, min(size, first_run + runs - start)


class _Engines(threading.local):
    """One engine per thread, because an engine holds arrays."""

    engine: Engine | None = None


def _make(design: Design, engine: str, size: int, margins: bool) -> Engine:
    if engine == "batch":
        return BatchEngine(design, size, margins=margins)
    if engine == "events":
        return EventEngine(design, margins=margins)
    raise ValueError(f"no engine {engine!r}; there are {' and '.join(ENGINES)}")


def run_campaign(
    design: Design,
    *,
    seed: int,
    runs: int,
    first_run: int = 0,
    engine: str = "batch",
    threads: int = 1,
    block: int | None = None,
    progress: Progress | None = None,
    margins: bool = True,
) -> Outcome:
    """Simulate ``runs`` runs and tally them, with their ``margins`` unless they are not wanted.

    ``progress`` is called with (runs done, runs asked for) after each block.  A
    KeyboardInterrupt ends the campaign with what was finished so far.
    """
    began = time.perf_counter()
    size = block or runs_per_block(design)
    kept = _Engines()

    def work(start: int, count: int) -> BlockResult:
        if kept.engine is None:
            kept.engine = _make(design, engine, size, margins)
        return kept.engine.run(seed, start, count)

    names = tuple(entry.name for entry in design.hand)
    tally = nothing(names)
    ended_by = ALL_RUNS
    try:
        for result in _in_order(work, list(blocks(first_run, runs, size)), threads):
            tally = tally + tally_of(names, result.sums, result.errors, result.margins)
            if progress is not None:
                progress(tally.runs, runs)
    except KeyboardInterrupt:
        ended_by = INTERRUPTED
    return Outcome(design, seed, first_run, engine, tally, ended_by, time.perf_counter() - began)


def _in_order(
    work: Callable[[int, int], BlockResult], todo: list[tuple[int, int]], threads: int
) -> Iterator[BlockResult]:
    """Results in run order; at most a few blocks ahead of the one waited for."""
    if threads <= 1 or len(todo) == 1:
        for start, count in todo:
            yield work(start, count)
        return
    if todo:
        # Alone, so that everything is compiled before two threads could both set about it.
        yield work(*todo[0])
    pool = ThreadPoolExecutor(threads)
    waiting: list[Future[BlockResult]] = []
    try:
        for start, count in todo[1:]:
            waiting.append(pool.submit(work, start, count))
            if len(waiting) > 2 * threads:
                yield waiting.pop(0).result()
        while waiting:
            yield waiting.pop(0).result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
