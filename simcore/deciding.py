"""Which designs are settled to be better or worse than the first, when several are held against it.

With several comparisons one of them may look decided by chance alone.  Holm (Scandinavian J. Statist. 6
(1979) 65) keeps the chance of any false decision to that of one comparison, whatever hangs together with
what: the clearest must stand at a level for all of them, the next for all but one, and so on.

A comparison that goes on until it is settled is looked at several times (interim analyses), and each of
them might be decided by chance.  The error allowance, 1 - level for the whole comparison, is divided
equally among the analyses that are planned (Bonferroni's inequality), however many take place, and Holm's
method is applied within each.  So whatever ended it, the chance that any design is called better or worse
though its rate is that of the first is at most 1 - level, as far as the intervals hold.  The intervals are
those of repeated analyses (Jennison and Turnbull, J. R. Statist. Soc. B 51 (1989) 305; from memory): each is
computed at the level of one analysis and holds at ``level`` over all of them.  Estimates are not corrected: a
comparison that ended early overstates the difference somewhat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from simcore.estimates import LEVEL, Interval
from simcore.paired import Pair, difference_interval, runs_to_settle

BETTER, WORSE, UNSETTLED, SAME = "better", "worse", "unsettled", "same"


@dataclass(frozen=True)
class Decision:
    """What is known of one design against the first.

    ``interval`` is that of the difference of rates (this one's minus the first's), for this comparison
    alone, over all analyses; ``level`` the one at which the ``verdict`` was sought among all; ``more_runs``
    how many more would be expected to settle it, None where it is settled or nothing can be said.
    """

    verdict: str
    interval: Interval
    level: float
    more_runs: int | None


def decide(pairs: Sequence[Pair], level: float = LEVEL, analyses: int = 1) -> list[Decision]:
    """A decision for each of several designs, all of them together at confidence ``level``, at one of so
    many ``analyses`` that share its error allowance.

    SAME is a design that did not differ from the first in any step; whether it would in more runs, its
    interval says.
    """
    found = []
    for pair, (verdict, at) in zip(pairs, verdicts(pairs, level, analyses), strict=True):
        enough = runs_to_settle(pair, at) if verdict == UNSETTLED else None
        more_runs = None if enough is None else enough - pair.runs
        found.append(Decision(verdict, repeated_interval(pair, level, analyses), at, more_runs))
    return found


def repeated_interval(
    pair: Pair, level: float = LEVEL, analyses: int = 1, *, counts: bool = False, alike: float | None = None
) -> Interval:
    """The interval of a difference that holds at ``level`` over so many analyses together; the rest is as
    simcore.paired.difference_interval has it.
    """
    once = difference_interval(pair, _once(level, analyses), counts=counts, alike=alike)
    return replace(once, level=level)


def settled(pairs: Sequence[Pair], level: float, analyses: int) -> bool:
    """Whether every design is decided to be better or worse at one of so many analyses."""
    return all(verdict in (BETTER, WORSE) for verdict, _ in verdicts(pairs, level, analyses))


def verdicts(pairs: Sequence[Pair], level: float, analyses: int) -> list[tuple[str, float]]:
    """The verdict of each of several designs, and the level at which it was sought."""
    once = _once(level, analyses)
    open_ones, at = list(range(len(pairs))), [level] * len(pairs)
    while open_ones:
        strict = 1.0 - (1.0 - once) / len(open_ones)
        for number in open_ones:
            at[number] = strict
        still = [number for number in open_ones if not _excludes_zero(pairs[number], strict)]
        if len(still) == len(open_ones):
            break
        open_ones = still
    return [(_verdict(pair, number in open_ones), at[number]) for number, pair in enumerate(pairs)]


def _once(level: float, analyses: int) -> float:
    """The level of one analysis."""
    return level if analyses == 1 else 1.0 - (1.0 - level) / analyses


def _excludes_zero(pair: Pair, level: float) -> bool:
    interval = difference_interval(pair, level)
    return interval.low > 0.0 or interval.high < 0.0


def _verdict(pair: Pair, is_open: bool) -> str:
    if pair.p == 0 and pair.m == 0:
        return SAME
    if is_open:
        return UNSETTLED
    return BETTER if pair.p < pair.m else WORSE


def holm(values: Sequence[float]) -> list[float]:
    """P values raised for being several (Holm): each may be read as if it were the only one."""
    order = sorted(range(len(values)), key=lambda number: values[number])
    raised, least = [0.0] * len(values), 0.0
    for done, number in enumerate(order):
        least = max(least, min(1.0, (len(values) - done) * values[number]))
        raised[number] = least
    return raised
