"""Counters, slowly, and what they make of an encoder that does not bounce."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection

from .slow_draws import COIN, uniforms

SETUP, HOLD, SHORT, AT_STOP = 1, 2, 4, 8
TOSS, OLD, NEW, WORST = range(4)
IGNORED, SHORT_COIN = range(2)

# The four states in the order in which an encoder that turns up goes through them, contacts
# open reading high: both open, A closed, both closed, B closed.
UPWARD = [(1, 1), (0, 1), (0, 0), (1, 0)]


@dataclass
class Pulse:
    """What the counter made of one edge: asked for +1, -1 or 0, and why it may be doubted."""

    time: int
    asked: int
    transition: int | None
    origin: int
    doubts: set[int] = field(default_factory=set)
    moved: int = 0

    @property
    def flags(self) -> int:
        """The doubts as one number."""
        return sum(self.doubts)


@dataclass
class Decision:
    """An active clock edge whose count is not settled yet."""

    time: int
    direction: int
    transition: int | None
    origin: int
    really: int
    doubts: set[int]


class QuadratureCounter:
    """x1, x2 or x4, at once."""

    def __init__(self, spec: Quadrature, levels: tuple[int, int]) -> None:
        self.spec = spec
        self.levels = levels

    def edge(self, time: int, line: int, transition: int | None, origin: int, really: int) -> list[Pulse]:
        """Look the change up among the four upward and the four downward ones."""
        before = self.levels
        after = (1 - before[0], before[1]) if line == 0 else (before[0], 1 - before[1])
        self.levels = after
        forward = UPWARD[(UPWARD.index(before) + 1) % 4] == after
        assert forward or UPWARD[(UPWARD.index(before) - 1) % 4] == after
        counted = {4: True, 2: line == 0, 1: line == 0 and after[1] == 0}[self.spec.counts]
        if not counted:
            return []
        return [Pulse(time, self.spec.sign * (1 if forward else -1), transition, origin)]

    def due(self) -> int | None:
        """It never waits."""
        return None

    def settle(self) -> list[Pulse]:
        """It never waits."""
        raise AssertionError("nothing to settle")


class StepDirectionCounter:
    """A clock line and a direction line; a decision stays open until its timing is known."""

    def __init__(self, spec: StepDirection, levels: tuple[int, int], seed: int, run: int) -> None:
        self.spec = spec
        self.seed, self.run = seed, run
        self.clock = levels[spec.clock]
        self.direction = levels[1 - spec.clock]
        self.clock_changed: int | None = None
        self.direction_changed: int | None = None
        self.open: Decision | None = None
        self.tosses = 0

    def edge(self, time: int, line: int, transition: int | None, origin: int, really: int) -> list[Pulse]:
        """A change of either line; hands over the decision that it closes, if any."""
        if line != self.spec.clock:
            self.direction = 1 - self.direction
            self.direction_changed = time
            if self.open and time < self.open.time + self.spec.hold:
                self.open.doubts.add(HOLD)
            return []
        shortest = self.spec.high if self.clock == 1 else self.spec.low
        short = self.clock_changed is not None and time < self.clock_changed + shortest
        self.clock = 1 - self.clock
        self.clock_changed = time
        if self.clock != self.spec.active:
            if self.open and short:
                self.open.doubts.add(SHORT)
            return []
        closed = self.settle() if self.open else []
        doubts = {SHORT} if short else set()
        if self.direction_changed is not None and time < self.direction_changed + self.spec.setup:
            doubts.add(SETUP)
        self.open = Decision(time, self.direction, transition, origin, really, doubts)
        return closed

    def due(self) -> int | None:
        """When the open decision is settled: hold time and shortest active level have passed."""
        if self.open is None:
            return None
        return self.open.time + max(self.spec.hold, self.spec.high if self.spec.active else self.spec.low)

    def settle(self) -> list[Pulse]:
        """Close the open decision."""
        assert self.open is not None
        it, self.open = self.open, None
        return [Pulse(it.time, self.decide(it), it.transition, it.origin, it.doubts)]

    def decide(self, it: Decision) -> int:
        """The count, by the policies where the timing was not met."""
        if SHORT in it.doubts and not (self.spec.short == SHORT_COIN and self.toss(it, 0)):
            return 0
        level = it.direction
        if it.doubts & {SETUP, HOLD}:
            if self.spec.doubt == TOSS:
                level = self.toss(it, 1)
            elif {OLD: SETUP, NEW: HOLD}.get(self.spec.doubt) in it.doubts:
                level = 1 - it.direction
            elif self.spec.doubt == WORST and it.really != 0:
                return -it.really
        return +1 if level == self.spec.up else -1

    def toss(self, it: Decision, which: int) -> int:
        """A fair coin that belongs to the tick of the clock edge."""
        self.tosses += 1
        return 1 if uniforms(self.seed, self.run, COIN, 0, it.time)[which] < 0.5 else 0


Counter = QuadratureCounter | StepDirectionCounter


def counter_of(spec: Quadrature | StepDirection, levels: tuple[int, int], seed: int, run: int) -> Counter:
    """A counter with both lines at rest at ``levels``."""
    if isinstance(spec, Quadrature):
        return QuadratureCounter(spec, levels)
    return StepDirectionCounter(spec, levels, seed, run)


def ideal_reader(spec: Quadrature | StepDirection, levels: tuple[int, int]) -> Callable[[int], int]:
    """A function that takes the line that changes and gives what a counter without any timing
    limits counts: +1, -1 or 0 for nothing.
    """
    now = list(levels)

    def change(line: int) -> int:
        before = (now[0], now[1])
        now[line] = 1 - now[line]
        after = (now[0], now[1])
        if isinstance(spec, StepDirection):
            if line != spec.clock or now[line] != spec.active:
                return 0
            return +1 if now[1 - line] == spec.up else -1
        turn = +1 if UPWARD[(UPWARD.index(before) + 1) % 4] == after else -1
        if spec.counts == 4 or (line == 0 and (spec.counts == 2 or now[1] == 0)):
            return spec.sign * turn
        return 0

    return change


def moved_within(position: int, asked: int, positions: int, wrap: int) -> int:
    """What becomes of a count at the end stops, if there are any."""
    if positions > 0 and not wrap and not 0 <= position + asked < positions:
        return 0
    return asked
