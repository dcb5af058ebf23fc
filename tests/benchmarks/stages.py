"""What each kind of stage and counter costs, in ns per edge that reaches it.

    python -m tests.benchmarks.stages [--json FILE|-]

Each row is a layer of a ready scenario, driven again and again over the edges that reach it there;
processor time, the median of several.  The last rows are samplers over a minute in which nothing
happens: what they cost is per minute and must not depend on the clock.
"""

from __future__ import annotations

import argparse
import functools
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from scenarios.loading.catalogue import ready_names
from scenarios.loading.load import Scenario, load_scenario
from simcore.base.draws import Part
from simcore.base.records import Edges, empty_edges, empty_pulses
from simcore.counters.base import drive_counter
from simcore.design import Layer
from simcore.engines.batch import BatchEngine
from simcore.engines.blocks import BlockDetail, as_logic, seen_by_counter
from simcore.stages.base import drive_stage
from simcore.stages.clock import Clock
from simcore.stages.pair import drive_pair
from simcore.stages.sampled import Agree, Sampled
from tests.benchmarks.yardstick import SEED, deliver

RUNS = 400
REPEATS = 7


def cost(work: Callable[[], Any]) -> float:
    """Processor nanoseconds of ``work``, the median of several, once it is compiled."""
    work()
    spent = []
    for _ in range(REPEATS):
        began = time.process_time()
        work()
        spent.append((time.process_time() - began) * 1e9)
    return statistics.median(spent)


def kind_of(layer: Layer, scenario: Scenario) -> str:
    """The kinds of the stages that a layer is made of."""
    kinds = {str(stage["name"]): str(stage["kind"]) for stage in scenario.resolved.get("stage", [])}
    return " into ".join(kinds.get(name, name) for name in layer.name.split(" into "))


def room_for(source: Edges, runs: int) -> Edges:
    """Room for what a stage makes of ``source``."""
    return empty_edges(4 * int(source.offsets[-1]) + 64 * runs, runs)


def layer_costs(scenario: Scenario, engine: BatchEngine, detail: BlockDetail) -> Iterator[tuple[str, float]]:
    """Each layer of the scenario with its ns per edge."""
    ends = detail.truth.transitions.ends
    depth = [0, 0]
    for layer in engine.chain.layers:
        sources = [
            lines[at] if at else as_logic(engine.chain, line, lines[0])
            for line, (lines, at) in enumerate(zip(detail.lines, depth, strict=True))
        ]
        served = [line for line in (0, 1) if layer.serves(line)]
        edges = sum(int(sources[line].offsets[-1]) for line in served)
        outs = [room_for(source, RUNS) for source in sources]

        def work(layer: Layer = layer, sources: list[Edges] = sources, outs: list[Edges] = outs) -> None:
            if layer.pair is not None:
                a, b = sources
                done = drive_pair(layer.pair, SEED, 0, layer.address, a, b, ends, outs[0], outs[1])
                assert done == RUNS
                return
            for line, spec in enumerate(layer.line):
                if spec is not None:
                    done = drive_stage(spec, SEED, 0, layer.address + line, sources[line], ends, outs[line])
                    assert done == RUNS

        yield kind_of(layer, scenario), cost(work) / max(edges, 1)
        for line in served:
            depth[line] += 1


def counter_cost(scenario: Scenario, engine: BatchEngine, detail: BlockDetail) -> tuple[str, float]:
    """The scenario's counter with its ns per edge."""
    design = engine.design
    a, b = seen_by_counter(engine.chain, detail.lines)
    edges = int(a.offsets[-1] + b.offsets[-1])
    pulses = empty_pulses(2 * edges + 8 * RUNS, RUNS)

    def work() -> None:
        drive_counter(design.counter, design.range, SEED, 0, a, b, detail.truth.transitions, pulses)

    return f"counter: {scenario.resolved['counter']['kind']}", cost(work) / max(edges, 1)


def report() -> dict[str, Any]:
    """Cost by kind, from the first ready scenario that has it."""
    found: dict[str, dict[str, Any]] = {}
    for name in ready_names():
        scenario = load_scenario(name)
        engine = BatchEngine(scenario.design, RUNS)
        detail = engine.detail(SEED, 0, RUNS)
        rows = [*layer_costs(scenario, engine, detail), counter_cost(scenario, engine, detail)]
        for kind, nanoseconds in rows:
            found.setdefault(kind, {"ns_per_edge": nanoseconds, "scenario": name})
    return {"kinds": found, "idle_minute_us": idle_minutes()}


def idle_minutes() -> dict[str, float]:
    """Microseconds that samplers take over a minute with one edge at either end, by their clock."""
    minute = 60_000_000_000_000
    source = Edges(
        np.array([1_000_000, minute], np.int64), np.array([0, 16], np.int32),
        np.array([0, 2], np.int64), np.zeros(1, np.uint8),
    )  # fmt: skip
    out, ends = empty_edges(64, 1), np.array([minute], np.int64)
    found = {}
    for name, period in (("1 kHz", 1.0e-3), ("1 MHz", 1.0e-6)):
        spec = Sampled(Clock(Part(period, 0.0), 1), Agree(4))
        work = functools.partial(drive_stage, spec, SEED, 0, 0, source, ends, out)
        found[f"agree, 4 samples at {name}"] = cost(work) * 1e-3
    return found


def in_words(found: dict[str, Any]) -> str:
    """The numbers for people."""
    rows = sorted(found["kinds"].items())
    wide = max(len(kind) for kind, _ in rows)
    return "\n".join(
        [
            *(
                f"{kind:<{wide}}  {row['ns_per_edge']:8.1f} ns per edge  ({row['scenario']})"
                for kind, row in rows
            ),
            *(f"a minute of idle, {what}: {us:.1f} us" for what, us in found["idle_minute_us"].items()),
        ]
    )


def main() -> int:
    """Exit code 0."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--json", metavar="FILE", help="write JSON to FILE, or to standard output for -")
    asked = parser.parse_args()
    found = report()
    deliver(found, asked.json, in_words(found))
    return 0


if __name__ == "__main__":
    sys.exit(main())
