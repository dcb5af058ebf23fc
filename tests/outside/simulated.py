"""Helper: campaigns of real designs, whose truth comes from a far longer one.

A long campaign is kept as blocks of a hundred runs.  Campaigns are drawn from its blocks, so that its
own rate is the truth that their intervals must hold.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from scenarios.loading.load import load_scenario
from simcore.base.records import Ints
from simcore.engines.batch import BatchEngine
from simcore.judging.sums import MISSED
from simcore.judging.tally import Cluster, tally_of
from simcore.statistics.estimates import count_interval, rate_interval
from simcore.statistics.paired import Pair, difference_interval
from tests.outside.clustered import Rows
from tests.outside.coverage import Case, normal_difference, on_effective_steps, scaled_count, seed_of

BLOCK = 100
SEED = 20260


def long_campaign(name: str, runs: int) -> tuple[Ints, Ints]:
    """Per block the fields of `Cluster` of wrong steps (blocks, 7), and the sums of spurious counts per
    run and of their squares (blocks, 2).
    """
    design = load_scenario(name).design
    engine, names = BatchEngine(design, BLOCK), tuple(entry.name for entry in design.hand)
    clusters, spurious = [], []
    for first in range(0, runs, BLOCK):
        result = engine.run(SEED, first, BLOCK)
        cluster = tally_of(names, result.sums, result.errors).cluster("wrong")
        clusters.append(
            (cluster.runs, cluster.runs_with, cluster.x, cluster.xx, cluster.y, cluster.yy, cluster.xy)
        )
        spurious.append(result.sums.spurious.copy())
    return np.array(clusters, np.int64), np.array(spurious, np.int64)


def long_pair(name: str, change: str, runs: int) -> Ints:
    """Per block the fields of `Pair` (blocks, 14) of a scenario and of the same with a change."""
    designs = (load_scenario(name).design, load_scenario(name, (change,)).design)
    engines = (BatchEngine(designs[0], BLOCK), BatchEngine(designs[1], BLOCK))
    return np.array([_paired(engines, first) for first in range(0, runs, BLOCK)], np.int64)


def _verdicts(engine: BatchEngine, first: int) -> tuple[npt.NDArray[np.bool_], Ints]:
    detail = engine.detail(SEED, first, BLOCK)
    return detail.verdicts >= MISSED, detail.truth.steps.offsets[: BLOCK + 1].copy()


def _paired(engines: tuple[BatchEngine, BatchEngine], first: int) -> list[int]:
    a, offsets = _verdicts(engines[0], first)
    b, others = _verdicts(engines[1], first)
    assert np.array_equal(offsets, others)

    def per_run(steps: npt.NDArray[np.bool_]) -> Ints:
        return np.asarray(np.add.reduceat(steps.astype(np.int64), offsets[:-1]), np.int64)

    x, p, m = np.diff(offsets), per_run(b & ~a), per_run(a & ~b)
    some_a, some_b = per_run(a) > 0, per_run(b) > 0
    sums = (x, x * x, p, p * p, x * p, m, m * m, x * m, p * m)
    runs = (~some_a & ~some_b, ~some_a & some_b, some_a & ~some_b, some_a & some_b)
    return [BLOCK, *(int(each.sum()) for each in (*sums, *runs))]


def drawn(blocks: Ints, runs: int, times: int, seed: int) -> Rows:
    """Campaigns of so many runs, made of blocks drawn from the long one."""
    generator = np.random.Generator(np.random.Philox(seed))
    chosen = generator.integers(len(blocks), size=(times, runs // BLOCK))
    sums = np.stack([blocks[each].sum(axis=0) for each in chosen])
    return Rows(*np.unique(sums, axis=0, return_counts=True))


def wrong_case(name: str, clusters: Ints, runs: int, times: int) -> Case:
    """The rate of wrong steps of a scenario."""
    total = clusters.sum(axis=0)
    rows = drawn(clusters, runs, times, seed_of("simulated", name, runs))
    return Case(
        rows, float(total[4] / total[2]), runs * float(total[1] / total[0]),
        lambda row: rate_interval(Cluster(*row)),
        lambda row: on_effective_steps(Cluster(*row)),
    )  # fmt: skip


def spurious_case(name: str, spurious: Ints, steps: float, runs: int, times: int) -> Case:
    """The spurious counts per run of a scenario with so many ``steps`` a run."""
    mean = float(spurious[:, 0].sum()) / (len(spurious) * BLOCK)
    rows = drawn(spurious, runs, times, seed_of("simulated spurious", name, runs))
    return Case(
        rows, mean, runs * min(mean, 1.0),
        lambda row: count_interval(row[0], row[1], runs, assumed_effect=steps),
        lambda row: scaled_count(row[0], row[1], runs),
    )  # fmt: skip


def pair_case(name: str, pairs: Ints, runs: int, times: int) -> Case:
    """The paired difference of a scenario and a change of it."""
    total = Pair(*pairs.sum(axis=0).tolist())
    parted = (total.p + total.m) / total.runs
    rows = drawn(pairs, runs, times, seed_of("simulated pair", name, runs))
    return Case(
        rows, total.difference, runs * min(parted, 1.0),
        lambda row: difference_interval(Pair(*row)),
        lambda row: normal_difference(Pair(*row)),
    )  # fmt: skip
