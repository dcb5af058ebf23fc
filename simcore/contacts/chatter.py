"""What a contact's own bursts come to, in closed form: the longest return to the old state, the longest
burst, and the mean number of changes.

Returns and bursts are taken at the quantile that one burst in a thousand exceeds (FASTEST).  2 n changes,
uniform over a length L, leave n gaps in which the contact is back in its old state; that one of these is
longer than g has, by inclusion and exclusion over the spacings of uniform points, the probability

    sum over k of (-1)^(k+1) C(n, k) (1 - k g / L)^(2 n)        (terms with k g < L)

(W. Feller, An Introduction to Probability Theory and Its Applications, vol. II, I.9; from memory).
The mechanisms of a contact are independent.  The longest burst is a bound: its parts are each taken at
that quantile and added.

A kind of contact registers `contact_chatter` and `changes_per_crossing` for its record (see
simcore.stages.facts); none of this is compiled.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import singledispatch
from typing import Any, NamedTuple

from simcore.base.check import FASTEST


class Side(NamedTuple):
    """The longest return, the dense part and the whole burst (s) of makes, or of breaks."""

    back: float
    dense: float
    burst: float


NO_CHATTER = Side(0.0, 0.0, 0.0)


@singledispatch
def contact_chatter(contact: Any, slow: float, gliding: float) -> tuple[Side, Side] | None:
    """Makes and breaks, where a degree of shaft takes ``slow`` (s) and a movement lasts for ``gliding`` (s)
    after a crossing; None for a contact that does not say.
    """
    return None


@singledispatch
def changes_per_crossing(contact: Any) -> float:
    """Mean number of changes of one crossing, the larger of make and break."""
    return 1.0


def worse(a: Side, b: Side) -> Side:
    """The longer of each."""
    return Side(max(a.back, b.back), max(a.dense, b.dense), max(a.burst, b.burst))


def longer_gap(n: int, share: float) -> float:
    """Chance that one of ``n`` gaps among 2 n uniform points is longer than ``share`` of their length."""
    total = 0.0
    for k in range(1, n + 1):
        if k * share >= 1.0:
            break
        term = math.comb(n, k) * (1.0 - k * share) ** (2 * n)
        total += term if k % 2 else -term
        if term < 1.0e-12:
            break
    return min(max(total, 0.0), 1.0)


def mean_over_pairs(mean: float, most: int, chance: Callable[[int], float], least: int = 0) -> float:
    """The mean of ``chance`` over a Poisson number of pairs, ``least`` at least and ``most`` at most."""
    if mean <= 0.0:
        return chance(least)
    total, left, n = 0.0, 1.0, 0
    while left > 1.0e-9 and n < most:
        weight = math.exp(n * math.log(mean) - mean - math.lgamma(n + 1.0))
        total += weight * chance(max(n, least))
        left -= weight
        n += 1
    return total + max(left, 0.0) * chance(max(n, least)) if left > 1.0e-9 else total


def chance_of_gap(n: int, gap: float, length: float) -> float:
    """`longer_gap` of a length (s); many pairs, for which it would cancel, by the sum that bounds it."""
    if length <= 0.0 or gap >= length or n == 0:
        return 0.0
    share = gap / length
    if n > 12:
        return min(1.0, n * (1.0 - share) ** (2 * n))
    return longer_gap(n, share)


def exceeded(chance: Callable[[float], float], most: float) -> float:
    """The gap (s) that is exceeded with the chance FASTEST, by halving; 0 where even 0 is not."""
    low, high = 0.0, most
    if chance(low) <= FASTEST:
        return 0.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        if chance(middle) > FASTEST:
            low = middle
        else:
            high = middle
    return high
