"""What a check is: the rule, the numbers put in, the result against the limit, and the verdict."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

PASS, TIGHT, FAIL, NOT_APPLICABLE = "pass", "tight", "fail", "does not apply"
VERDICTS = (FAIL, TIGHT, PASS, NOT_APPLICABLE)
"""The worst first."""
TIGHT_SHARE = 0.1
"""Nearer to the limit than this share of it is tight."""
AT_MOST, AT_LEAST, EQUAL = "at most", "at least", "equal to"

PRACTICE = "common practice, no source"
CIRCUITS = "any text on circuits"


@dataclass(frozen=True)
class Number:
    """A number put into a rule: its name, its value in ``unit`` ("" for a plain number)."""

    name: str
    value: float
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
    limit; ``why`` says why it does not apply, or what else is to be known; ``advice`` what would help,
    and ``change`` a preferred value that would pass.
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
    change: Change | None = None

    @property
    def matters(self) -> bool:
        """Whether it fails or is tight."""
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


def spared(check: Check, why: str) -> Check:
    """The check as one that does not apply, and why not."""
    return replace(check, verdict=NOT_APPLICABLE, why=why)
