"""Gathers the margins of a block from its edges and from the voltages of its lines.

Both engines hand over edges and voltages of their own making; the gathering is one.  What is
gathered, all at the counter where nothing else is said:

* *set-up, hold*: at each active edge of the clock line, the time since the direction line last changed
  and until it next changes; nothing where it never did or does;
* *clock low, clock high*: how long the clock line stayed at each level between two of its edges;
* *closest edges*: the time between neighbouring edges of different lines;
* *set-up voltage*: at each active edge of the clock line, how far (V) the voltage of the direction
  line's node was beyond the threshold that it must have passed for the state its contact was in, bounce
  left aside, when the clock's contact reached the boundary behind that edge; below 0 is short of it;
* *levels*: the voltage of a line's node as its contact begins to leave a state (the first change of a
  burst): how far it got in that state.  A level misses if it is not beyond the unit's own threshold.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from simcore.base.compiling import kernel, rule
from simcore.base.records import NO_CAUSE, A, B, Edges, Floats, Transitions, cause_transition, whole
from simcore.base.ticks import NEVER
from simcore.counters.facts import NO_CLOCK, Timing, counter_timing
from simcore.design import Chain, Design, Layer
from simcore.engines.blocks import Lines, seen_by_counter
from simcore.judging.margins import (
    APART,
    CLOCK_HIGH,
    CLOCK_LOW,
    HIGH_A,
    HIGH_B,
    HOLD,
    LOW_A,
    LOW_B,
    SETUP,
    SETUP_VOLTS,
    Margins,
    enter_time,
    enter_volts,
    microvolts,
    no_margins,
)
from simcore.networks.analogue import Analogue, Pole, PoleState, volts_at
from simcore.networks.response import network_idle
from simcore.networks.waveform import Waveform
from simcore.stages.base import Readings, stage_build

NOBODY = -1
"""No line yet."""

(GATHERED, NO_CLOCK_LINE, NO_VOLTAGE, NOT_LAST, NOT_STEADY) = range(5)
REASONS = ("gathered", "no clock line", "no voltage", "not last", "not steady")
"""Why a quantity is not gathered: the counter has no clock line; the line's contact is read as a logic
level; stages follow the direction line's input; its voltage follows more than one exponential law."""


class Probe(NamedTuple):
    """One line's stage with a voltage, and whether it is the last stage of that line."""

    spec: Any
    address: int
    last: bool


def is_probed(spec: Any) -> bool:
    return isinstance(spec, (Analogue, Waveform))


def probes(chain: Chain) -> tuple[Probe | None, Probe | None]:
    a, b = (_probe([layer for layer in chain.layers if layer.serves(line)], line) for line in (A, B))
    return a, b


def _probe(layers: list[Layer], line: int) -> Probe | None:
    for number, layer in enumerate(layers, start=1):
        if is_probed(layer.line[line]):
            return Probe(layer.line[line], layer.address + line, number == len(layers))
    return None


def why_not(design: Design, chain: Chain) -> tuple[int, ...]:
    """For each quantity GATHERED, or the reason why it is not."""
    timing, found = counter_timing(design.counter), probes(chain)
    clocked = GATHERED if timing.clock != NO_CLOCK else NO_CLOCK_LINE
    levels = [NO_VOLTAGE if probe is None else GATHERED for probe in found]
    direction = found[1 - timing.clock] if clocked == GATHERED else None
    if clocked != GATHERED:
        setup = NO_CLOCK_LINE
    elif direction is None:
        setup = NO_VOLTAGE
    elif not direction.last:
        setup = NOT_LAST
    else:
        setup = GATHERED if isinstance(direction.spec, Analogue) else NOT_STEADY
    reasons = dict.fromkeys((SETUP, HOLD, CLOCK_LOW, CLOCK_HIGH), clocked)
    reasons |= {APART: GATHERED, SETUP_VOLTS: setup, LOW_A: levels[A], HIGH_A: levels[A]}
    reasons |= {LOW_B: levels[B], HIGH_B: levels[B]}
    return tuple(reasons[quantity] for quantity in sorted(reasons))


@rule
def clock_changes(timing: Timing, clock: Edges, i: int, level: int, first: int, margins: Margins) -> None:
    """The clock line leaves ``level`` at its edge ``i``; the run's edges begin at ``first``."""
    if i > first:
        quantity, limit = (CLOCK_HIGH, timing.high) if level else (CLOCK_LOW, timing.low)
        enter_time(margins, quantity, clock.times[i] - clock.times[i - 1], limit)


@kernel
def gauge_times(timing: Timing, clock: Edges, other: Edges, clock_first: int, margins: Margins) -> None:
    """All times of a block.  ``clock`` is A for a counter without a clock line; it comes first at equal
    ticks if ``clock_first``.
    """
    clocked = timing.clock != NO_CLOCK
    for r in range(clock.first.size):
        i, j = clock.offsets[r], other.offsets[r]
        end_i, end_j = clock.offsets[r + 1], other.offsets[r + 1]
        level = whole(clock.first[r])
        before, came_from = 0, NOBODY
        waiting, latest = 0, i  # active edges since the direction last changed, and the latest of them
        while i < end_i or j < end_j:
            time_i = clock.times[i] if i < end_i else NEVER
            time_j = other.times[j] if j < end_j else NEVER
            line = 0 if time_i < time_j or (time_i == time_j and clock_first) else 1
            time = time_j if line else time_i
            if came_from == 1 - line:
                enter_time(margins, APART, time - before, timing.apart)
            before, came_from = time, line
            if line:
                for k in range(waiting):
                    enter_time(margins, HOLD, time - clock.times[latest - 2 * k], timing.hold)
                waiting = 0
                j += 1
                continue
            if clocked:
                clock_changes(timing, clock, i, level, clock.offsets[r], margins)
                level ^= 1
                if level == timing.active:
                    if j > other.offsets[r]:
                        enter_time(margins, SETUP, time - other.times[j - 1], timing.setup)
                    waiting, latest = waiting + 1, i
            i += 1


@kernel
def gauge_levels(
    idle: int, contact: Edges, readings: Readings, supply: int, low: int, margins: Margins
) -> None:
    """The levels that one line's node reached.  ``idle`` is the level with the contact open, ``low`` the
    quantity of the low level, which that of the high one follows; ``supply`` nominal (microvolts).
    """
    for r in range(contact.first.size):
        rising, falling = microvolts(readings.rising[r]), microvolts(readings.falling[r])
        closed = whole(contact.first[r])
        transition = cause_transition(NO_CAUSE)
        for i in range(contact.offsets[r], contact.offsets[r + 1]):
            here = cause_transition(contact.causes[i])
            if here != transition:
                transition = here
                value = microvolts(readings.volts[i])
                if idle ^ closed:
                    enter_volts(margins, low + 1, value, supply, value < rising)
                else:
                    enter_volts(margins, low, value, supply, value > falling)
            closed ^= 1


@rule
def state_before(transitions: Transitions, first: int, row: int, line: int, r: int) -> int:
    """The state of a contact, bounce left aside, before transition ``row`` of run ``r``, whose
    transitions begin at ``first``.
    """
    for back in range(row - 1, first - 1, -1):
        if transitions.channels[back] == line:
            return whole(transitions.closed[back])
    return (whole(transitions.first[r]) >> line) & 1


@rule
def pole_now(params: Pole, contact: Edges, volts: Floats, r: int, j: int, time: int) -> float:
    """The voltage of a line at ``time``, after edge ``j - 1`` of its contact in run ``r``."""
    first = contact.offsets[r]
    closed = (whole(contact.first[r]) + j - first) & 1
    if j == first:
        return params.v_closed if closed else params.v_open
    return volts_at(params, PoleState(contact.times[j - 1], volts[j - 1], closed, 0), time)


@rule
def beyond(params: Pole, closed: int, volts: float) -> float:
    """How far a voltage is beyond the threshold that it must pass with the contact in a state."""
    high = (params.v_closed > params.v_open) == (closed == 1)
    return volts - params.rising if high else params.falling - volts


@kernel
def gauge_setup_volts(
    spec: Any, seed: int, first_run: int, address: int, active: int, line: int, contact: Edges, volts: Floats,
    clock: Edges, transitions: Transitions, supply: int, margins: Margins,
) -> None:  # fmt: skip
    """The set-up voltage of the direction ``line``, with its contact's edges and the voltages there, at
    the active edges of ``clock``.
    """
    for r in range(contact.first.size):
        params = stage_build(spec, seed, first_run + r, address)
        first = transitions.offsets[r]
        j, end = contact.offsets[r], contact.offsets[r + 1]
        level = whole(clock.first[r])
        for i in range(clock.offsets[r], clock.offsets[r + 1]):
            level ^= 1
            row = cause_transition(clock.causes[i])
            if level != active or row < 0:
                continue
            time = clock.times[i]
            while j < end and contact.times[j] <= time:
                j += 1
            closed = state_before(transitions, first, first + row, line, r)
            value = microvolts(beyond(params, closed, pole_now(params, contact, volts, r, j, time)))
            enter_volts(margins, SETUP_VOLTS, value, supply, value < 0)


class Gauger:
    """Gathers the margins of blocks of one design."""

    def __init__(self, design: Design, chain: Chain) -> None:
        self.chain = chain
        self.timing = counter_timing(design.counter)
        self.probes = probes(chain)
        self.setup_volts = why_not(design, chain)[SETUP_VOLTS] == GATHERED
        self.supply = microvolts(design.supply.nominal)

    def __call__(
        self, transitions: Transitions, lines: Lines, readings: Sequence[Readings], seed: int, first_run: int
    ) -> Margins:
        """The margins of a block whose first run has the number ``first_run``; ``readings`` of A and B."""
        margins = no_margins()
        edges = seen_by_counter(self.chain, lines)
        clock = max(self.timing.clock, A)
        gauge_times(self.timing, edges[clock], edges[1 - clock], int(clock == A), margins)
        for line, probe in enumerate(self.probes):
            if probe is not None:
                low = LOW_B if line else LOW_A
                idle = network_idle(probe.spec.network)
                gauge_levels(idle, lines[line][0], readings[line], self.supply, low, margins)
        direction = 1 - self.timing.clock
        probe = self.probes[direction] if self.setup_volts else None
        if probe is not None:
            gauge_setup_volts(
                probe.spec, seed, first_run, probe.address, self.timing.active, direction,
                lines[direction][0], readings[direction].volts, edges[clock], transitions, self.supply,
                margins,
            )  # fmt: skip
        return margins
