"""A sweep against plain C doing the same work, and the memory that a sweep takes as it grows.

    python -m tests.benchmarks.sweep [--json FILE|-] [--cells N] [--runs N] [--rounds K]

The sweep goes over so many values of the filter's capacitor, every cell with all its runs, on two threads
and without a ledger, as the verb does it: cells loaded one by one, campaigns driven, summaries made.  C
(yardstick.c) simulates the same runs of the same designs on one thread, called once for each cell, with
designs made before.  Both take turns, after one of each to warm up, and ratios are medians over the rounds:

* processor time of the sweep, both threads and all else together, over that of C: what the work costs;
* wall-clock time of the sweep, times two for its two threads, over the processor time of C: how well the
  threads are used as well; it counts on a quiet machine only, so the cores that were given are told.

Memory is the peak of a process of its own for each number of cells.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import time
from typing import Any, NamedTuple

from reports.api.sweeps import Campaigns, SweepRequest
from reports.results.sweep import SweepCell
from reports.words.commands import NamedScenario
from scenarios.loading.sweeps import Sweep, load_sweep
from simcore.campaigns.options import RunOptions
from simcore.statistics.stopping import Stop
from tests.benchmarks.fused import Fused, NoCompilerError
from tests.benchmarks.speed import spawned
from tests.benchmarks.yardstick import SCENARIO, SEED, deliver, positive

CELLS, RUNS, ROUNDS, THREADS = 40, 5000, 5, 2
SIZES = (10, 40, 160)
SMALL = 500
"""Runs of a cell where memory is measured: enough for every array to have its size."""


class Took(NamedTuple):
    """Seconds by the wall clock and of the processors, and the wrong steps of each cell."""

    wall: float
    processor: float
    wrong: list[int]


def ranged(cells: int) -> str:
    """The option that gives so many cells."""
    return f"filter.capacitor=10n..1u:log {cells}"


def swept(sweep: Sweep, runs: int) -> Took:
    """The sweep."""
    options = RunOptions(SEED, Stop(runs), threads=THREADS, margins=False)
    campaigns = Campaigns(SweepRequest(sweep, NamedScenario(SCENARIO), (), options, None), SweepCell.of)
    wall, processor = time.perf_counter(), time.process_time()
    found = campaigns.outcome(lambda done, asked: None)
    took = time.perf_counter() - wall, time.process_time() - processor
    return Took(*took, [cell.wrong for cell in found.cells])


def in_c(fused: list[Fused], runs: int) -> Took:
    """The same runs in C, on this thread."""
    wall, processor = time.perf_counter(), time.process_time()
    tallies = [each.tally(SEED, runs) for each in fused]
    took = time.perf_counter() - wall, time.process_time() - processor
    return Took(*took, [tally.wrong for tally in tallies])


def of_time(cells: int, runs: int, rounds: int) -> dict[str, Any]:
    """The ratios; None with a reason where there is no C compiler."""
    sweep = load_sweep(SCENARIO, [ranged(cells)])
    fused: list[Fused] = []
    reason: str | None = None
    try:
        fused = [Fused(sweep.scenario_of(cell).design) for cell in sweep.cells()]
    except NoCompilerError as error:
        reason = str(error)
    swept(sweep, 10)
    pairs = [(swept(sweep, runs), in_c(fused, runs)) for _ in range(rounds)]

    def ratio(values: list[float]) -> float | None:
        return statistics.median(values) if fused else None

    return {
        "reason": reason,
        "sweep_processor_s": statistics.median(one.processor for one, _ in pairs),
        "sweep_wall_s": statistics.median(one.wall for one, _ in pairs),
        "c_processor_s": ratio([c.processor for _, c in pairs]),
        "processor_ratio": ratio([one.processor / c.processor for one, c in pairs] if fused else []),
        "wall_ratio": ratio([THREADS * one.wall / c.processor for one, c in pairs] if fused else []),
        "cores_given": max(one.processor / one.wall for one, _ in pairs),
        "equal": all(one.wrong == c.wrong for one, c in pairs) if fused else None,
    }


def of_memory() -> dict[str, float]:
    """Peak memory (MB) by number of cells.  Goes first, because a process starts with the peak memory of
    the one that made it.
    """
    more = ("--runs", str(SMALL), "--all-runs", "--threads", str(THREADS), "--no-ledger", "--quiet")
    spawned("sweep", SCENARIO, "--vary", ranged(2), *more)
    return {str(cells): spawned("sweep", SCENARIO, "--vary", ranged(cells), *more).memory for cells in SIZES}


def report(cells: int, runs: int, rounds: int) -> dict[str, Any]:
    """All of it."""
    load = os.getloadavg()[0]
    memory = of_memory()
    asked = {"scenario": SCENARIO, "cells": cells, "runs": runs, "rounds": rounds, "load": load}
    return {**asked, "peak_memory_mb": memory, **of_time(cells, runs, rounds)}


def in_words(found: dict[str, Any]) -> str:
    """The numbers for people."""
    memory = ", ".join(f"{cells} cells {size:.0f} MB" for cells, size in found["peak_memory_mb"].items())
    head = (
        f"{found['cells']} cells of {found['runs']:,} runs on {THREADS} threads (load {found['load']:.1f}): "
        f"{found['sweep_processor_s']:.1f} s of processor time, {found['sweep_wall_s']:.1f} s by the clock"
    )
    if found["reason"] is not None:
        return f"{head}.\nNo ratio: {found['reason']}.\nPeak memory: {memory}."
    return (
        f"{head}; C on one thread {found['c_processor_s']:.1f} s.\n"
        f"Processor time over that of C: {found['processor_ratio']:.2f}; two threads by the clock over C: "
        f"{found['wall_ratio']:.2f} (they were given {found['cores_given']:.1f} cores); wrong steps are "
        f"{'equal' if found['equal'] else 'DIFFERENT'}.\nPeak memory: {memory}."
    )


def main() -> int:
    """Exit code 0, also without a compiler; 1 when the numbers differ."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--json", metavar="FILE", help="write JSON to FILE, or to standard output for -")
    parser.add_argument("--cells", type=positive, default=CELLS, help=f"cells of the sweep [{CELLS}]")
    parser.add_argument("--runs", type=positive, default=RUNS, help=f"runs of each cell [{RUNS}]")
    parser.add_argument("--rounds", type=positive, default=ROUNDS, help=f"sweeps measured [{ROUNDS}]")
    asked = parser.parse_args()
    found = report(asked.cells, asked.runs, asked.rounds)
    deliver(found, asked.json, in_words(found))
    return 1 if found["equal"] is False else 0


if __name__ == "__main__":
    sys.exit(main())
