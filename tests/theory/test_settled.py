"""How often a comparison that goes on until it is settled decides what is not so: data by chance.

Designs of the same rate, whose discordant steps come singly or many to a run.  What is counted is a verdict
at any of the planned analyses, which is more than what can end a comparison.  Shares are held against the
binomial law: 5 % are allowed; the limit is exceeded by chance in one of a thousand if it is just that.
"""

from __future__ import annotations

import numpy as np
import pytest

from simcore.statistics.paired import BETTER, WORSE, Pair, verdicts
from simcore.statistics.stopping import interim_analyses
from tests.theory.acceptance import BLOCK, LAWS, Array, limit

STEPS = 18
RUNS = 8 * BLOCK
PLANNED = interim_analyses(BLOCK, RUNS)
FEW = 100
LEVEL = 0.95


def discordant(law: str, rate: float, together: bool, rng: np.random.Generator) -> tuple[Array, Array]:
    """Steps of each run that are wrong in the other design only, and in the first only: as many of either
    on average.  ``together``: all of one run are of one kind.
    """
    units = LAWS[law](rng, (RUNS, 1), rate)[:, 0]
    steps = rng.binomial(STEPS, units)
    more = np.where(rng.random(RUNS) < 0.5, steps, 0) if together else rng.binomial(steps, 0.5)
    return more, steps - more


def pair_of(more: Array, fewer: Array) -> Pair:
    """The sums of some runs."""
    p, m, runs = int(more.sum()), int(fewer.sum()), more.size
    in_other, in_first = int(np.count_nonzero(more)), int(np.count_nonzero(fewer))
    both = int(np.count_nonzero((more > 0) & (fewer > 0)))
    return Pair(
        runs, STEPS * runs, STEPS**2 * runs, p, int(more @ more), STEPS * p, m, int(fewer @ fewer), STEPS * m,
        int(more @ fewer), runs - in_other - in_first + both, in_other - both, in_first - both, both,
    )  # fmt: skip


def decided_falsely(law: str, rate: float, together: bool, others: int, repetitions: int, seed: int) -> float:
    """The share of comparisons of ``others`` designs with the first in which one is ever called better or
    worse.
    """
    rng, wrong = np.random.default_rng([seed, others]), 0
    for _ in range(repetitions):
        rows = [discordant(law, rate, together, rng) for _ in range(others)]
        found = (
            verdict
            for runs in PLANNED
            for verdict, _ in verdicts([pair_of(p[:runs], m[:runs]) for p, m in rows], LEVEL, len(PLANNED))
        )
        wrong += any(verdict in (BETTER, WORSE) for verdict in found)
    return wrong / repetitions


@pytest.mark.parametrize("law", ["alike", "one unit in 50 bad", "beta, correlation 0.3"])
@pytest.mark.parametrize("others", [1, 3])
def test_designs_of_the_same_rate_are_seldom_decided(law: str, others: int) -> None:
    assert decided_falsely(law, 5e-3, True, others, FEW, 1) <= limit(FEW)


def test_the_allowance_is_needed() -> None:
    """As many analyses, each at the whole of 5 %, decide falsely too often."""
    rng, wrong = np.random.default_rng(3), 0
    for _ in range(4 * FEW):
        p, m = discordant("alike", 2e-2, False, rng)
        pairs = [pair_of(p[:runs], m[:runs]) for runs in PLANNED]
        wrong += any(verdicts([pair], LEVEL, 1)[0][0] in (BETTER, WORSE) for pair in pairs)
    assert wrong / (4 * FEW) > limit(4 * FEW)


def test_unequal_designs_are_settled() -> None:
    """Three times as many steps one way as the other: before half of the runs are done, mostly."""
    rng, runs_needed = np.random.default_rng(4), []
    for _ in range(FEW):
        steps = rng.binomial(STEPS, np.full(RUNS, 5e-3))
        more = rng.binomial(steps, 0.75)
        pairs = ((runs, pair_of(more[:runs], (steps - more)[:runs])) for runs in PLANNED)
        ended = (runs for runs, pair in pairs if verdicts([pair], LEVEL, len(PLANNED))[0][0] == WORSE)
        runs_needed.append(next(ended, 2 * RUNS))
    assert np.median(runs_needed) <= RUNS / 2


@pytest.mark.campaign
@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("rate", [1e-3, 1e-2])
@pytest.mark.parametrize("together", [False, True])
@pytest.mark.parametrize("others", [1, 3])
def test_the_whole_campaign(law: str, rate: float, together: bool, others: int) -> None:
    assert decided_falsely(law, rate, together, others, 2000, 5) <= limit(2000)
