"""What is promised about time and memory, measured in one go.

    python -m tests.benchmarks.speed [--json FILE|-] [--long]

Times of whole processes are given by the wall clock, which counts on a quiet machine only, and in
processor seconds; those of kernels and engines are processor times.  ``--long`` adds the peak
memory of a million runs (about a minute).  Compiled code is taken from, and kept in, the usual
cache but for the first use, which starts from an empty one.
"""

from __future__ import annotations

import argparse
import os
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

from simcore.base.compiling import Kernel
from simcore.campaigns.campaign import run_campaign
from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.engines.events import EventEngine
from tests.benchmarks.yardstick import SCENARIO, SEED, default_design, deliver, edges_per_run

ROOT = pathlib.Path(__file__).parents[2]
RUNS = 5000
SMALL, LARGE = 10_000, 1_000_000
REPEATS = 5
HELPS = 11
EVENT_RUNS = 40
THREADED_RUNS = 20_000
FINE_EXITS = (0, 1)
"""0: done; 1: done, but the scenario's target is not shown to be met."""


class Cost(NamedTuple):
    """Of one process: seconds by the wall clock and of the processors, and peak memory in MB."""

    wall: float
    processor: float
    memory: float


def spawned(*arguments: str, cache: str | None = None) -> Cost:
    """Run the command in a process of its own; RuntimeError, with what it wrote, if it fails."""
    surroundings = dict(os.environ)
    if cache is not None:
        surroundings["STEPTALLY_CACHE"] = cache
    with tempfile.TemporaryFile() as said:
        began = time.perf_counter()
        child = subprocess.Popen(
            [sys.executable, "-m", "reports", *arguments],
            cwd=ROOT, env=surroundings, stdout=said, stderr=said,
        )  # fmt: skip
        _, status, usage = os.wait4(child.pid, 0)
        seconds = time.perf_counter() - began
        child.returncode = os.waitstatus_to_exitcode(status)
        if child.returncode not in FINE_EXITS:
            said.seek(0)
            raise RuntimeError(f"{' '.join(arguments)}: exit {child.returncode}\n{said.read().decode()}")
    # macOS counts memory in bytes, all others in kilobytes.
    unit = 1e-6 if sys.platform == "darwin" else 1024e-6
    return Cost(seconds, usage.ru_utime + usage.ru_stime, usage.ru_maxrss * unit)


def simulated(runs: int, cache: str | None = None) -> Cost:
    """The cost of ``steptally run`` on the default scenario."""
    return spawned("run", SCENARIO, "--runs", str(runs), "--quiet", cache=cache)


def first_use() -> Cost:
    """The cost of the very first run on a machine, with everything to be compiled."""
    with tempfile.TemporaryDirectory(prefix="steptally-first-") as empty:
        return simulated(RUNS, empty)


def middle(costs: list[Cost]) -> Cost:
    """The median of each column."""
    return Cost(*(statistics.median(column) for column in zip(*costs, strict=True)))


def of_processes(*, long: bool) -> dict[str, Any]:
    """What can be seen from outside.  Goes before anything heavy is loaded here, because a
    process starts with the peak memory of the one that made it.
    """
    simulated(10)
    usage = middle([spawned("--help") for _ in range(HELPS)])
    warm = middle([simulated(RUNS) for _ in range(REPEATS)])
    first = first_use()
    sizes = (SMALL, LARGE) if long else (SMALL,)
    return {
        "help_s": usage.wall,
        "help_processor_s": usage.processor,
        "warm_start_s": warm.wall,
        "warm_start_processor_s": warm.processor,
        "first_use_s": first.wall,
        "first_use_processor_s": first.processor,
        "peak_memory_mb": {str(runs): simulated(runs).memory for runs in sizes},
    }


def of_engines(design: Design) -> float:
    """How many times longer the event engine takes for a run than the batch engine."""
    events, ratios = EventEngine(design), []
    events.run(SEED, 0, 1)
    for _ in range(REPEATS):
        began = time.process_time()
        events.run(SEED, 0, EVENT_RUNS)
        middle = time.process_time()
        run_campaign(design, seed=SEED, runs=RUNS)
        slow, fast = middle - began, time.process_time() - middle
        ratios.append(slow / EVENT_RUNS / (fast / RUNS))
    return statistics.median(ratios)


def of_threads(design: Design) -> tuple[float, float]:
    """Wall-clock time of two threads over that of one, the best of several each (others can only
    disturb), and how many cores two threads were given at most: below 2 the first says little.
    """
    took: dict[int, list[float]] = {1: [], 2: []}
    given = []
    for _ in range(REPEATS):
        for threads, seconds in took.items():
            began = time.process_time()
            seconds.append(run_campaign(design, seed=SEED, runs=THREADED_RUNS, threads=threads).seconds)
            given.append((time.process_time() - began) / seconds[-1])
    return min(took[2]) / min(took[1]), max(given)


@contextmanager
def watched() -> Iterator[dict[str, float]]:
    """Note the processor seconds that each kernel takes, by name."""
    spent: dict[str, float] = defaultdict(float)
    plain = Kernel.__call__

    def timed(kernel: Kernel, *arguments: Any) -> Any:
        began = time.process_time()
        result = plain(kernel, *arguments)
        spent[kernel.plain.__name__] += time.process_time() - began
        return result

    Kernel.__call__ = timed  # type: ignore[method-assign, assignment]
    try:
        yield spent
    finally:
        Kernel.__call__ = plain  # type: ignore[method-assign]


def of_kernels(design: Design) -> dict[str, float]:
    """Nanoseconds of each kernel per contact edge, median over blocks of one size."""
    runs = 500
    engine, edges = BatchEngine(design, runs), edges_per_run(design) * runs
    engine.run(SEED, 0, runs)
    found: dict[str, list[float]] = defaultdict(list)
    for block in range(6 * REPEATS):
        with watched() as spent:
            engine.run(SEED, block * runs, runs)
        for name, seconds in spent.items():
            found[name].append(seconds * 1e9 / edges)
    return {name: statistics.median(values) for name, values in found.items()}


def report(*, long: bool) -> dict[str, Any]:
    """All of it."""
    load = os.getloadavg()[0]
    outside = of_processes(long=long)
    design = default_design()
    run_campaign(design, seed=SEED, runs=RUNS)
    ratio, given = of_threads(design)
    return {
        "scenario": SCENARIO,
        "runs": RUNS,
        "cores": os.cpu_count(),
        "load": load,
        **outside,
        "events_over_batch": of_engines(design),
        "two_threads_over_one": ratio,
        "two_threads_given_cores": given,
        "kernel_ns_per_edge": of_kernels(design),
    }


def in_words(found: dict[str, Any]) -> str:
    """The numbers for people."""
    memory = [
        f"peak memory, {int(runs):,} runs: {size:.0f} MB" for runs, size in found["peak_memory_mb"].items()
    ]
    kernels = found["kernel_ns_per_edge"]
    times = [
        f"{what}: {found[key + '_s']:.2f} s, {found[key + '_processor_s']:.2f} of processor time"
        for what, key in (
            ("--help", "help"),
            (f"{found['scenario']}, {found['runs']} runs in a fresh process, warm", "warm_start"),
            ("the same at the first use ever", "first_use"),
        )
    ]
    return "\n".join([
        f"machine: {found['cores']} cores, load {found['load']:.1f}",
        *times,
        *memory,
        f"event engine over batch engine, per run: {found['events_over_batch']:.0f}",
        f"two threads over one, wall clock: {found['two_threads_over_one']:.2f} "
        f"(they were given {found['two_threads_given_cores']:.1f} cores)",
        *(f"{name}: {value:.2f} ns per contact edge" for name, value in kernels.items()),
        f"all kernels: {sum(kernels.values()):.2f} ns per contact edge",
    ])  # fmt: skip


def main() -> int:
    """Exit code 0."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--json", metavar="FILE", help="write JSON to FILE, or to standard output for -")
    parser.add_argument("--long", action="store_true", help=f"measure the memory of {LARGE:,} runs too")
    asked = parser.parse_args()
    found = report(long=asked.long)
    deliver(found, asked.json, in_words(found))
    return 0


if __name__ == "__main__":
    sys.exit(main())
