"""How much longer a campaign takes that keeps its blocks in a ledger than one that does not.

    python -m tests.benchmarks.ledger [--json FILE|-] [--runs N] [--pairs K] [SCENARIO ...]

Both run on one thread, warm, in turns within one process; the ratio is the median over the pairs, of
processor time.  Each campaign has a new ledger in a temporary folder.  Told as well: a campaign that finds
all its runs in the ledger, as a share of one that simulates them; the room of a block; what opening takes,
with the check of the whole file.
"""

from __future__ import annotations

import argparse
import pathlib
import statistics
import sys
import tempfile
import time
from typing import Any

from scenarios.ledger import LedgerFile, compressed, packed
from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import run_campaign
from simcore.campaigns.course import runs_per_block
from simcore.campaigns.ledger import Ledger
from simcore.design import Design
from tests.benchmarks.yardstick import PAIRS, SCENARIO, SEED, deliver, positive

SCENARIOS = (SCENARIO, "no-filter", "two-section-filter")
RUNS = 5000


def seconds(design: Design, runs: int, ledger: Ledger | None, *, margins: bool = True) -> float:
    """Processor seconds of a campaign."""
    began = time.process_time()
    run_campaign(design, seed=SEED, runs=runs, ledger=ledger, margins=margins)
    return time.process_time() - began


def measured(design: Design, runs: int, pairs: int, *, margins: bool) -> dict[str, float]:
    """Ratios, the median of interleaved pairs, and the room of a block."""
    kept, found, opening = [], [], []
    seconds(design, 10, None, margins=margins)
    for _ in range(pairs):
        plain = seconds(design, runs, None, margins=margins)
        with tempfile.TemporaryDirectory() as folder:
            place = pathlib.Path(folder) / "ledger.sqlite"
            with LedgerFile(place) as ledger:
                kept.append(seconds(design, runs, ledger, margins=margins) / plain)
            began = time.process_time()
            with LedgerFile(place) as ledger:
                opening.append(time.process_time() - began)
                found.append(seconds(design, runs, ledger, margins=margins) / plain)
    size = min(runs, runs_per_block(design))
    block = run_campaign(design, seed=SEED, runs=size, margins=margins).tally
    return {
        "with_over_without": statistics.median(kept),
        "found_over_simulated": statistics.median(found),
        "opening_seconds": statistics.median(opening),
        "bytes_per_block": len(compressed(packed(block))),
        "runs_per_block": size,
    }


def report(names: list[str], runs: int, pairs: int) -> dict[str, Any]:
    """The figures for each scenario, with margins and without."""
    found = {}
    for name in names:
        design = load_scenario(name).design
        found[name] = {
            kind: measured(design, runs, pairs, margins=margins)
            for kind, margins in (("with margins", True), ("without margins", False))
        }
    return {"runs": runs, "pairs": pairs, "scenarios": found}


def in_words(found: dict[str, Any]) -> str:
    """The numbers for people."""
    return "\n".join(
        f"{name}, {kind}: {each['with_over_without']:.3f} times as long with a ledger; all runs found there: "
        f"{each['found_over_simulated']:.4f}; {each['bytes_per_block']} bytes for a block of "
        f"{each['runs_per_block']} runs; opening {1000.0 * each['opening_seconds']:.1f} ms"
        for name, kinds in found["scenarios"].items()
        for kind, each in kinds.items()
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
