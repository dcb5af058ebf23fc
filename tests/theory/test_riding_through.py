"""When a section with hysteresis passes one edge per transition, whatever the chatter.

Let v_closed < falling < rising < v_open, and call *gap* an open time, *pause* a closed time that
lies inside a burst.  Write up(v) = tau_open ln((v_open - v) / (v_open - rising)) for the time to
charge from v to the rising threshold, and D(v, p) for the voltage after a pause p from v.

Theorem, gap by gap.  Let every pause inside a burst last at least p, let
L = max(falling, D(rising, p)), and let every gap inside a burst be shorter than up(L).  Let the
contact stay closed after each closing burst for the time to discharge from v_open to falling,
and open after each opening burst for up(v_closed).  Then each transition passes one edge.

* Closing side.  The output is high and falls when v first meets falling, in the burst or in the
  rest after it.  From then on every gap begins at L or below: the first at falling at most (if
  it fell in this pause) and any later one at D(rising, p) at most, because the gap before it
  ended below rising.  So no gap reaches rising, and the output stays low.
* Opening side.  The output is low and v at falling at most, since the rest before was long
  enough.  All gaps but the last opening are bridged by the same argument, so the output rises
  once, after the last change.

Theorem, by sums.  Without any condition on pauses it is enough that the gaps inside each burst
are together shorter than up(falling): a pause only lowers v, so v never lies above what one
unbroken gap of the same total would give, started at falling.

The bounds are sharp: a gap from falling a moment longer than up(falling) passes.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.base.records import Edges, cause_transition, edges_of_runs, empty_edges
from simcore.contacts.bursts import Wiping, WipingSide
from simcore.design import Design, HandEntry
from simcore.hand.base import EITHER
from simcore.networks.analogue import Analogue, Pole, Resistance
from simcore.networks.inputs import Level, SchmittInput
from simcore.networks.single_pole import AcrossCapacitor, SeriesCapacitor
from simcore.stages.base import drive_stage, stage_build
from tests.theory import designs as make
from tests.theory.delays import discharged, fall_time, in_ticks, rise_time, with_capacitor
from tests.theory.looking import Burst, look, poles

START = 10**9
OPEN, CLOSED = 0, 1
SLACK = 3
"""Ticks that rounding may cost."""


def plain(value: float) -> Part:
    """A part without tolerance."""
    return Part(value, 0.0)


@st.composite
def sections(draw: st.DrawFn) -> Analogue:
    """A section with hysteresis, nothing with a tolerance."""
    volts = draw(st.floats(2.0, 6.0))
    rising = draw(st.floats(0.5, 0.85)) * volts
    falling = rising - draw(st.floats(0.03, 0.3)) * volts
    pull_up, farads = draw(st.floats(1e3, 5e4)), draw(st.floats(1e-9, 3e-7))
    series = draw(st.floats(50.0, 3e4))
    network = (
        SeriesCapacitor(plain(pull_up), plain(series), plain(farads))
        if draw(st.booleans())
        else AcrossCapacitor(plain(pull_up), plain(farads))
    )
    ohms = draw(st.floats(0.001, 0.05)) * pull_up
    return Analogue(plain(volts), Resistance(ohms, 0.0), network, make.schmitt(rising, falling))


def built(spec: Analogue) -> Pole:
    """Its one unit."""
    pole = stage_build(spec, 0, 0, 0)
    assert isinstance(pole, Pole)
    return pole


def passed(spec: Analogue, source: Edges) -> list[int]:
    """The transitions whose edges the section passes on, in order."""
    out = empty_edges(source.times.size + 8, 1)
    ends = np.full(source.first.size, 2**62, np.int64)
    assert drive_stage(spec, 0, 0, 0, source, ends, out) == 1
    return [cause_transition(int(cause)) for cause in out.causes[: out.offsets[1]]]


def edges_of(first: int, bursts: list[list[int]]) -> Edges:
    """Edges from lists of durations, one list a burst; a burst's last duration is the rest after it."""
    times, causes = [], []
    now = START
    for number, durations in enumerate(bursts):
        for duration in durations:
            times.append(now)
            causes.append(16 * number)
            now += duration
    return edges_of_runs([(first, times, causes)])


@st.composite
def chatter(draw: st.DrawFn, pole: Pole, first: int) -> list[list[int]]:
    """Bursts just within the first theorem, alternately closing and opening."""
    shortest = draw(st.floats(0.001, 2.0)) * pole.tau_closed
    level = max(pole.falling, discharged(pole, pole.rising, shortest))
    longest = in_ticks(rise_time(pole, level)) - SLACK
    assume(longest > SLACK)
    pauses = st.floats(1.0, 3.0).map(lambda k: int(in_ticks(k * shortest)) + SLACK)
    gaps = st.one_of(st.floats(0.9, 1.0), st.floats(0.001, 1.0)).map(lambda k: max(1, int(k * longest)))
    bursts, closing = [], first == OPEN
    for _ in range(draw(st.integers(1, 6))):
        pairs = draw(st.lists(st.tuples(gaps, pauses), max_size=6))
        inside = [t for gap, pause in pairs for t in ((pause, gap) if closing else (gap, pause))]
        rest = fall_time(pole, pole.v_open) if closing else rise_time(pole, pole.v_closed)
        bursts.append([*inside, int(in_ticks(rest * draw(st.floats(1.0, 4.0)))) + SLACK])
        closing = not closing
    return bursts


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_one_edge_per_transition_gap_by_gap(data: st.DataObject) -> None:
    spec = data.draw(sections())
    first = data.draw(st.integers(OPEN, CLOSED))
    bursts = data.draw(chatter(built(spec), first))
    assert passed(spec, edges_of(first, bursts)) == list(range(len(bursts)))


@settings(max_examples=200, deadline=None)
@given(sections(), st.floats(1e-3, 0.2), st.booleans())
def test_the_gap_is_a_sharp_limit(spec: Analogue, excess: float, longer: bool) -> None:
    """Closed until the output falls, then one gap: it passes if longer than up(falling)."""
    pole = built(spec)
    down = int(in_ticks(fall_time(pole, pole.v_open))) + SLACK
    limit = in_ticks(rise_time(pole, pole.falling))
    # Rounding lets the discharge run on for a tick or two; that many ticks of charging undo it.
    steeper = (pole.falling - pole.v_closed) / pole.tau_closed / (pole.v_open - pole.falling) * pole.tau_open
    assume(limit * excess > 2 * SLACK * (1.0 + steeper))
    gap = int(limit * (1.0 + excess if longer else 1.0 - excess))
    edges = edges_of(OPEN, [[down, gap, 10**12]])
    assert passed(spec, edges) == ([0, 0, 0] if longer else [0])


def needs(pole: Pole, bursts: list[Burst]) -> tuple[float, float]:
    """Factors between which the section's times must be stretched to meet the second theorem.

    Above the lower one the gaps of every burst are together shorter than up(falling), below the
    higher one every rest is long enough.
    """
    gaps = max((burst.time_in(OPEN) for burst in bursts), default=0)
    low = gaps / in_ticks(rise_time(pole, pole.falling))
    high = float("inf")
    for burst in bursts:
        if burst.rest is not None:
            down, up = fall_time(pole, pole.v_open), rise_time(pole, pole.v_closed)
            high = min(high, burst.rest / in_ticks(down if burst.move.closed else up))
    return low, high


RUNS = 5
TRIAL = 1e-9


@st.composite
def bouncing(draw: st.DrawFn) -> Design:
    """Clicks and twists on a contact whose bursts are short against the time between edges."""

    def side() -> WipingSide:
        return make.side(
            zone=draw(st.floats(0.05, 0.4)), pairs=draw(st.floats(0.0, 3.0)),
            rebound=draw(st.floats(0.0, 1.0)), flight=draw(st.floats(5e-6, 1e-4)),
            restitution=draw(st.floats(0.1, 0.7)), pause=draw(st.floats(0.0, 5e-5)),
        )  # fmt: skip

    clicks = make.gesture(heading=EITHER, duration=draw(st.floats(20e-3, 60e-3)), spread=0.2)
    network = SeriesCapacitor(
        draw(make.parts(2e3, 3e4)), draw(make.parts(100.0, 5e3)), draw(make.parts(TRIAL, TRIAL))
    )
    rising = draw(st.floats(0.5, 0.75))
    falling = rising - draw(st.floats(0.15, 0.3))
    logic = SchmittInput(Level(Part(rising, 0.02), 1), Level(Part(falling, 0.02), 1), 0)
    return make.design(
        HandEntry("clicks", clicks, 5), contact=Wiping(side(), side()),
        stages=make.filtered(network, logic), resistance=Resistance(1.0, 0.5), supply=Part(5.0, 0.05),
    )  # fmt: skip


def with_farads(design: Design, farads: float) -> Design:
    """The same design with another capacitor."""
    network, logic = (entry.item for entry in design.stages)
    return replace(design, stages=make.filtered(with_capacitor(network, farads), logic))


@settings(max_examples=80, deadline=None)
@given(bouncing(), make.seeds, st.floats(0.0, 1.0))
def test_one_edge_per_transition_in_whole_designs(design: Design, seed: int, place: float) -> None:
    """Any capacitor between too little for the chatter and too much for the hand."""
    low, high = 0.0, float("inf")
    for run, pair in zip(look(design, seed, RUNS), poles(design, seed, RUNS), strict=True):
        for line in (0, 1):
            least, most = needs(pair[line], run.bursts(line))
            low, high = max(low, least), min(high, most)
    low, high = 1.0005 * max(low, 1e-3), 0.9995 * high
    assume(low < high)
    chosen = with_farads(design, TRIAL * (low + place * (high - low)))
    for run in look(chosen, seed, RUNS):
        for line in (0, 1):
            moved = [i for i, move in enumerate(run.moves) if move.line == line]
            assert [change.transition for change in run.seen[line]] == moved


@pytest.mark.parametrize("line", [0, 1])
def test_the_same_design_without_capacitor_passes_its_chatter(line: int) -> None:
    """The theorem is not empty: there is chatter to be bridged."""
    side = make.side(pairs=2.0, rebound=0.8)
    clicks = make.gesture(heading=EITHER, spread=0.2)
    bare = make.design(HandEntry("clicks", clicks, 5), contact=Wiping(side, side))
    runs = look(bare, 1, RUNS)
    extra = [len(run.seen[line]) - sum(move.line == line for move in run.moves) for run in runs]
    assert np.sum(extra) > 20
