"""Several designs on the same runs: tallies of each, and of each against the first.

Every block of runs goes through all designs before the next one counts, so whatever ends a comparison,
all designs have met the same runs.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from simcore.campaigns.campaign import Progress
from simcore.campaigns.computing import ENGINES
from simcore.campaigns.course import blocks, runs_per_block
from simcore.campaigns.executors import in_order, workers
from simcore.campaigns.ledger import Span
from simcore.campaigns.pairing import PairedSums, nothing_paired, pair_up
from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.engines.blocks import BlockDetail
from simcore.engines.events import EventEngine
from simcore.judging.tally import Tally, nothing, tally_of
from simcore.statistics.stopping import ALL_RUNS, INTERRUPTED


@dataclass(frozen=True)
class Comparison:
    """A finished comparison: the ``tallies`` of all designs on the same runs, and ``pairs``, each of the
    others against the first; what ended it, and how long it took (s).
    """

    designs: tuple[Design, ...]
    seed: int
    first_run: int
    engine: str
    tallies: tuple[Tally, ...]
    pairs: tuple[PairedSums, ...]
    ended_by: str
    seconds: float

    @property
    def runs(self) -> int:
        """Runs that every design has met."""
        return self.tallies[0].runs


@dataclass(frozen=True)
class _Block:
    """One span of runs in all designs."""

    tallies: tuple[Tally, ...]
    pairs: tuple[PairedSums, ...]


class _Bench(threading.local):
    """The engines of one thread, one for each design, because an engine holds arrays."""

    engines: tuple[BatchEngine | EventEngine, ...] = ()


def compare_designs(
    designs: Sequence[Design],
    *,
    seed: int,
    runs: int,
    first_run: int = 0,
    engine: str = "batch",
    threads: int = 1,
    block: int | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Simulate ``runs`` runs of every design and tally them, each and in pairs with the first.

    ``progress`` is called with (runs done, runs asked for) after each block.  A KeyboardInterrupt ends
    the comparison with the runs that all designs have finished.  Raises
    simcore.campaigns.pairing.NotAlikeError where the designs do not meet the same hand, encoder and
    contacts.
    """
    if engine not in ENGINES:
        raise ValueError(f"no engine {engine!r}; there are {' and '.join(ENGINES)}")
    began, size = time.perf_counter(), block or runs_per_block(designs[0])
    bench = _Bench()

    def work(span: Span) -> _Block:
        if not bench.engines:
            bench.engines = tuple(_engine(design, engine, size) for design in designs)
        return _block(designs, bench.engines, seed, span)

    total = _empty(designs)
    ended_by = ALL_RUNS
    try:
        with workers(threads) as (executor, in_hand):
            for part in in_order(work, blocks(first_run, runs, size), executor, in_hand):
                total = _joined(total, part)
                if progress is not None:
                    progress(total.tallies[0].runs, runs)
    except KeyboardInterrupt:
        ended_by = ALL_RUNS if total.tallies[0].runs == runs else INTERRUPTED
    return Comparison(
        tuple(designs), seed, first_run, engine, total.tallies, total.pairs, ended_by,
        time.perf_counter() - began,
    )  # fmt: skip


def nothing_compared(designs: Sequence[Design], seed: int, seconds: float) -> Comparison:
    """A comparison that was interrupted before its first block was in."""
    total = _empty(designs)
    return Comparison(tuple(designs), seed, 0, "batch", total.tallies, total.pairs, INTERRUPTED, seconds)


def _engine(design: Design, engine: str, size: int) -> BatchEngine | EventEngine:
    return BatchEngine(design, size) if engine == "batch" else EventEngine(design)


def _details(engine: BatchEngine | EventEngine, seed: int, span: Span) -> Iterator[BlockDetail]:
    """All runs of a span, in one piece or run by run; each valid until the next."""
    if isinstance(engine, BatchEngine):
        yield engine.detail(seed, span.first, span.runs)
    else:
        for run in range(span.first, span.end):
            yield engine.record(seed, run).detail


def _block(
    designs: Sequence[Design], engines: Sequence[BatchEngine | EventEngine], seed: int, span: Span
) -> _Block:
    names = _names(designs[0])
    total, first_run = _empty(designs), span.first
    pieces = zip(*(_details(engine, seed, span) for engine in engines), strict=True)
    for details in pieces:
        tallies = tuple(tally_of(names, each.result.sums, each.result.errors) for each in details)
        pairs = tuple(pair_up(details[0], each, len(names), first_run) for each in details[1:])
        total = _joined(total, _Block(tallies, pairs))
        first_run += tallies[0].runs
    return total


def _names(design: Design) -> tuple[str, ...]:
    return tuple(entry.name for entry in design.hand)


def _empty(designs: Sequence[Design]) -> _Block:
    names = _names(designs[0])
    return _Block(
        tuple(nothing(names) for _ in designs), tuple(nothing_paired(len(names)) for _ in designs[1:])
    )


def _joined(total: _Block, part: _Block) -> _Block:
    return _Block(
        tuple(mine + more for mine, more in zip(total.tallies, part.tallies, strict=True)),
        tuple(mine + more for mine, more in zip(total.pairs, part.pairs, strict=True)),
    )
