"""How often the rule of `choose` calls a design good: clustered data by chance, and real designs.

    python -m tests.theory.acceptance [REPETITIONS] [OUTPUT.json] [PROCESSES]

simulates the whole campaign and writes what `reports/measured/acceptance.json` holds.  Data by chance come
from a hand of two gestures, as one run of each design has them; the rule itself is that of
simcore.statistics.stopping.
"""

from __future__ import annotations

import itertools
import json
import math
import pathlib
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Any

import numpy as np
import numpy.typing as npt

from simcore.campaigns.choosing import AMPLE, BAD, GOOD, UNDECIDED, VERDICTS, fewest_runs, parts_of
from simcore.campaigns.computing import Job, Work, compute
from simcore.campaigns.options import RunOptions
from simcore.design import Design
from simcore.judging.tally import Cluster
from simcore.statistics.stopping import Stop, Target, analysis_level, interim_analyses, joint_verdict

Array = npt.NDArray[Any]
Units = Callable[[np.random.Generator, tuple[int, int], float], Array]
STEPS = (8, 10)
"""Steps of the two gestures in one run."""
BLOCK = 187
"""Runs of a block, as an ordinary knob has them."""
RATE = 1.0e-3
TIMES = (1.0, 1.5, 2.0)
"""Rates that are simulated, over the target."""
FIELDS = ("runs", "runs_with", "x", "xx", "y", "yy", "xy")


def alike(rng: np.random.Generator, size: tuple[int, int], rate: float) -> Array:
    """Every unit has the same chance of a wrong step."""
    return np.full(size, rate)


def beta(rho: float) -> Units:
    """Units differ by a beta law, steps of one unit having the correlation ``rho``."""

    def draw(rng: np.random.Generator, size: tuple[int, int], rate: float) -> Array:
        scale = 1.0 / rho - 1.0
        found: Array = np.asarray(rng.beta(rate * scale, (1.0 - rate) * scale, size))
        return found

    return draw


def rare(share: float) -> Units:
    """A ``share`` of units makes all the wrong steps; where it is not above the rate, every step of theirs
    is wrong.
    """

    def draw(rng: np.random.Generator, size: tuple[int, int], rate: float) -> Array:
        part = max(share, rate)
        return np.where(rng.random(size, np.float32) < part, rate / part, 0.0)

    return draw


def lognormal(sigma: float) -> Units:
    """Units differ by a lognormal factor of mean 1."""

    def draw(rng: np.random.Generator, size: tuple[int, int], rate: float) -> Array:
        factor = np.exp(sigma * rng.standard_normal(size, np.float32) - 0.5 * sigma * sigma)
        found: Array = np.minimum(rate * factor, 1.0)
        return found

    return draw


def half_rare(rng: np.random.Generator, size: tuple[int, int], rate: float) -> Array:
    """Half of the wrong steps come singly; the other half are all the steps of units so rare that there are
    often none of them among those simulated, and nothing tells of them then.
    """
    return np.where(rng.random(size) < 0.5 * rate, 1.0, 0.5 * rate)


LAWS: dict[str, Units] = {
    "alike": alike,
    "beta, correlation 0.05": beta(0.05),
    "beta, correlation 0.3": beta(0.3),
    "one unit in 50 bad": rare(0.02),
    "one unit in 300 bad": rare(1.0 / 300.0),
    "bad units all wrong": rare(0.0),
    "lognormal, sigma 1.5": lognormal(1.5),
}
UNSEEN: dict[str, Units] = {"half in rare units, all wrong": half_rare}
"""Laws that no rule can see through with so few runs: told beside the others, not among them."""


@dataclass(frozen=True)
class Case:
    """A law of units, the rate of the first gesture, and whether the second has it too or is clean."""

    law: str
    rate: float
    both: bool


def cumulative(case: Case, at: Sequence[int], rng: np.random.Generator) -> list[list[Cluster]]:
    """The clusters of all steps and of both gestures at each look of one campaign."""
    units = {**LAWS, **UNSEEN}[case.law](rng, (at[-1], 1), case.rate)[:, 0]
    first = rng.binomial(STEPS[0], units)
    second = rng.binomial(STEPS[1], units) if case.both else np.zeros_like(first)
    groups = ((first + second, sum(STEPS)), (first, STEPS[0]), (second, STEPS[1]))
    found = []
    for runs in at:
        found.append([_cluster(wrong[:runs], steps) for wrong, steps in groups])
    return found


def _cluster(wrong: Array, steps: int) -> Cluster:
    runs, total = wrong.size, int(wrong.sum())
    with_wrong, squares = int(np.count_nonzero(wrong)), int(wrong @ wrong)
    sums = (runs, with_wrong, runs * steps, runs * steps**2, total, squares, steps * total)
    return Cluster(**dict(zip(FIELDS, sums, strict=True)))


def ruled(at: Sequence[int], clusters: Sequence[list[Cluster]], target: Target) -> tuple[str, int]:
    """The verdict of a search, and the runs that it took."""
    level = analysis_level(target, len(at))
    for runs, parts in zip(at, clusters, strict=True):
        verdict = joint_verdict(parts, target, level)
        if verdict is not None:
            return VERDICTS[verdict], runs
    return UNDECIDED, at[-1]


def search_looks(target: Target, times: int = AMPLE, block: int = BLOCK) -> list[int]:
    """The looks of a search with so many times the fewest runs."""
    return interim_analyses(block, times * fewest_runs(target, block))


def shares(verdicts: Sequence[tuple[str, int]]) -> dict[str, Any]:
    """Shares of good and bad, and the runs until a good one was called so: median and nine in ten."""
    good = sorted(runs for verdict, runs in verdicts if verdict == GOOD)
    count = len(verdicts)
    return {
        "repetitions": count,
        "good": len(good) / count,
        "bad": sum(verdict == BAD for verdict, _ in verdicts) / count,
        "runs": float(np.median(good)) if good else None,
        "runs_nine_in_ten": float(np.quantile(good, 0.9)) if good else None,
    }


def by_chance(case: Case, repetitions: int, seed: int, times: int = AMPLE) -> dict[str, Any]:
    """Verdicts on data by chance; the target is RATE."""
    target = Target(RATE, each=True, joint=True)
    at, rng = search_looks(target, times), np.random.default_rng([seed, repetitions])
    verdicts = [ruled(at, cumulative(case, at, rng), target) for _ in range(repetitions)]
    return {"law": case.law, "times": case.rate / RATE, "both": case.both, **shares(verdicts)}


def real(design: Design, block: int, repetitions: int, seed: int) -> dict[str, Any]:
    """Verdicts on a real design, whose own rate at its worst gesture is the target.

    That rate is taken from all repetitions together, so it is known from so many times more runs.
    """
    work = Work((design,), RunOptions(seed, Stop(0), margins=False), 2000)
    pilot = compute(Job(work, 0, 2000)).tallies[0]
    guess = max(part.y / part.x for part in parts_of(pilot)[1:])
    at = search_looks(Target(guess, each=True, joint=True), block=block)
    edges = [0, *at]
    table = []
    for repetition in range(repetitions):
        begin = 2000 + repetition * at[-1]
        jobs = (Job(work, begin + a, b - a) for a, b in itertools.pairwise(edges))
        table.append([[_row(part) for part in parts_of(compute(job).tallies[0])] for job in jobs])
    sums = np.array(table).cumsum(axis=1)
    whole = sums[:, -1].sum(axis=0)
    truth = max(float(row[4] / row[2]) for row in whole[1:])
    target = Target(truth, each=True, joint=True)
    verdicts = []
    for each in sums:
        clusters = [
            [Cluster(**dict(zip(FIELDS, map(int, row), strict=True))) for row in rows] for rows in each
        ]
        verdicts.append(ruled(at, clusters, target))
    return {"rate": truth, "looks": at, **shares(verdicts)}


def _row(part: Cluster) -> list[int]:
    return [int(getattr(part, name)) for name in FIELDS]


def real_designs() -> dict[str, Design]:
    """Designs with rates high enough to be known well."""
    from scenarios.loading.load import load_scenario

    return {
        "panel-knob, 47 nF": load_scenario("panel-knob", ["filter.capacitor=47 nF"]).design,
        "panel-knob, 470 nF": load_scenario("panel-knob", ["filter.capacitor=470 nF"]).design,
    }


def limit(repetitions: int, level: float = 0.999) -> float:
    """What the share of good ones among designs just at the target may be by chance, if it is 5 %."""
    from scipy.stats import binom

    return float(binom.ppf(level, repetitions, 0.05)) / repetitions


@dataclass(frozen=True)
class Errand:
    """One part of the campaign: a case by chance, or the name of a real design."""

    case: Case | None
    name: str
    repetitions: int
    seed: int
    times: int = AMPLE

    def __call__(self) -> dict[str, Any]:
        """What it finds."""
        if self.case is None:
            return real(real_designs()[self.name], 20, self.repetitions, self.seed)
        return by_chance(self.case, self.repetitions, self.seed, self.times)


def run_errand(errand: Errand) -> dict[str, Any]:
    """For processes, which call functions by name."""
    return errand()


def campaign(repetitions: int, said: Callable[[str], None], processes: int = 1) -> dict[str, Any]:
    """All cases, those just at the target first; the numbers do not depend on ``processes``."""
    cases = [Case(law, RATE * times, both) for times in TIMES for law in LAWS for both in (False, True)]
    better = [
        Case(law, RATE * share, True) for law in ("alike", "one unit in 50 bad") for share in (0.5, 0.1)
    ]
    chance = [Errand(case, "", repetitions, 100 + i) for i, case in enumerate(cases)]
    power = [Errand(case, "", repetitions // 5, 900 + i, 8) for i, case in enumerate(better)]
    own = [Errand(None, name, repetitions, 77) for name in real_designs()]
    unseen = [
        Errand(Case(law, RATE, both), "", repetitions, 800 + i)
        for i, (law, both) in enumerate(itertools.product(UNSEEN, (False, True)))
    ]
    errands = [*chance, *own, *power, *unseen]
    found = []
    with ProcessPoolExecutor(processes, get_context("spawn")) as pool:
        for each in pool.map(run_errand, errands):
            found.append(each)
            said(str(each))
    kept = dict(zip(errands, found, strict=True))
    at_target = [kept[each] for each in chance if each.case and math.isclose(each.case.rate, RATE)]
    good = [each["good"] for each in (*at_target, *(kept[each] for each in own))]
    return {
        "at_target": {"worst_share": max(good), "cases": len(good), "repetitions": repetitions},
        "unseen": {"worst_share": max(kept[each]["good"] for each in unseen), "repetitions": repetitions},
        "rate": RATE,
        "looks": search_looks(Target(RATE, each=True, joint=True)),
        "by_chance": [kept[each] for each in chance],
        "power": [kept[each] for each in power],
        "by_unseen": [kept[each] for each in unseen],
        "real": {each.name: kept[each] for each in own},
    }


def main() -> None:
    """Simulate, and write what was found."""
    repetitions = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    place = pathlib.Path(sys.argv[2] if len(sys.argv) > 2 else "acceptance.json")
    processes = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    found = campaign(repetitions, lambda text: print(text, flush=True), processes)
    place.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
