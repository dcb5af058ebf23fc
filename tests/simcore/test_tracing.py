"""The facts of one run: they are the record's, and agree with the judge and with the closed forms."""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest

from scenarios.loading.load import load_scenario
from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.judging.sums import CAUSES, VERDICTS
from simcore.judging.verdicts import verdict_of
from simcore.networks.analogue import Pole
from simcore.tracing.tracing import TracedRun, trace_run
from simcore.tracing.worst import search

NAMES = ("panel-knob", "slow-edge", "shaking-at-rest", "two-clock-gates", "supply-dips")
FEW = 40


@functools.cache
def design_of(name: str) -> tuple[Design, int]:
    scenario = load_scenario(name)
    return scenario.design, scenario.seed


@functools.cache
def traced(name: str, run: int) -> TracedRun:
    design, seed = design_of(name)
    return trace_run(design, seed, run)


@pytest.mark.parametrize("name", NAMES)
def test_verdicts_follow_from_the_facts(name: str) -> None:
    for run in range(3):
        for step in traced(name, run).steps:
            verdict = verdict_of(step.expected, step.received, step.moves, step.clean_moves)
            assert VERDICTS[verdict] == step.verdict
            assert step.received == sum(pulse.moved for pulse in step.pulses)
            assert step.moves == sum(pulse.asked != 0 for pulse in step.pulses)


@pytest.mark.parametrize("name", NAMES)
def test_steps_share_out_all_transitions_in_their_movements(name: str) -> None:
    found = traced(name, 1)
    shared = [each.index for step in found.steps for each in step.transitions]
    assert sorted(shared) == list(range(len(shared)))
    for step in found.steps:
        first = next(m for m in found.movements if m.first_step <= step.number < m.first_step + m.begun)
        whole = [m for m in found.movements if m.first_step == first.first_step]
        for each in step.transitions:
            assert whole[0].start <= each.tick <= whole[-1].end
    assert found.movements[-1].end <= found.end


@pytest.mark.parametrize("name", NAMES)
def test_an_input_turns_over_where_its_voltage_meets_the_threshold(name: str) -> None:
    """To within what the voltage moves in a tick; noise may bring it forward by its six sigma."""
    turned = 0
    for line in traced(name, 2).lines:
        node = line.node
        if node is None:
            continue
        logic = next(stage for stage in line.stages if stage.name == node.name)
        for tick, level in zip(logic.ticks.tolist(), logic.levels.tolist(), strict=True):
            rising, falling = node.thresholds_at(tick)
            up = level ^ logic.first ^ int(node.at(0) >= rising)
            threshold, volts = (rising if up else falling), node.at(tick)
            assert volts == pytest.approx(threshold, abs=6.0 * node.noise + 1e-6) or (
                (volts > threshold) == bool(up) and tick in node.knots
            )
            turned += 1
    assert turned > 0 or name == "shaking-at-rest"


def test_the_voltage_between_two_changes_is_an_exponential() -> None:
    """v_end + (v - v_end) exp(-t / RC), the law of any text on circuits, from each knot to the next."""
    node = traced("panel-knob", 2).lines[0].node
    assert node is not None
    pole: Pole = node.params
    for k in range(len(node.knots) - 1):
        start, end = int(node.knots[k]), int(node.knots[k + 1])
        if end == start:
            continue
        target, tau = (
            (pole.v_closed, pole.tau_closed) if node.states[k].closed else (pole.v_open, pole.tau_open)
        )
        share = math.exp(-(end - start) * 1e-12 / tau)
        assert node.volts_before(np.array([end]))[0] == pytest.approx(
            target + (node.at(start) - target) * share, abs=1e-9
        )


@pytest.mark.parametrize(("logic", "follows"), [("cmos-schmitt", True), ("ttl-plain", False)])
def test_thresholds_follow_the_supply_where_they_are_shares_of_it(logic: str, follows: bool) -> None:
    design = load_scenario("supply-dips", [f"input.part={logic}"]).design
    shares = set()
    for run in range(8):
        node = trace_run(design, 1, run).lines[0].node
        assert node is not None
        shares |= set(np.round(node.rising / node.rising[0], 9).tolist())
    assert sorted(shares) == ([pytest.approx(1.0 - design.dips.depth), 1.0] if follows else [1.0])


def test_the_worst_step_of_each_cause_is_none_better_than_any_other() -> None:
    design, seed = design_of("panel-knob")
    found = search(design, seed, FEW).steps
    assert found
    steps = [(run, step) for run in range(FEW) for step in traced("panel-knob", run).steps]
    for cause, (run, number) in found.items():
        worst = traced("panel-knob", run).step(number)
        assert worst.cause == cause
        off = abs(worst.received - worst.expected), worst.moves - worst.clean_moves
        for _, other in steps:
            if other.cause == cause:
                assert (abs(other.received - other.expected), other.moves - other.clean_moves) <= off
    detail = BatchEngine(design, FEW).detail(seed, 0, FEW)
    assert {CAUSES[cause] for cause in np.unique(detail.causes)} - {"none"} == set(found)


def test_the_spurious_run_has_the_most_counts_that_nobody_caused() -> None:
    design, seed = design_of("supply-dips")
    found = search(design, seed, FEW)
    counts = [sum(p.step == 0 and p.asked != 0 for p in traced("supply-dips", r).pulses) for r in range(FEW)]
    assert max(counts) > 0
    assert found.spurious == counts.index(max(counts))
    assert search(*design_of("panel-knob"), FEW).spurious is None


def test_no_step_beyond_the_last() -> None:
    found = traced("panel-knob", 2)
    with pytest.raises(IndexError, match=f"steps 1 to {len(found.steps)}, not 0"):
        found.step(0)
