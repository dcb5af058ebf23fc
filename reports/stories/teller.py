"""Sentences whose every time and voltage is looked up in the facts of a run, and listed beside the text.

A `Teller` writes quantities: for an instant, a span or a voltage it returns the text and keeps a note of
what it stated, so that each number of a sentence can be looked up again, by a test above all.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from reports.results.common import TICK
from scenarios.quantities import TIME, VOLTAGE, write_quantity
from simcore.base.records import LINE_NAMES
from simcore.tracing.tracing import LineNode, TracedRun

if TYPE_CHECKING:
    from reports.results.story import StatedSort

INSTANT: Final = "instant"
SPAN: Final = "span"
LIMIT: Final = "limit"
VOLTS: Final = "volts"
RISING: Final = "rising threshold"
FALLING: Final = "falling threshold"
NOISE: Final = "noise"
DIGITS = 3


@dataclass(frozen=True)
class StatedValue:
    """One quantity of a sentence: as it is ``written``, ``what`` it is, its ``value`` in seconds or volts
    (an instant counts from the story's zero), its ``line`` (0, 1, or -1 for none) and the ticks it was
    taken at (of a span both ends; -1 where there is none).
    """

    written: str
    what: StatedSort
    value: float
    line: int
    since: int
    tick: int


@dataclass(frozen=True)
class Statement:
    """A sentence and what it states."""

    text: str
    stated: tuple[StatedValue, ...]


class Teller:
    """Writes the sentences of one story, whose instants count from tick ``zero``."""

    def __init__(self, traced: TracedRun, zero: int) -> None:
        self.traced = traced
        self.zero = zero
        self._stated: list[StatedValue] = []

    def say(self, text: str) -> Statement:
        """A sentence with all that was stated since the one before, in the order of the text.

        ValueError for something stated that the text does not bear.
        """
        stated, self._stated = self._stated, []
        return Statement(text, tuple(_in_order(text, stated)))

    def at(self, tick: int) -> str:
        value = (tick - self.zero) * TICK
        return self._note(instant_text(value), INSTANT, value, -1, -1, tick)

    def span(self, since: int, tick: int) -> str:
        value = (tick - since) * TICK
        return self._note(time_text(value), SPAN, value, -1, since, tick)

    def limit(self, ticks: int) -> str:
        """A time of the counter's own."""
        return self._note(time_text(ticks * TICK), LIMIT, ticks * TICK, -1, -1, -1)

    def volts(self, line: int, tick: int, digits: int = DIGITS) -> str:
        value = self.node(line).at(tick)
        return self._note(volts_text(value, digits), VOLTS, value, line, -1, tick)

    def threshold(self, line: int, tick: int, up: bool, digits: int = DIGITS) -> str:
        """The threshold that a voltage on its way up, or down, has to pass at a tick."""
        rising, falling = self.node(line).thresholds_at(tick)
        value = rising if up else falling
        return self._note(volts_text(value, digits), RISING if up else FALLING, value, line, -1, tick)

    def shortfall(self, line: int, tick: int, up: bool) -> tuple[str, str]:
        """A voltage that came short of a threshold, and that one, in digits that tell them apart."""
        digits = telling_digits(self.node(line).at(tick), self.node(line).thresholds_at(tick)[0 if up else 1])
        return self.volts(line, tick, digits), self.threshold(line, tick, up, digits)

    def noise(self, line: int) -> str:
        value = self.node(line).noise
        return self._note(write_quantity(value, VOLTAGE, DIGITS), NOISE, value, line, -1, -1)

    def node(self, line: int) -> LineNode:
        node = self.traced.lines[line].node
        if node is None:
            raise ValueError(f"line {LINE_NAMES[line]} has no voltage")
        return node

    def _note(self, written: str, what: StatedSort, value: float, line: int, since: int, tick: int) -> str:
        self._stated.append(StatedValue(written, what, value, line, since, tick))
        return written


def _in_order(text: str, stated: list[StatedValue]) -> list[StatedValue]:
    """Quantities in the order in which a text bears them; equal ones in that in which they were stated."""
    places: list[tuple[int, StatedValue]] = []
    since: dict[str, int] = {}
    for each in stated:
        found = re.compile(rf"(?<![\w.-]){re.escape(each.written)}(?!\w)").search(
            text, since.get(each.written, 0)
        )
        if found is None:
            raise ValueError(f"{each.written!r} is stated but not written in {text!r}")
        since[each.written] = found.end()
        places.append((found.start(), each))
    return [each for _, each in sorted(places, key=lambda place: place[0])]


def time_text(seconds: float, digits: int = DIGITS) -> str:
    """A length of time in so many digits: "42.1 us"."""
    return write_quantity(seconds, TIME, digits)


def volts_text(volts: float, digits: int = DIGITS) -> str:
    """A voltage in so many digits, the last ones too where they are 0: "1.90 V"; what is below a microvolt
    is "0 V".
    """
    if abs(volts) < 1.0e-6:
        return "0 V"
    number, unit = write_quantity(volts, VOLTAGE, digits).split()
    missing = digits - len(number.lstrip("-0.").replace(".", ""))
    point = "." if missing > 0 and "." not in number else ""
    return f"{number}{point}{'0' * missing} {unit}"


def telling_digits(volts: float, threshold: float) -> int:
    """As few digits as tell a voltage from a threshold, within what a float holds."""
    more = (each for each in range(DIGITS, 13) if volts_text(volts, each) != volts_text(threshold, each))
    return next(more, DIGITS)


def instant_text(seconds: float) -> str:
    """An instant, to a microsecond or, within a millisecond of the zero, a tenth of one, within ten
    microseconds a hundredth.
    """
    size = abs(seconds)
    if size < 5.0e-9:
        return "0 us"
    if size < 9.995e-6:
        return f"{seconds * 1e6:.2f} us"
    if size < 9.9995e-4:
        return f"{seconds * 1e6:.1f} us"
    return f"{seconds * 1e3:.3f} ms" if size < 1.0 else f"{seconds:.6f} s"
