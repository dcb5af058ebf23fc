"""A shaft that shakes on a contact's boundary.  All of this file: common practice, no source."""

from __future__ import annotations

import functools

import numpy as np

from simcore.base.records import Ints
from simcore.campaigns.campaign import run_campaign
from simcore.engines.batch import BatchEngine
from simcore.engines.blocks import BlockDetail
from simcore.judging.tally import Tally
from tests.scenarios.samples import load_text

RUNS = 200
UNDEPENDABLE_B = """\
[encoder]
detents = 20
cycles = 20
rest = "-45 deg"
[contacts]
part = "ordinary"
[[hand]]
gesture = "rest"
duration = "0.4 s"
vibration = "0.4 deg"
frequency = "25 Hz"
[counter]
"""
ON_A = 'kind = "step-direction"\nclock = "A falling"\ndirection = "B"\n'
ON_B = 'kind = "step-direction"\nclock = "B falling"\ndirection = "A"\n'
FULL = 'kind = "quadrature"\ndecoding = "x4"\n'


@functools.cache
def resting(counter: str) -> Tally:
    """A whole-cycle encoder at rest, of which B has a boundary right there."""
    design = load_text(UNDEPENDABLE_B + counter).design
    return run_campaign(design, seed=1, runs=RUNS).tally


def test_counting_on_a_stands_still() -> None:
    found = resting(ON_A)
    assert found.steps == found.verdicts["right"] == RUNS
    assert found.exact_runs == RUNS


def test_full_decoding_flickers_but_keeps_its_count() -> None:
    found = resting(FULL)
    assert found.verdicts["flickered"] == RUNS
    assert found.exact_runs == RUNS


def test_counting_on_b_runs_away() -> None:
    """Each swing over the boundary closes B once with A open: all counts go one way."""
    found = resting(ON_B)
    assert found.verdicts["doubled"] == RUNS
    assert found.exact_runs == 0


def test_with_clean_contacts_the_geometry_is_to_blame() -> None:
    design = load_text(UNDEPENDABLE_B.replace('part = "ordinary"', 'kind = "clean"') + ON_B).design
    found = run_campaign(design, seed=1, runs=20).tally
    assert found.wrong == 20
    assert {cause: count for cause, count in found.causes.items() if count} == {"misfit": 20}


def test_the_caution_names_the_line_to_clock_from() -> None:
    (caution,) = load_text(UNDEPENDABLE_B + ON_A).cautions
    assert "Contact B has a boundary within" in caution
    assert "clock the counter from line A" in caution
    settled = UNDEPENDABLE_B.replace('rest = "-45 deg"\n', "")
    assert load_text(settled + ON_A).cautions == ()
    (caution,) = load_text(UNDEPENDABLE_B.replace("-45", "45") + ON_A).cautions
    assert "clock the counter from line B" in caution
    loose = settled.replace("cycles = 20\n", 'cycles = 20\ntolerance = { rest = "46 deg" }\n')
    (caution,) = load_text(loose + ON_A).cautions
    assert "no line is safe" in caution
    assert load_text(UNDEPENDABLE_B.replace("detents = 20", "detents = 0") + ON_A).cautions == ()


PARKED = """\
[encoder]
detents = 0
cycles = 20
rest = "45 deg"
[contacts]
kind = "clean"
[[hand]]
name = "parked"
gesture = "rest"
duration = "DURATION"
vibration = "0.4 deg"
frequency = "25 Hz"
[[hand]]
gesture = "path"
times = ["0 s", "20 ms"]
angles = ["0 deg", "2.25 deg"]
[[hand]]
name = "off the boundary"
gesture = "rest"
duration = "DURATION"
vibration = "0.4 deg"
frequency = "25 Hz"
[counter]
kind = "quadrature"
"""


def edges_by_gesture(duration: str) -> tuple[BlockDetail, Ints]:
    """Edges of both contacts of one run, by the gesture that they belong to."""
    design = load_text(PARKED.replace("DURATION", duration)).design
    detail = BatchEngine(design, 1).detail(1, 0, 1)
    counts = np.zeros(len(design.hand), np.int64)
    for line in (0, 1):
        edges = detail.lines[line][0]
        rows = edges.causes[: edges.offsets[1]] >> 4
        gestures = detail.truth.steps.gestures[detail.truth.transitions.steps[rows]]
        counts += np.bincount(gestures, minlength=counts.size)
    return detail, counts


def test_a_parked_shaft_chatters_without_end_until_moved() -> None:
    """Two crossings for each swing to and fro, for as long as it lasts; none once it is moved off."""
    for duration, swings in (("0.4 s", 20), ("2 s", 100), ("10 s", 500)):
        detail, counts = edges_by_gesture(duration)
        assert swings - 2 <= counts[0] <= swings
        assert counts[1] <= 1
        assert counts[2] == 0
        assert detail.result.errors[0] == 0
