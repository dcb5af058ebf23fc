"""Helper: campaigns whose runs follow a known law, thousands at a time, as sums over their runs.

A law is a table of what a run may be, with its probability.  A campaign needs no run of its own: how
often each row occurs among its runs is multinomial.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import stats

from simcore.base.records import Ints

Floats = npt.NDArray[np.float64]
STEPS = 18
"""Steps per run where all runs have the same number; that of most ready scenarios."""


class Law(NamedTuple):
    """What a run may be: steps, hits, probability, each (rows,)."""

    x: Ints
    y: Ints
    chance: Floats

    @property
    def rate(self) -> float:
        """Hits per step."""
        return float((self.chance * self.y).sum() / (self.chance * self.x).sum())

    @property
    def wrong(self) -> float:
        """Share of runs with a hit."""
        return float(self.chance[self.y > 0].sum())


class Rows(NamedTuple):
    """Sums over the runs of campaigns, one row each, no row twice; ``times`` (rows,) says how many
    campaigns had it, or what share of them.
    """

    sums: Ints
    times: Ints | Floats


def fixed(hits: Floats, steps: int = STEPS) -> Law:
    """Runs of as many steps each; ``hits`` (steps + 1,) is the law of their hits."""
    return Law(np.full(hits.size, steps), np.arange(hits.size), hits)


def hits_of(rate: float, alike: float, steps: int = STEPS) -> Floats:
    """Beta-binomial hits of a run, with correlation ``alike`` between any two of its steps."""
    count = np.arange(steps + 1)
    if alike == 0.0:
        return np.asarray(stats.binom.pmf(count, steps, rate), float)
    scale = (1.0 - alike) / alike
    return np.asarray(stats.betabinom.pmf(count, steps, rate * scale, (1.0 - rate) * scale), float)


def good_and_bad(rate: float) -> Law:
    """A tenth of the units makes 99 of 100 errors, within each unit by chance."""
    good, bad = hits_of(0.01 * rate / 0.9, 0.0), hits_of(9.9 * rate, 0.0)
    return fixed(0.9 * good + 0.1 * bad)


def bad_units(rate: float) -> Law:
    """Few units, each wrong in half of its steps; all others never."""
    hits = 2.0 * rate * hits_of(0.5, 0.0)
    hits[0] += 1.0 - 2.0 * rate
    return fixed(hits)


def sizes(rate: float) -> Law:
    """One to forty steps per run, fewer more often, with a correlation of 0.1."""
    shares = np.exp(-np.arange(1, 41) / 8.0)
    return joined(list(range(1, 41)), shares / shares.sum(), rate, 0.1)


def few_steps(rate: float) -> Law:
    """One to three steps per run, as a class of edge spacing may have, with a correlation of 0.3."""
    return joined([1, 2, 3], np.array([0.5, 0.3, 0.2]), rate, 0.3)


def joined(steps: list[int], shares: Floats, rate: float, alike: float) -> Law:
    """Runs of different numbers of steps."""
    parts = [fixed(share * hits_of(rate, alike, n), n) for n, share in zip(steps, shares, strict=True)]
    return Law(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def _alike(alike: float) -> Callable[[float], Law]:
    return lambda rate: fixed(hits_of(rate, alike))


LAWS: dict[str, Callable[[float], Law]] = {
    "independent": _alike(0.0),
    "alike 0.02": _alike(0.02),
    "alike 0.1": _alike(0.1),
    "alike 0.3": _alike(0.3),
    "good and bad": good_and_bad,
    "bad units": bad_units,
    "1-40 steps": sizes,
    "1-3 steps": few_steps,
}


def gathered(chance: Floats, columns: list[Ints], runs: int, times: int, seed: int) -> Rows:
    """Sums of the ``columns`` over the runs of ``times`` campaigns of ``runs`` runs."""
    order = np.argsort(chance)  # the commonest row takes what rounding leaves
    generator = np.random.Generator(np.random.Philox(seed))
    shares = chance[order] / chance.sum()
    counts = generator.multinomial(runs, shares, size=times)
    sums = counts @ np.stack([column[order] for column in columns], axis=1)
    return Rows(*np.unique(sums, axis=0, return_counts=True))


def campaigns(law: Law, runs: int, times: int, seed: int) -> Rows:
    """Rows of (runs, runs with a hit, x, xx, y, yy, xy), the fields of `Cluster`."""
    x, y = law.x, law.y
    columns = [np.ones_like(x), (y > 0).astype(np.int64), x, x * x, y, y * y, x * y]
    return gathered(law.chance, columns, runs, times, seed)


# Counts per run, which have no bound.  The table ends where a count has no chance worth naming.
MOST = 400
SOLITARY, BURSTS, UNITS = "single counts", "bursts of three", "unlike units"
COUNT_LAWS = (SOLITARY, BURSTS, UNITS)


def counts_of(kind: str, mean: float) -> Law:
    """Counts of a run with this mean: Poisson; bursts of three on the average, geometric, which come
    like Poisson counts; or Poisson with a mean that differs from unit to unit as a gamma law whose
    standard deviation is twice its mean.
    """
    count = np.arange(MOST)
    if kind == SOLITARY:
        chance = stats.poisson.pmf(count, mean)
    elif kind == UNITS:
        chance = stats.nbinom.pmf(count, 0.25, 0.25 / (0.25 + mean))
    else:
        chance = _compound(mean / 3.0, np.asarray(stats.geom.pmf(count, 1.0 / 3.0), float))
    return Law(np.ones(MOST, np.int64), count, np.asarray(chance, float))


def _compound(mean: float, sizes: Floats) -> Floats:
    """Law of the sum of a Poisson number of bursts: Panjer's recursion (ASTIN Bulletin 12 (1981) 22)."""
    chance = np.zeros(sizes.size)
    chance[0] = np.exp(-mean)
    weighted = sizes * np.arange(sizes.size)
    for total in range(1, sizes.size):
        chance[total] = mean / total * (weighted[1 : total + 1] @ chance[total - 1 :: -1])
    return chance


class PairLaw(NamedTuple):
    """What a run of two designs may be: steps wrong in B only, in A only, in both, and probability."""

    p: Ints
    m: Ints
    both: Ints
    chance: Floats

    @property
    def difference(self) -> float:
        """Rate of B minus rate of A."""
        return float((self.chance * (self.p - self.m)).sum()) / STEPS

    @property
    def wrong(self) -> float:
        """Share of runs on which the designs part."""
        return float(self.chance[(self.p > 0) | (self.m > 0)].sum())


@functools.cache
def _parts(b_only: float, a_only: float) -> tuple[Ints, Floats]:
    """Rows of (steps in trouble, wrong in B only, in A only), and the probability of the latter two."""
    rows = np.array(
        [
            (trouble, p, m)
            for trouble, p, m in itertools.product(range(STEPS + 1), repeat=3)
            if p + m <= trouble and (p == 0 or b_only > 0.0)
        ]
    )
    trouble, p, m = rows.T
    parts = (b_only, a_only, 1.0 - b_only - a_only)
    return rows, stats.multinomial.pmf(np.stack([p, m, trouble - p - m], axis=1), trouble, parts)


def pairs(rate: float, alike: float, b_only: float, a_only: float) -> PairLaw:
    """Steps in trouble come as `hits_of` says; of those, shares are wrong in B only and in A only, and
    the rest in both, for the two designs met the same bounce.  A's own rate is ``rate``.
    """
    rows, chance = _parts(b_only, a_only)
    trouble, p, m = rows.T
    return PairLaw(p, m, trouble - p - m, chance * hits_of(rate / (1.0 - b_only), alike)[trouble])


def _pair_law(alike: float, b_only: float, a_only: float) -> Callable[[float], PairLaw]:
    return lambda rate: pairs(rate, alike, b_only, a_only)


PAIR_LAWS = {
    f"{words}, alike {alike:g}": _pair_law(alike, *shares)
    for words, shares in (("equal", (0.2, 0.2)), ("B better", (0.1, 0.4)), ("B never worse", (0.0, 0.3)))
    for alike in (0.0, 0.1, 0.3)
}


def paired_campaigns(law: PairLaw, runs: int, times: int, seed: int) -> Rows:
    """Rows of the fields of `Pair`."""
    p, m = law.p, law.m
    one = np.ones_like(p)
    wrong_a, wrong_b = (m + law.both > 0).astype(np.int64), (p + law.both > 0).astype(np.int64)
    columns = [
        one, STEPS * one, STEPS**2 * one, p, p * p, STEPS * p, m, m * m, STEPS * m, p * m,
        (1 - wrong_a) * (1 - wrong_b), wrong_b * (1 - wrong_a), wrong_a * (1 - wrong_b), wrong_a * wrong_b,
    ]  # fmt: skip
    return gathered(law.chance, columns, runs, times, seed)
