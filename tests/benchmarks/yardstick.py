"""How much slower than plain C the batch engine is, for the whole job from draws to tallies.

    python -m tests.benchmarks.yardstick [--json FILE|-] [--runs N] [--pairs K]

Both run the ready scenario on one thread, warm, one after the other and again; the ratio is the
median over the pairs.  Time is that of the processor, so that other programs disturb little.
The batch engine goes block by block, as any campaign does; C goes through all runs at once.
Margins, which C does not gather, are left out (see margins.py for what they cost).
"""

from __future__ import annotations

import argparse
import json
import pathlib
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import run_campaign
from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.judging.tally import Tally
from tests.benchmarks.fused import Fused, NoCompilerError

SCENARIO = "panel-knob"
RUNS = 2000
PAIRS = 21
SEED = 1
COUNTED_RUNS = 100


@dataclass(frozen=True)
class Measured:
    """Seconds of the batch engine and of C, pair by pair, and whether their tallies were equal.

    Without a C compiler ``fused`` is empty.
    """

    batch: list[float]
    fused: list[float]
    tallies_equal: bool

    @property
    def ratio(self) -> float:
        """Median over the pairs of batch over C."""
        return statistics.median(b / c for b, c in zip(self.batch, self.fused, strict=True))


def default_design() -> Design:
    """The design that speed is promised for."""
    return load_scenario(SCENARIO).design


def same(one: Tally, other: Tally) -> bool:
    """Whether two tallies agree in every number."""
    arrays = zip(one.sums, other.sums, strict=True)
    return one.runs == other.runs and one.errors == other.errors and all((x == y).all() for x, y in arrays)


def edges_per_run(design: Design, runs: int = COUNTED_RUNS) -> float:
    """Mean number of changes of both raw contacts in a run."""
    detail = BatchEngine(design, runs).detail(SEED, 0, runs)
    return sum(int(line[0].offsets[-1]) for line in detail.lines) / runs


def timed(work: Callable[[], Tally]) -> tuple[Tally, float]:
    """What ``work`` gives, and the processor seconds it took."""
    began = time.process_time()
    tally = work()
    return tally, time.process_time() - began


def measure(design: Design, runs: int, pairs: int, fused: Fused | None) -> Measured:
    """Interleaved pairs, batch before C, after one of each to warm up; batch alone without C."""

    def batch() -> Tally:
        return run_campaign(design, seed=SEED, runs=runs, threads=1, margins=False).tally

    expected = batch()
    equal = fused is None or same(expected, fused.tally(SEED, runs))
    slow, fast = [], []
    for _ in range(pairs):
        tally, seconds = timed(batch)
        slow.append(seconds)
        equal = equal and same(tally, expected)
        if fused is not None:
            tally, seconds = timed(lambda: fused.tally(SEED, runs))
            fast.append(seconds)
            equal = equal and same(tally, expected)
    return Measured(slow, fast, equal)


def report(runs: int, pairs: int) -> dict[str, Any]:
    """The numbers; None for those of C, with a reason, when there is no C compiler."""
    design = default_design()
    fused, reason = None, None
    try:
        fused = Fused(design)
    except NoCompilerError as error:
        reason = str(error)
    measured = measure(design, runs, pairs, fused)
    scale = 1.0e9 / (runs * edges_per_run(design))
    return {
        "scenario": SCENARIO,
        "runs": runs,
        "pairs": pairs,
        "ratio": measured.ratio if fused else None,
        "tallies_equal": measured.tallies_equal if fused else None,
        "ns_per_edge": statistics.median(measured.batch) * scale,
        "c_ns_per_edge": statistics.median(measured.fused) * scale if fused else None,
        "reason": reason,
    }


def in_words(found: dict[str, Any]) -> str:
    """The numbers for people."""
    if found["ratio"] is None:
        return f"No ratio: {found['reason']}.  The batch engine takes {found['ns_per_edge']:.1f} ns per edge."
    return (
        f"{found['scenario']}, {found['runs']} runs on one thread, median of {found['pairs']} pairs: "
        f"the batch engine takes {found['ratio']:.2f} times as long as C "
        f"({found['ns_per_edge']:.1f} against {found['c_ns_per_edge']:.1f} ns per contact edge); "
        f"the tallies are {'equal' if found['tallies_equal'] else 'DIFFERENT'}."
    )


def deliver(found: dict[str, Any], target: str | None, words: str) -> None:
    """Print the words, or write the numbers as JSON to a file, or to standard output for "-"."""
    text = json.dumps(found, indent=2) + "\n"
    if target is None:
        print(words)
    elif target == "-":
        sys.stdout.write(text)
    else:
        pathlib.Path(target).write_text(text, encoding="utf-8")


def positive(text: str) -> int:
    """A whole number of at least 1, for argparse."""
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError(f"{text} is below 1")
    return value


def main() -> int:
    """Exit code 0, also without a compiler; 1 when the tallies differ."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--json", metavar="FILE", help="write JSON to FILE, or to standard output for -")
    parser.add_argument("--runs", type=positive, default=RUNS, help=f"runs per measurement [{RUNS}]")
    parser.add_argument("--pairs", type=positive, default=PAIRS, help=f"pairs of measurements [{PAIRS}]")
    asked = parser.parse_args()
    found = report(asked.runs, asked.pairs)
    deliver(found, asked.json, in_words(found))
    return 1 if found["tallies_equal"] is False else 0


if __name__ == "__main__":
    sys.exit(main())
