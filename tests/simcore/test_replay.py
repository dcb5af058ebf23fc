"""Recorded traces through stages and counter: bursts, bounce-free counts, verdicts, causes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.base.records import Edges, Pulses
from simcore.base.ticks import NEVER
from simcore.counters.base import SETUP, WORST, Range
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.design import Design, StageEntry
from simcore.engines.batch import BatchEngine
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import Level, PlainInput, SchmittInput
from simcore.networks.single_pole import Direct, SeriesCapacitor
from simcore.tracing.replay import Replay, nominal, replay
from tests.simcore.builders import CLICKS, NO_SLIDES, WHOLE_CYCLE, design, filtered
from tests.simcore.recordings import END, MS, QUARTERS, US, cycle, line


def replayed(of: Design, a: Edges, b: Edges, settle: int = MS) -> Replay:
    return replay(of, a, b, settle, END)


def verdicts(done: Replay) -> list[tuple[int, int, str, str]]:
    """Expected, received, verdict and cause of each judged burst."""
    return [(each.expected, each.received, each.verdict_name, each.cause_name) for each in done.judged]


def of_run(edges: Edges, run: int) -> Edges:
    """One run out of a block."""
    lo, hi = int(edges.offsets[run]), int(edges.offsets[run + 1])
    return Edges(
        edges.times[lo:hi].copy(),
        edges.causes[lo:hi].copy(),
        np.array([0, hi - lo]),
        edges.first[run : run + 1].copy(),
    )


def pulse_lists(pulses: Pulses, run: int = 0) -> list[list[int]]:
    lo, hi = int(pulses.offsets[run]), int(pulses.offsets[run + 1])
    return [column[lo:hi].tolist() for column in (pulses.times, pulses.asked, pulses.moved, pulses.flags)]


def test_quiet_lines_have_no_bursts_and_count_nothing() -> None:
    done = replayed(design(), line([]), line([], first=1))
    assert done.reading.bursts == ()
    assert done.judged == ()
    assert done.reading.shortest_pause == NEVER
    assert done.totals == done.clean_totals
    assert done.totals.position == 0


@pytest.mark.parametrize(("closing", "opening"), [(0, 0), (1, 0), (3, 0), (0, 1), (0, 2), (2, 2), (1, 4)])
def test_net_without_filter_is_one_plus_closing_less_opening_chatter(closing: int, opening: int) -> None:
    """Net = 1 + k_c - k_o: extra falling edges of A count up while it closes, and down while it
    opens, for B has closed by then.  Arithmetic; common practice, no source.
    """
    done = replayed(design(), *cycle(closing_a=closing, opening_a=opening))
    assert done.totals.net == 1 + closing - opening
    assert done.clean_totals.net == 1
    expected = [(1, 1 + closing, "doubled" if closing else "right", "chatter" if closing else "none")]
    if opening:
        expected.append((0, -opening, "extra", "chatter"))
    assert verdicts(done) == expected


def test_chatter_of_the_direction_line_does_not_count() -> None:
    done = replayed(design(), *cycle(closing_b=5, opening_b=3))
    assert verdicts(done) == [(1, 1, "right", "none")]


burst_pairs = st.integers(0, 6)


@settings(max_examples=60, deadline=None)
@given(burst_pairs, burst_pairs, burst_pairs, burst_pairs, st.booleans())
def test_x4_is_blind_to_chatter_of_one_line_while_the_other_is_still(
    close_a: int, close_b: int, open_a: int, open_b: int, downward: bool
) -> None:
    """The x4 count of chatter on one channel telescopes to end state less start state (algebra)."""
    a, b = cycle(close_a, close_b, open_a, open_b)
    done = replayed(design(counter=Quadrature(4, 1)), *((b, a) if downward else (a, b)))
    assert done.totals.net == done.clean_totals.net == (-4 if downward else 4)
    due = [close_a, close_b, open_a, open_b]
    assert [each.verdict_name for each in done.judged] == ["flickered" if pairs else "right" for pairs in due]
    assert [each.pulses for each in done.judged] == [2 * pairs + 1 for pairs in due]


@pytest.mark.parametrize(("reopened_us", "counts"), [(240.5, 1), (241.0, 2)])
def test_a_filter_bridges_a_reopening_until_it_reaches_the_threshold(reopened_us: float, counts: int) -> None:
    """tau_open ln(V / (V - V_T+)) = 240.79456 us for 10k pull-up, 10k series, 10 nF, 5 V and 3.5 V:
    single-pole step response, e.g. Horowitz and Hill, The Art of Electronics, 3rd ed., 1.4.2 (from
    memory); the circuit is that of a published encoder data sheet.
    """
    network = SeriesCapacitor(Part(1e4, 0.0), Part(1e4, 0.0), Part(1e-8, 0.0))
    logic = SchmittInput(Level(Part(3.5, 0.0), 0), Level(Part(1.5, 0.0), 0), 0)
    of = Design(
        WHOLE_CYCLE, (), None, NO_SLIDES, Resistance(1e-6, 0.0), Part(5.0, 0.0),
        (StageEntry("filter", network), StageEntry("input", logic)), StepDirection(0, 0, 1, 0, 0, 0, 0, 0, 0),
        Range(0, 0, 0),
    )  # fmt: skip
    reopens = 20 * MS
    a = line([10 * MS, reopens, reopens + round(reopened_us * US), 40 * MS])
    done = replay(of, a, line([]), MS, END)
    assert done.stages == (("filter into input",), ("filter into input",))
    assert done.totals.up == counts
    assert done.clean_totals.up == 1
    assert [burst.words for burst in done.reading.bursts] == ["A closes", "A glitches", "A opens"]


def test_a_swallowed_cycle_is_missed() -> None:
    a, b = line([10 * MS, 10 * MS + 300 * US]), line([10 * MS + 100 * US, 10 * MS + 400 * US])
    done = replayed(nominal(design(filtered(1000.0))), a, b, 50 * US)
    assert verdicts(done) == [(1, 0, "missed", "swallowed")]
    assert done.totals.net == 0


def test_a_slower_line_a_swaps_the_order_and_reverses() -> None:
    slow, fast = (filtered(size)[0] for size in (1000.0, 10.0))
    stages = (
        StageEntry("slow", slow.item, (0,)),
        StageEntry("fast", fast.item, (1,)),
        *filtered(1.0)[1:],
    )
    a, b = line([10 * MS, 30 * MS]), line([10 * MS + 500 * US, 30 * MS + 500 * US])
    done = replayed(nominal(design(stages)), a, b, 100 * US)
    assert verdicts(done) == [(1, -1, "reversed", "swapped order")]


@pytest.mark.parametrize("upward", [True, False])
def test_a_direction_within_the_set_up_time_is_a_late_direction_and_worst_counts_against_the_movement(
    upward: bool,
) -> None:
    counter = StepDirection(0, 0, 1, 2 * US, 0, 0, 0, WORST, 0)
    a, b = line([10 * MS, 30 * MS]), line([10 * MS - US], first=1 if upward else 0)
    done = replayed(design(counter=counter), a, b)
    expected = 1 if upward else -1
    assert verdicts(done) == [(expected, -expected, "reversed", "late direction")]
    assert done.pulses.flags.tolist() == [SETUP]
    assert done.totals.doubtful == 1


def test_an_end_stop_holds_the_position_and_is_no_error() -> None:
    period = 40 * MS
    a = line([at + k * period for k in range(4) for at in (QUARTERS[0], QUARTERS[2])])
    b = line([at + k * period for k in range(4) for at in (QUARTERS[1], QUARTERS[3])])
    done = replay(design(place=Range(3, 1, 0)), a, b, MS, 200 * MS)
    assert done.positions.tolist() == done.clean_positions.tolist() == [2, 2, 2, 2]
    assert done.totals.held == 3
    assert done.totals.doubtful == 0
    assert {each.verdict_name for each in done.judged} == {"right"}


def test_a_position_that_wraps_is_shown_within_its_range() -> None:
    a = line([at + k * 40 * MS for k in range(2) for at in (QUARTERS[0], QUARTERS[2])])
    b = line([at + k * 40 * MS for k in range(2) for at in (QUARTERS[1], QUARTERS[3])])
    done = replay(design(place=Range(2, 1, 1)), a, b, MS, 200 * MS)
    assert done.positions.tolist() == [0, 1]
    assert done.totals.net == 2


@pytest.mark.parametrize("capacitor", [None, 22.0, 220.0])
def test_the_contacts_of_a_simulated_run_replay_to_the_same_pulses(capacitor: float | None) -> None:
    """Seed and run draw the same parts and coins, so nothing may differ from the simulation."""
    of = design(
        () if capacitor is None else filtered(capacitor), counter=StepDirection(0, 0, 1, US, US, US, US, 0, 1)
    )
    detail = BatchEngine(of, 30).detail(5, 100, 30)
    for run in range(30):
        a, b = (of_run(detail.lines[number][0], run) for number in (0, 1))
        done = replay(of, a, b, MS, int(detail.truth.transitions.ends[run]), 5, 100 + run)
        assert pulse_lists(done.pulses) == pulse_lists(detail.pulses, run)
        for number in (0, 1):
            assert (
                done.edges[number][-1].times.tolist() == of_run(detail.lines[number][-1], run).times.tolist()
            )


def test_bursts_that_are_shorter_than_the_settling_time_give_the_simulated_truth() -> None:
    """Bursts of this contact end within 1 ms, and the crossings of a click lie further apart."""
    detail = BatchEngine(design(), 40).detail(3, 0, 40)
    steps = detail.truth.steps
    checked = 0
    for run in range(40):
        transitions = detail.truth.transitions
        lo, hi = int(transitions.offsets[run]), int(transitions.offsets[run + 1])
        if np.diff(transitions.times[lo:hi]).min() < 2 * MS:
            continue
        checked += 1
        a, b = (of_run(detail.lines[number][0], run) for number in (0, 1))
        done = replay(design(), a, b, MS, int(transitions.ends[run]))
        assert [burst.start for burst in done.reading.bursts] == transitions.times[lo:hi].tolist()
        assert done.reading.movements.directions.tolist() == transitions.directions[lo:hi].tolist()
        wanted = detail.truth.clean.net[int(steps.offsets[run]) : int(steps.offsets[run + 1])].sum()
        assert done.clean_totals.net == wanted == CLICKS.moves
    assert checked >= 20


def test_nominal_parts_do_not_depend_on_the_draws() -> None:
    a, b = cycle(closing_a=2, opening_a=1)
    filtered_design = nominal(design(filtered(33.0)))
    runs = [
        pulse_lists(replay(filtered_design, a, b, MS, END, seed, run).pulses)
        for seed, run in ((1, 0), (9, 77))
    ]
    assert runs[0] == runs[1]
    drawn = [replay(design(filtered(33.0)), a, b, MS, END, 1, run).pulses.times.tolist() for run in (0, 1)]
    assert drawn[0] != drawn[1]


def test_a_nominal_plain_input_turns_over_midway() -> None:
    low, high = (Level(Part(share, 0.1), 1) for share in (0.3, 0.8))
    stages = (StageEntry("pull-up", Direct(Part(1e4, 0.05))), StageEntry("plain", PlainInput(low, high, 1)))
    middle = nominal(design(stages)).stages[1].item
    assert middle.low == middle.high
    assert middle.low.part.nominal == pytest.approx(0.55 * 3.3)
    assert (middle.low.part.tolerance, middle.low.of_supply, middle.inverting) == (0.0, 0, 1)


def test_every_pulse_belongs_to_the_burst_that_caused_it() -> None:
    done = replayed(nominal(design(filtered(1.0))), *cycle(closing_a=2, opening_a=2))
    owners = [done.reading.bursts[cause >> 4] for cause in done.pulses.causes.tolist()]
    assert [burst.line for burst in owners] == [0] * len(owners)
    for time, burst in zip(done.pulses.times.tolist(), owners, strict=True):
        assert burst.start <= time <= burst.end + MS
    received = [sum(1 for owner in owners if owner.start == at) for at in (QUARTERS[0], QUARTERS[2])]
    assert received == [each.pulses for each in done.judged] == [3, 2]
