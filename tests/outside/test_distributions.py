"""The distributions against those of scipy.stats.

Seeds are fixed, so a test never changes its mind; each comparison has a false-alarm rate of
1e-4, that is, of all seeds one in ten thousand would have failed a right distribution.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from simcore.base.compiling import kernel
from simcore.base.draws import Part, between, four, lognormal, normal_pair, poisson, toleranced
from simcore.base.records import Floats

FALSE_ALARM = 1.0e-4
SIZE = 20_000


@kernel
def fill(seed: int, purpose: int, out: Floats) -> None:
    """Rows of four uniforms, index by index."""
    for i in range(out.shape[0]):
        u = four(seed, 5, purpose, i)
        for column in range(4):
            out[i, column] = u[column]


def uniforms(seed: int) -> Floats:
    """(SIZE, 4) of our own uniforms."""
    out = np.zeros((SIZE, 4))
    fill(seed, 77, out)
    return out


def accept(sample: Floats, law: str, *parameters: float) -> None:
    """Kolmogorov and Smirnov's test at the false-alarm rate above."""
    assert stats.kstest(sample, law, args=parameters).pvalue > FALSE_ALARM


@pytest.mark.parametrize("column", range(4))
def test_uniform(column: int) -> None:
    accept(uniforms(11)[:, column], "uniform")


def test_words_of_one_block_are_independent() -> None:
    """Chi-square on the 8 x 8 table of every two of the four words."""
    cells = (uniforms(12) * 8).astype(int)
    for left in range(4):
        for right in range(left + 1, 4):
            table = np.zeros((8, 8))
            np.add.at(table, (cells[:, left], cells[:, right]), 1)
            assert stats.chisquare(table.ravel()).pvalue > FALSE_ALARM


def test_normal_pair() -> None:
    pairs = np.array([normal_pair(row[0], row[1]) for row in uniforms(13)])
    accept(pairs[:, 0], "norm")
    accept(pairs[:, 1], "norm")
    accept(np.hypot(pairs[:, 0], pairs[:, 1]), "rayleigh")
    assert stats.pearsonr(pairs[:, 0], pairs[:, 1]).pvalue > FALSE_ALARM


@pytest.mark.parametrize(("median", "spread"), [(20.0e-3, 0.25), (1.0e-4, 0.5), (3.0, 1.2)])
def test_lognormal(median: float, spread: float) -> None:
    sample = np.array([lognormal(median, spread, normal_pair(r[0], r[1])[0]) for r in uniforms(14)])
    accept(sample, "lognorm", spread, 0.0, median)


def test_lognormal_without_spread_is_its_median() -> None:
    assert lognormal(0.02, 0.0, -3.7) == 0.02


def pooled(expected: Floats, least: float = 10.0) -> int:
    """First class from which on all are joined, so that none expects fewer than ``least``."""
    return int(np.argmax(expected < least)) if (expected < least).any() else expected.size


@pytest.mark.parametrize("mean", [0.05, 0.7, 1.5, 6.0, 40.0])
def test_poisson(mean: float) -> None:
    """Chi-square; both tails are pooled into classes that expect ten or more."""
    sample = np.array([poisson(mean, 200, row[2]) for row in uniforms(15)])
    start = int(stats.poisson.ppf(10.0 / SIZE, mean))
    classes = np.arange(start, int(mean + 10 * np.sqrt(mean) + 10))
    expected = SIZE * np.diff(np.concatenate([[0.0], stats.poisson.cdf(classes, mean)]))
    last = 1 + pooled(expected[1:])
    expected = np.append(expected[:last], SIZE - expected[:last].sum())
    observed = np.bincount(np.clip(sample - start, 0, last), minlength=last + 1)
    assert observed.sum() == SIZE
    assert stats.chisquare(observed, expected).pvalue > FALSE_ALARM


@pytest.mark.parametrize("mean", [0.3, 2.0, 9.0])
def test_poisson_inverts_the_distribution(mean: float) -> None:
    """By definition of inversion, the count is the quantile at the uniform."""
    for u in uniforms(16)[:2000, 0]:
        assert poisson(mean, 200, u) == stats.poisson.ppf(np.nextafter(u, 1.0), mean)


def test_poisson_is_cut_off() -> None:
    assert poisson(50.0, 7, 0.999999) == 7
    assert poisson(0.0, 7, 0.999999) == 0


def test_between() -> None:
    sample = np.array([between(-3.0, 5.0, row[1]) for row in uniforms(17)])
    accept(sample, "uniform", -3.0, 8.0)
    assert sample.min() >= -3.0
    assert sample.max() < 5.0


def test_tolerance_is_rectangular() -> None:
    """JCGM 101:2008, 6.4.2: limits alone make a rectangular law."""
    sample = np.array([toleranced(Part(4700.0, 0.05), row[3]) for row in uniforms(18)])
    accept(sample, "uniform", 4700.0 * 0.95, 4700.0 * 0.1)


def test_sum_of_four_rectangular_quantities() -> None:
    """JCGM 101:2008, 9.2.3: four rectangular quantities of standard deviation 1 sum to one of
    2.0 whose 95 % lies within +-3.88 (exact: 3.879407); a part of 1 with a tolerance of the
    square root of 3 has that deviation, around 1.
    """
    part = Part(1.0, float(np.sqrt(3.0)))
    sums = np.array([sum(toleranced(part, u) for u in row) for row in uniforms(19)])
    assert abs(sums.mean() - 4.0) < 4 * 2.0 / np.sqrt(SIZE)
    assert abs(sums.std() / 2.0 - 1.0) < 4 / np.sqrt(2.0 * SIZE)
    inside = int((abs(sums - 4.0) <= 3.879407).sum())
    assert stats.binomtest(inside, SIZE, 0.95).pvalue > FALSE_ALARM
