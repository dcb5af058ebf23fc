"""The facts of one run, as a trace tells them.

All are plain frozen records.  Ticks are picoseconds from the start of the run, volts are volts,
levels are 0 and 1, steps are numbered from 1 within their run.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from simcore.edges import Floats, Ints
from simcore.stages.base import stage_thresholds, stage_volts


@dataclass(frozen=True)
class Movement:
    """One row of the hand: from ``start`` to ``end`` (ticks) it turned ``steps`` (signed, in detents;
    0.0 for a rest) under the gesture ``name``; ``direction`` is +1, -1 or 0.  ``joined`` is True for a
    row that goes on with the movement before it.  It begins the steps ``first_step`` to
    ``first_step + begun - 1``.
    """

    start: int
    end: int
    name: str
    direction: int
    steps: float
    joined: bool
    first_step: int
    begun: int


@dataclass(frozen=True)
class Trail:
    """Level changes at one place of one line, in order.

    ``first`` is the level before the first change; change ``i`` comes at ``ticks[i]``, leaves the level
    at ``levels[i]`` (of a contact: 1 closed) and comes from ``origins[i]`` (simcore.edges.ORIGIN_NAMES)
    of transition ``transitions[i]`` (-1: no movement is behind it).
    """

    name: str
    first: int
    ticks: Ints
    levels: Ints
    origins: Ints
    transitions: Ints

    def level_at(self, tick: int) -> int:
        """The level once all changes at ``tick`` are done."""
        before = int(np.searchsorted(self.ticks, tick, side="right"))
        return int(self.levels[before - 1]) if before else self.first

    def between(self, start: int, end: int) -> slice:
        """The changes from ``start`` up to but not including ``end`` (ticks)."""
        lo, hi = np.searchsorted(self.ticks, (start, end))
        return slice(int(lo), int(hi))


@dataclass(frozen=True)
class LineNode:
    """The voltage of one line at its input, by the states that the engine went through.

    State ``i`` holds from ``knots[i]`` (ticks, the first is 0) until the next; ``rising`` and
    ``falling`` (V) are the thresholds under it.  ``noise`` (V rms) rides on the voltage but is not
    part of ``volts``.
    """

    name: str
    knots: Ints
    rising: Floats
    falling: Floats
    noise: float
    params: Any
    states: tuple[Any, ...]

    def volts(self, ticks: Ints) -> Floats:
        """Volts at any ticks; where a voltage jumps, the value after the jump."""
        return self._volts(np.atleast_1d(np.asarray(ticks, np.int64)), "right")

    def volts_before(self, ticks: Ints) -> Floats:
        """The same, but just before whatever happens at each tick."""
        return self._volts(np.atleast_1d(np.asarray(ticks, np.int64)), "left")

    def at(self, tick: int) -> float:
        """Volts at one tick."""
        return float(self.volts(np.array([tick]))[0])

    def thresholds_at(self, tick: int) -> tuple[float, float]:
        """Rising and falling threshold (V) at one tick."""
        state = max(int(np.searchsorted(self.knots, tick, side="right")) - 1, 0)
        return float(self.rising[state]), float(self.falling[state])

    def _volts(self, ticks: Ints, side: Any) -> Floats:
        states = np.maximum(np.searchsorted(self.knots, ticks, side=side) - 1, 0)
        # The law holds from the state's own tick on; before the run the line is as it starts.
        times = np.maximum(ticks, 0)
        pairs = zip(states.tolist(), times.tolist(), strict=True)
        return np.array([stage_volts(self.params, self.states[s], t) for s, t in pairs])


def line_node(name: str, noise: float, params: Any, knots: list[int], states: list[Any]) -> LineNode:
    """A node from the states of its stage."""
    levels = np.array([stage_thresholds(params, state) for state in states])
    return LineNode(name, np.array(knots, np.int64), levels[:, 0], levels[:, 1], noise, params, tuple(states))


@dataclass(frozen=True)
class TracedLine:
    """One line: what its contact did (levels: 1 closed), the voltage at its input (None where it has
    none), what each stage passed on, by name, what the counter saw, and in words the ``origins`` of changes
    that its stages make with no contact moving.
    """

    contact: Trail
    node: LineNode | None
    stages: tuple[Trail, ...]
    seen: Trail
    origins: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class PulseFacts:
    """One pulse of the counter, at ``tick``: the counts ``asked`` (0: ignored or undecided), how far the
    position ``moved``, the ``transition`` (-1: none) and ``origin`` behind it, ``flags``
    (simcore.counters.base.FLAG_NAMES, or'ed), the ``position`` after it, and the ``step`` it belongs
    to (0: none).
    """

    tick: int
    asked: int
    moved: int
    transition: int
    origin: int
    flags: int
    position: int
    step: int


@dataclass(frozen=True)
class TransitionFacts:
    """One contact boundary that the shaft crossed: ``line`` 0 (A) or 1 (B), ``closed`` the state after,
    ``direction`` +1 or -1, ``speed`` (degrees of shaft per second).
    """

    index: int
    tick: int
    line: int
    closed: int
    direction: int
    speed: float


@dataclass(frozen=True)
class SeenEdge:
    """One edge at the counter."""

    tick: int
    line: int
    level: int
    origin: int
    transition: int


@dataclass(frozen=True)
class StepFacts:
    """One step: what the hand meant, what came of it, and what it caused.

    ``whole`` is simcore.edges.PART, WHOLE or NOTHING_MEANT; ``expected`` and ``received`` are net
    counts, ``moves`` pulses that asked for a count and ``clean_moves`` how many of those a bounce-free
    contact would have given, with ``clean_net`` as their net; ``verdict`` and ``cause`` are words of
    simcore.sums.  The window ``start`` to ``end`` (ticks) spans its transitions and everything they
    caused at contacts and counter; for a
    step without transitions it is its movement.
    """

    number: int
    gesture: str
    direction: int
    whole: int
    expected: int
    received: int
    moves: int
    clean_moves: int
    verdict: str
    cause: str
    transitions: tuple[TransitionFacts, ...]
    edges: tuple[SeenEdge, ...]
    pulses: tuple[PulseFacts, ...]
    start: int
    end: int
    clean_net: int


@dataclass(frozen=True)
class TracedRun:
    """One run in full.  ``end`` is the tick at which the hand was done, ``position`` the counter's
    last, ``error`` its distance (counts) from the position expected.
    """

    seed: int
    run: int
    movements: tuple[Movement, ...]
    lines: tuple[TracedLine, TracedLine]
    pulses: tuple[PulseFacts, ...]
    steps: tuple[StepFacts, ...]
    start_position: int
    position: int
    error: int
    end: int

    def step(self, number: int) -> StepFacts:
        """Step ``number``, from 1; IndexError if there is none."""
        if not 1 <= number <= len(self.steps):
            raise IndexError(f"run {self.run} has steps 1 to {len(self.steps)}, not {number}")
        return self.steps[number - 1]

    def position_at(self, tick: int) -> int:
        """The counter's position once all pulses at ``tick`` are done."""
        found = self.start_position
        for pulse in self.pulses:
            if pulse.tick > tick:
                break
            found = pulse.position
        return found
