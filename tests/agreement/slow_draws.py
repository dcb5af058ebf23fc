"""Addressed random numbers for the slow implementation, from numpy's own Philox.

The address layout is the one stated in simcore.base.draws: key (seed, run), counter
(index, purpose, 0, 0); a stage's item number comes of its name.  numpy raises the counter before
it generates, hence the minus one.
"""

from __future__ import annotations

import hashlib
import math

import numpy as np

GEOMETRY, MOVE, HEADING, BURST, SLIDE, RESISTANCE, SUPPLY, STAGE, COIN = range(1, 10)
SHAKE, REVERSAL, MIX = range(30, 33)

Four = tuple[float, float, float, float]


def uniforms(seed: int, run: int, what: int, item: int, index: int) -> Four:
    """Four numbers in [0, 1) at the address of draw ``index`` of ``what`` for ``item``."""
    purpose = what * 65536 + item
    counter = (index + (purpose << 64) - 1) % (1 << 256)
    raw = np.random.Philox(counter=counter, key=seed + (run << 64)).random_raw(4)
    a, b, c, d = (int(word) // 2048 / 2**53 for word in raw)
    return a, b, c, d


def item_of(name: str) -> int:
    """The item number at which the draws of the stage of that name begin."""
    digest = hashlib.blake2b(name.encode(), digest_size=5).hexdigest()
    return 4194304 * (int(digest, 16) + 1)


def normals(u: float, v: float) -> tuple[float, float]:
    """Two standard normals by the formula of Box and Muller (Ann. Math. Stat. 29 (1958) 610)."""
    radius = math.sqrt(-2.0 * math.log(1.0 - u))
    return radius * math.cos(2.0 * math.pi * v), radius * math.sin(2.0 * math.pi * v)


def lognormal(median: float, spread: float, normal: float) -> float:
    """A value whose logarithm is normal about the logarithm of ``median``."""
    return median * math.exp(spread * normal)


def poisson(mean: float, most: int, u: float) -> int:
    """The smallest count whose cumulative probability exceeds ``u``, at most ``most``."""
    if mean <= 0.0:
        return 0
    terms = []
    for count in range(most):
        terms.append(math.exp(count * math.log(mean) - mean - math.lgamma(count + 1)))
        if math.fsum(terms) > u:
            return count
    return most


def toleranced(part: tuple[float, float], u: float) -> float:
    """A (nominal, tolerance) part's value, uniform within its tolerance."""
    nominal, tolerance = part
    return nominal * (1.0 + tolerance * (2.0 * u - 1.0))


def picoseconds(seconds: float) -> int:
    """The nearest whole picosecond."""
    return math.floor(seconds * 1e12 + 0.5)
