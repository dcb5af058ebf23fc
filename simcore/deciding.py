"""Which designs are settled to be better or worse than the first, when several are held against it.

With several comparisons one of them may look decided by chance alone.  Holm (Scandinavian J. Statist. 6
(1979) 65) keeps the chance of any false decision to that of one comparison, whatever hangs together with
what: the clearest must stand at a level for all of them, the next for all but one, and so on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from simcore.estimates import LEVEL, Interval
from simcore.paired import Pair, difference_interval, runs_to_settle

BETTER, WORSE, UNSETTLED, SAME = "better", "worse", "unsettled", "same"


@dataclass(frozen=True)
class Decision:
    """What is known of one design against the first.

    ``interval`` is that of the difference of rates (this one's minus the first's), for this comparison
    alone; ``level`` the one at which the ``verdict`` was sought among all; ``more_runs`` how many more
    would be expected to settle it, None where it is settled or nothing can be said.
    """

    verdict: str
    interval: Interval
    level: float
    more_runs: int | None


def decide(pairs: Sequence[Pair], level: float = LEVEL) -> list[Decision]:
    """A decision for each of several designs, all of them together at confidence ``level``.

    SAME is a design that did not differ from the first in any step; whether it would in more runs, its
    interval says.
    """
    open_ones, at = list(range(len(pairs))), [level] * len(pairs)
    while open_ones:
        strict = 1.0 - (1.0 - level) / len(open_ones)
        for number in open_ones:
            at[number] = strict
        still = [number for number in open_ones if not _leaves_out_nought(pairs[number], strict)]
        if len(still) == len(open_ones):
            break
        open_ones = still
    return [
        _decision(pair, level, strict, number in open_ones)
        for number, (pair, strict) in enumerate(zip(pairs, at, strict=True))
    ]


def _leaves_out_nought(pair: Pair, level: float) -> bool:
    interval = difference_interval(pair, level)
    return interval.low > 0.0 or interval.high < 0.0


def _decision(pair: Pair, level: float, at: float, is_open: bool) -> Decision:
    interval = difference_interval(pair, level)
    if pair.p == 0 and pair.m == 0:
        return Decision(SAME, interval, at, None)
    if is_open:
        enough = runs_to_settle(pair, at)
        return Decision(UNSETTLED, interval, at, None if enough is None else enough - pair.runs)
    return Decision(BETTER if pair.p < pair.m else WORSE, interval, at, None)


def holm(values: Sequence[float]) -> list[float]:
    """P values raised for being several (Holm): each may be read as if it were the only one."""
    order = sorted(range(len(values)), key=lambda number: values[number])
    raised, least = [0.0] * len(values), 0.0
    for done, number in enumerate(order):
        least = max(least, min(1.0, (len(values) - done) * values[number]))
        raised[number] = least
    return raised
