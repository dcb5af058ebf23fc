"""How much longer a campaign takes that gathers margins than one that does not.

    python -m tests.benchmarks.margins [--json FILE|-] [--runs N] [--pairs K] [SCENARIO ...]

Both run on one thread, warm, in turns within one process; the ratio is the median over the pairs, of
processor time.  Without a name, the scenario that speed is promised for and a few whose work lies
elsewhere: no filter, so that every bounce reaches the counter; a general network; two sections.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from typing import Any

from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import run_campaign
from simcore.design import Design
from tests.benchmarks.yardstick import PAIRS, SCENARIO, SEED, deliver, positive

SCENARIOS = (SCENARIO, "no-filter", "x4-no-filter", "supply-dips", "two-section-filter")
RUNS = 1000


def seconds(design: Design, runs: int, *, margins: bool) -> float:
    """Processor seconds of a campaign."""
    began = time.process_time()
    run_campaign(design, seed=SEED, runs=runs, margins=margins)
    return time.process_time() - began


def ratio(design: Design, runs: int, pairs: int) -> float:
    """Time with margins over time without, the median of interleaved pairs."""
    seconds(design, 10, margins=True), seconds(design, 10, margins=False)
    with_and_without = [
        (seconds(design, runs, margins=True), seconds(design, runs, margins=False)) for _ in range(pairs)
    ]
    return statistics.median(gathered / plain for gathered, plain in with_and_without)


def report(names: list[str], runs: int, pairs: int) -> dict[str, Any]:
    """The ratio for each scenario."""
    found = {name: ratio(load_scenario(name).design, runs, pairs) for name in names}
    return {"runs": runs, "pairs": pairs, "with_over_without": found}


def in_words(found: dict[str, Any]) -> str:
    """The numbers for people."""
    return "\n".join(
        f"{name}: {value:.3f} times as long with margins"
        for name, value in found["with_over_without"].items()
    )


def main() -> int:
    """Exit code 0."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("scenarios", nargs="*", default=list(SCENARIOS), help="names or files")
    parser.add_argument("--json", metavar="FILE", help="write JSON to FILE, or to standard output for -")
    parser.add_argument("--runs", type=positive, default=RUNS, help=f"runs per measurement [{RUNS}]")
    parser.add_argument("--pairs", type=positive, default=PAIRS, help=f"pairs of measurements [{PAIRS}]")
    asked = parser.parse_args()
    found = report(asked.scenarios, asked.runs, asked.pairs)
    deliver(found, asked.json, in_words(found))
    return 0


if __name__ == "__main__":
    sys.exit(main())
