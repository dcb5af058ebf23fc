"""[counter]: the counter, its timing and its range."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import model_validator

from scenarios.fields import Timing
from scenarios.markers import Count, Word
from scenarios.plugins import added
from scenarios.quantities import QuantityError
from scenarios.schema_table import Table, one_of
from simcore.counters.base import DOUBT_POLICIES, SHORT_POLICIES, Range
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.ticks import ticks

CLOCKS = {"A falling": (0, 0), "A rising": (0, 1), "B falling": (1, 0), "B rising": (1, 1)}
DECODINGS = {"x1": 1, "x2": 2, "x4": 4}
LEADS = {"A leads": 1, "B leads": -1}

Wanted = Annotated[int | None, Count(1, 1_000_000)]


class Counter(Table):
    """What all counters share: range, start and what one detent ought to count.

    ``positions`` 0: without bounds; ``start`` is in the middle if it is not given;
    ``counts_per_step`` is what the geometry gives if it is not given.
    """

    positions: Annotated[int, Count(0, 2**31 - 1)] = 0
    start: Annotated[int | None, Count(-(2**31), 2**31 - 1)] = None
    ends: Annotated[str, Word(("stop", "wrap"))] = "stop"
    counts_per_step: Wanted = None

    @model_validator(mode="after")
    def _inside(self) -> Counter:
        if self.positions and self.start is not None and not 0 <= self.start < self.positions:
            raise QuantityError(
                str(self.start), f"allowed is a start from 0 to {self.positions - 1}, within the positions",
                "start",
            )  # fmt: skip
        return self

    @property
    def start_position(self) -> int:
        """Where the count starts."""
        return self.positions // 2 if self.start is None else self.start

    def build_range(self) -> Range:
        """The range for the simulator."""
        return Range(self.positions, self.start_position, int(self.ends == "wrap"))

    def build(self) -> Any:
        """The counter for the simulator."""
        raise NotImplementedError


class StepDirectionCounter(Counter):
    """Counts on one edge of the clock line, up or down by the level of the direction line."""

    kind: Literal["step-direction"]
    clock: Annotated[str, Word(tuple(CLOCKS))] = "A falling"
    direction: Annotated[str | None, Word(("A", "B"))] = None
    up_when: Annotated[str, Word(("high", "low"))] = "high"
    setup: Timing = 0.0
    hold: Timing = 0.0
    minimum_low: Timing = 0.0
    minimum_high: Timing = 0.0
    undecided: Annotated[str, Word(DOUBT_POLICIES)] = "coin"
    short_pulse: Annotated[str, Word(SHORT_POLICIES)] = "ignored"

    @model_validator(mode="after")
    def _two_lines(self) -> StepDirectionCounter:
        if self.direction == self.clock[0]:
            raise QuantityError(
                f'"{self.direction}"',
                f'the clock is "{self.clock}", so the direction must be the other line, "{self.other_line}"',
                "direction",
            )
        return self

    @property
    def other_line(self) -> str:
        """The line that is not the clock."""
        return "B" if self.clock[0] == "A" else "A"

    def build(self) -> StepDirection:
        """The counter for the simulator."""
        line, active = CLOCKS[self.clock]
        return StepDirection(
            line, active, int(self.up_when == "high"),
            ticks(self.setup), ticks(self.hold), ticks(self.minimum_low), ticks(self.minimum_high),
            DOUBT_POLICIES.index(self.undecided), SHORT_POLICIES.index(self.short_pulse),
        )  # fmt: skip


class QuadratureCounter(Counter):
    """Counts one, two or four of the edges of a cycle."""

    kind: Literal["quadrature"]
    decoding: Annotated[str, Word(tuple(DECODINGS))] = "x4"
    up_when: Annotated[str, Word(tuple(LEADS))] = "A leads"

    def build(self) -> Quadrature:
        """The counter for the simulator."""
        return Quadrature(DECODINGS[self.decoding], LEADS[self.up_when])


OWN_COUNTERS: tuple[type[Counter], ...] = (StepDirectionCounter, QuadratureCounter)
COUNTERS = (*OWN_COUNTERS, *added("counter", Counter, OWN_COUNTERS))
"""Every kind, in the order in which messages and lists name them."""

if TYPE_CHECKING:
    AnyCounter = Counter
else:
    AnyCounter = one_of(COUNTERS)
