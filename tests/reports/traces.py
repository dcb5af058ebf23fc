"""Wrong runs of ready scenarios to be told, and the command in this process."""

from __future__ import annotations

import functools

from click.testing import CliRunner, Result

from reports.evidence import Case, case_of
from reports.group import steptally
from scenarios.loading.load import Scenario, load_scenario
from simcore.engines.batch import BatchEngine
from simcore.judging.sums import CAUSES
from simcore.tracing.tracing import trace_run

BLOCK = 20
"""Runs of one search; wrong steps are picked from the first block that has any."""

SCENARIOS: dict[str, tuple[str, ...]] = {
    "capacitor-across-contact": (),
    "data-sheet-limits": (),
    "fast-twist": (),
    "half-cycle-misfit": (),
    "interlock": (),
    "large-capacitor": (),
    "lockout": (),
    "one-shot": ("counter.minimum_high=4 ms",),
    "long-leads": ("leads.rate=2000",),
    "no-filter": ("counter.positions=2", "counter.start=0"),
    "panel-knob": (),
    "power-up": ("filter.capacitor=4.7 uF",),
    "plain-input": (),
    "sampled-majority": (),
    "shaking-at-rest": (),
    "slow-clock": (),
    "slow-edge": (),
    "steering-diode": (),
    "supply-dips": ("supply.dips=300",),
    "two-clock-gates": (),
    "two-clock-gates again": ("counter.pulse=2 ms", "counter.minimum=1 ms", "filter.capacitor=1 nF"),
    "x4-no-filter": (),
}
"""Ready scenarios whose steps go wrong, each in its own way, with values set."""


@functools.cache
def scenario_of(name: str) -> Scenario:
    """The scenario with its values set."""
    return load_scenario(name.removesuffix(" again"), SCENARIOS.get(name, ()))


@functools.cache
def wrong_steps(name: str, seed: int) -> tuple[tuple[int, int, str], ...]:
    """(run, step, cause) of the wrong steps of a block of runs, by the batch engine."""
    design = scenario_of(name).design
    detail = BatchEngine(design, BLOCK).detail(seed, 0, BLOCK)
    offsets = detail.truth.steps.offsets
    return tuple(
        (run, step - int(offsets[run]) + 1, CAUSES[int(detail.causes[step])])
        for run in range(BLOCK)
        for step in range(int(offsets[run]), int(offsets[run + 1]))
        if detail.causes[step]
    )


@functools.cache
def case(name: str, seed: int, run: int, step: int) -> Case:
    """One step of one run, traced."""
    design = scenario_of(name).design
    return case_of(design, trace_run(design, seed, run), step)


def traced(*arguments: str) -> Result:
    """``steptally trace`` in this process."""
    return CliRunner().invoke(steptally, ["trace", *arguments])
