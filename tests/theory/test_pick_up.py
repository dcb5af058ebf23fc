"""Pick-up: its laws, the causes of its edges, and what it makes of a count."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from simcore.base.draws import Part, named_address
from simcore.base.records import PICK_UP, WATCHED, pack_cause
from simcore.design import Design, HandEntry, StageEntry
from simcore.engines.batch import BatchEngine
from simcore.hand.base import REST
from simcore.hand.shaft import LEAD
from simcore.judging.sums import CAUSES
from simcore.stages.pickup import EITHER, HIGH, LOW, PickUp
from simcore.stages.quiet_time import QuietTime
from tests.theory import designs as make
from tests.theory.filtering import Trace, through
from tests.theory.looking import look

STRAY = pack_cause(-1, PICK_UP)
MILLISECOND = 10**9
SECOND = 10**12


def pulses(spec: PickUp, seconds: int, level: int = 0) -> list[tuple[int, int]]:
    """(Begin, end) of the pulses on a line at rest that end within so many seconds."""
    seen = through(spec, Trace(level, ()), end=seconds * SECOND - WATCHED)
    assert {cause for _, cause in seen.edges} <= {STRAY}
    return list(zip(seen.times[::2], seen.times[1::2], strict=False))


def test_gaps_are_exponential_and_widths_lognormal() -> None:
    """Kolmogorov and Smirnov's test at one in ten thousand, with a fixed seed."""
    found = pulses(PickUp(500.0, 200e-6, 0.4, EITHER), 8)
    begins, ends = (np.array(column, float) / SECOND for column in zip(*found, strict=True))
    assert len(found) > 3000
    gaps = begins - np.concatenate([[0.0], ends[:-1]])
    assert stats.kstest(gaps, "expon", args=(0.0, 1.0 / 500.0)).pvalue > 1e-4
    assert stats.kstest(np.log((ends - begins) / 200e-6), "norm", args=(0.0, 0.4)).pvalue > 1e-4
    assert abs(stats.spearmanr(gaps, ends - begins).statistic) < 4.0 / math.sqrt(len(found))


def test_pulses_are_those_of_the_line_and_the_run_wherever_the_stage_stands() -> None:
    """Two designs under one seed meet the same pulses; two lines, runs or sources do not."""
    spec, nothing, end = PickUp(500.0, 1e-5, 0.0, EITHER), Trace(0, ()), SECOND
    here = through(spec, nothing, 1, 0, 2, end)
    assert through(spec, nothing, 1, 0, 8, end) == here
    others = [
        through(spec, nothing, 1, 0, 3, end),
        through(spec, nothing, 1, 1, 2, end),
        through(spec, nothing, 2, 0, 2, end),
        through(spec._replace(source=1), nothing, 1, 0, 2, end),
    ]
    for other in others:
        assert not set(other.times) & set(here.times)


def test_sources_are_told_apart_by_the_wiring() -> None:
    """Two of one kind on a line would else cancel."""
    spec = PickUp(20.0, 1e-5, 0.0, EITHER)
    layers = make.design(stages=tuple(StageEntry(name, spec) for name in ("near", "far"))).chain.layers
    assert len({layer.line[0].source for layer in layers}) == 2


@settings(max_examples=200, deadline=None)
@given(st.lists(st.integers(1, 3 * MILLISECOND), max_size=30), st.integers(0, 1), st.integers(0, 2**30))
def test_a_pulse_that_turns_the_line_over_hides_no_edge(gaps: list[int], first: int, seed: int) -> None:
    """Every edge of the input shows at its own tick with its own cause, and each pulse adds two."""
    times = np.cumsum(np.array(gaps, np.int64)).tolist()
    source = Trace(first, tuple((time, 16 * i) for i, time in enumerate(times)))
    end = 100 * MILLISECOND
    spec = PickUp(1000.0, 5e-4, 0.5, EITHER)
    seen = through(spec, source, seed, end=end - WATCHED)
    own = [edge for edge in seen.edges if edge[1] != STRAY]
    assert tuple(own) == source.edges
    alone = through(spec, Trace(first, ()), seed, end=end - WATCHED)
    assert [edge for edge in seen.edges if edge[1] == STRAY] == list(alone.edges)


@pytest.mark.parametrize(("polarity", "held"), [(HIGH, 1), (LOW, 0)])
def test_a_pulse_that_holds_the_line_shows_the_input_late(polarity: int, held: int) -> None:
    """An input that rests at the held level shows no pulse; if it leaves that level meanwhile, this
    shows at the end of the pulse, with its own cause.  The other way round both ends are stray.
    """
    spec = PickUp(100.0, 1e-3, 0.0, polarity)
    (begin, end), *_ = pulses(spec, 1, 1 - held)
    middle = (begin + end) // 2
    until = end + 1 - WATCHED
    assert through(spec, Trace(held, ()), end=until).edges == ()
    leaves = Trace(held, ((middle, 16),))
    assert through(spec, leaves, end=until).edges == ((end, 16),)
    stays = Trace(1 - held, ((middle, 16), (middle + 1, 32)))
    assert through(spec, stays, end=until).edges == ((begin, STRAY), (end, STRAY))
    joins = Trace(1 - held, ((middle, 16),))
    assert through(spec, joins, end=until).edges == ((begin, STRAY),)


def resting(polarity: int, width: float, *more: StageEntry) -> Design:
    """Half a second of rest with pick-up on the clock line, which is high."""
    entries = (StageEntry("leads", PickUp(200.0, width, 0.0, polarity), (0,)), *more)
    still = make.gesture(REST, steps=0.0, duration=0.5, dwell=0.0)
    return make.design(HandEntry("rest", still, 1), stages=entries)


def test_each_pulse_on_the_clock_is_a_spurious_count() -> None:
    runs = 20
    sums = BatchEngine(resting(LOW, 1e-5), runs).run(1, 0, runs).sums
    seconds = (LEAD + WATCHED) / SECOND + 0.5
    alone = PickUp(200.0, 1e-5, 0.0, LOW, named_address("leads") // 2)
    begun = [
        sum(level == 0 for _, level in through(alone, Trace(1, ()), 1, run,
            end=round(seconds * SECOND) - WATCHED).changes)
        for run in range(runs)
    ]  # fmt: skip
    assert int(sums.spurious[0]) == int(sums.strays[PICK_UP]) == sum(begun) > 1000
    assert int(BatchEngine(resting(HIGH, 1e-5), runs).run(1, 0, runs).sums.spurious[0]) == 0


@pytest.mark.parametrize(("ticks", "quiet"), [(9e-6, False), (11e-6, True)])
def test_a_quiet_time_longer_than_the_pulses_stops_them(ticks: float, quiet: bool) -> None:
    behind = StageEntry("filter", QuietTime(Part(ticks, 0.0)))
    counted = int(BatchEngine(resting(LOW, 1e-5, behind), 20).run(1, 0, 20).sums.spurious[0])
    assert (counted == 0) == quiet


def test_a_step_that_pick_up_spoils_says_so() -> None:
    """Clean contacts and long pulses on the direction line: what goes wrong is put down to them."""
    leads = StageEntry("leads", PickUp(50.0, 2e-3, 0.3, EITHER), (1,))
    runs = look(make.design(HandEntry("clicks", make.gesture(), 8), stages=(leads,)), 1, 50)
    causes = [CAUSES[cause] for run in runs for cause in run.causes if cause]
    assert len(causes) > 20
    assert causes.count("pick-up") > 0.9 * len(causes)
