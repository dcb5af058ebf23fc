"""What an electrical check is: the rule, the numbers put in, the result against the limit, the verdict and
what may help; and what a check knows of the design around it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

OHM, FARAD, VOLT, AMPERE, SECOND = "ohm", "F", "V", "A", "s"

PASS, TIGHT, FAIL, NOT_APPLICABLE = "pass", "tight", "fail", "does not apply"
VERDICTS = (FAIL, TIGHT, PASS, NOT_APPLICABLE)
"""The worst first."""
TIGHT_SHARE = 0.1
"""Nearer to the limit than this share of it is tight."""
AT_MOST, AT_LEAST, EQUAL = "at most", "at least", "equal to"

PRACTICE = "common practice, no source"
CIRCUITS = "any text on circuits"
HAND = (
    "the hand of the scenario: each time as short as one in a thousand, angles at the ends of their "
    "tolerances"
)
STILL = "the hand turns nothing whose times are known"

FASTEST = 1.0e-3
"""What is drawn without bounds (paces, contact resistance, chatter) is taken at the value that one draw in a
thousand exceeds."""
Z = 3.090232306167813
"""That quantile of the standard normal distribution."""

UP, DOWN, INSERT = 1, -1, 0
"""What a remedy does: larger values, smaller values, a part that is not there yet."""


@dataclass(frozen=True)
class Number:
    """A number put into a rule: its name, its value in ``unit`` ("" for a plain number)."""

    name: str
    value: float
    unit: str


class Remedy(NamedTuple):
    """Other values that may let a check pass: those of the parts ``keys`` (in ``unit``), changed UP or DOWN
    through preferred values, or INSERT for a part that a kind can take in (see `with_resistor`).
    """

    keys: tuple[str, ...]
    direction: int
    unit: str


@dataclass(frozen=True)
class Change:
    """Another value of one part: the stage's name, the ``key`` of the part in it, the value in
    ``unit``, the E series that it is from, the ``result`` of the check computed again with it, and
    the names of checks that would fail with it and did not before (``costs``).  A ``kind`` that is not
    "" is what the stage would have to become.
    """

    stage: str
    key: str
    value: float
    unit: str
    series: int
    result: float
    costs: tuple[str, ...] = ()
    kind: str = ""


@dataclass(frozen=True)
class Check:
    """One check of a design, at the worst corner of the stated tolerances.

    ``name`` says what is checked and ``subject`` on what (a stage, a line, the hand); ``rule`` is the
    rule in words and ``formula`` the same in symbols; ``numbers`` what was put in; ``corner`` which end
    of which tolerance is the worst; ``result`` (None: there is none; infinite: never) is to be
    ``relation`` (AT_MOST, AT_LEAST or EQUAL) the ``limit``, both in ``unit``; ``source`` is that of the
    limit; ``why`` says why it does not apply, or what else is to be known; ``advice`` what would help;
    ``remedies`` are tried in their order, on the stages that the check is of, and ``change`` is the
    preferred value found that would pass.
    """

    name: str
    subject: str
    rule: str
    formula: str
    numbers: tuple[Number, ...] = ()
    corner: str = ""
    result: float | None = None
    relation: str = AT_MOST
    limit: float | None = None
    unit: str = ""
    source: str = PRACTICE
    verdict: str = NOT_APPLICABLE
    why: str = ""
    advice: str = ""
    remedies: tuple[Remedy, ...] = ()
    change: Change | None = None

    @property
    def matters(self) -> bool:
        return self.verdict in (FAIL, TIGHT)


def judged(check: Check, scale: float = 0.0) -> Check:
    """The check with its verdict: a result beyond the limit fails; one nearer to the limit than
    TIGHT_SHARE of it (or of ``scale``, where the limit may be 0) is tight.  Equality passes.
    """
    assert check.result is not None  # noqa: S101 - narrows the type
    assert check.limit is not None  # noqa: S101
    result, limit = check.result, check.limit
    if check.relation == EQUAL:
        return replace(check, verdict=PASS if math.isclose(result, limit, rel_tol=1.0e-9) else FAIL)
    room = limit - result if check.relation == AT_MOST else result - limit
    if room < 0.0:
        return replace(check, verdict=FAIL)
    near = TIGHT_SHARE * (scale or abs(limit))
    return replace(check, verdict=TIGHT if room < near else PASS)


def not_applicable(check: Check, why: str) -> Check:
    return replace(check, verdict=NOT_APPLICABLE, why=why)


class Shortest(NamedTuple):
    """A time (s) and the gesture that has it."""

    seconds: float
    gesture: str


NONE = Shortest(math.inf, "")


class Chatter(NamedTuple):
    """Seconds: the longest ``back`` in the old state after a make (an open gap) and after a break; bounds on
    the ``dense`` part of a burst, and on the whole ``burst`` with its straggler; ``slow`` is the longest
    time that a degree of shaft takes at a boundary, at the median pace of the slowest gesture.
    """

    back_make: float
    back_break: float
    dense: float
    burst: float
    slow: float

    @property
    def back(self) -> float:
        return max(self.back_make, self.back_break)


@dataclass(frozen=True)
class Surroundings:
    """What the checks of a stage or a counter know: its ``lines`` and its name with them (``subject``);
    of the fastest hand the shortest level of these lines, the shortest time from one of their edges to the
    next like it, and the closest edges of A and B; the contacts' chatter, None where it is not known.
    """

    subject: str
    lines: tuple[int, ...]
    shortest_level: Shortest
    shortest_cycle: Shortest
    closest_edges: Shortest
    chatter: Chatter | None
