"""Blocks computed by an executor of another make: in processes that share nothing with this one."""

from __future__ import annotations

import multiprocessing
import os
import pathlib
import pickle
import subprocess
import sys
from concurrent.futures import Executor, ProcessPoolExecutor

import numpy as np
import pytest

from scenarios.ledger import LedgerFile
from simcore.campaigns import computing
from simcore.campaigns.campaign import drive, run_campaign
from simcore.campaigns.computing import Job, Work, compute
from simcore.campaigns.course import Course, Outcome, Plan
from simcore.statistics.stopping import ENOUGH_ERRORS, Stop
from tests.plugins.test_plugins import install, write
from tests.reports.running import environment
from tests.simcore.builders import design, filtered
from tests.theory.test_same_answer import same_tally

DESIGN = design(filtered(22.0))
STOP = Stop(3000, errors=150)


def elsewhere(plan: Plan, ledger: LedgerFile | None, executor: Executor) -> Outcome:
    """A campaign that another executor computes."""
    (course,) = drive([Course(plan, ledger)], executor, 4)
    return course.outcome()


def test_processes_give_the_answer_of_a_thread(tmp_path: pathlib.Path) -> None:
    """Margins and the ledger's blocks as well."""
    here = run_campaign(DESIGN, seed=3, runs=0, stop=STOP)
    assert here.ended_by == ENOUGH_ERRORS
    plan = Plan(DESIGN, 3, STOP, block=100)
    with (
        LedgerFile(tmp_path / "ledger.sqlite") as ledger,
        ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as executor,
    ):
        there = elsewhere(plan, ledger, executor)
        again = elsewhere(plan, ledger, executor)
    for each in (there, again):
        same_tally(each.tally, here.tally)
        assert each.ended_by == here.ended_by
        assert each.rate == here.rate
        assert each.tally.margins is not None
        assert here.tally.margins is not None
        for mine, theirs in zip(each.tally.margins, here.tally.margins, strict=True):
            assert np.array_equal(mine, theirs)
    assert (there.kept, again.kept) == (0, here.tally.runs)


def test_a_worker_keeps_its_engine_from_one_block_to_the_next() -> None:
    """A job that was sent comes with a copy of what it works on, and is known by its mark."""
    work = Work(DESIGN, 3, "batch", True, 50)
    compute(Job(work, 0, 5))
    engine = computing._engine(work)
    sent = pickle.loads(pickle.dumps(Job(work, 5, 5)))  # noqa: S301 - our own
    assert sent.work is not work
    assert computing._engine(sent.work) is engine
    assert computing._engine(Work(DESIGN, 4, "batch", True, 50)) is not engine


SCRIPT = """
import multiprocessing
from concurrent.futures import ProcessPoolExecutor
from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import drive, run_campaign
from simcore.campaigns.course import Course, Plan
from simcore.statistics.stopping import Stop

if __name__ == "__main__":
    design = load_scenario("theirs.toml").design
    here = run_campaign(design, seed=1, runs=90)
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(2, spawn, load_scenario, ("theirs.toml",)) as executor:
        (there,) = drive([Course(Plan(design, 1, Stop(90), block=20))], executor, 4)
    for tally in (here.tally, there.outcome().tally):
        print(tally.runs, tally.verdicts, tally.causes, tally.errors)
"""


def test_kinds_of_other_packages_travel_as_well(
    tmp_path: pathlib.Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Their records are pickled by name, so a worker imports the package, and with it the rules.  (That it
    loads the scenario as well only makes it look for compiled code where this process has put it.)
    """
    package = install("example", tmp_path_factory.mktemp("example"))
    write(tmp_path, "pulse stretcher", 'least = "1 ms"')
    (tmp_path / "script.py").write_text(SCRIPT, encoding="utf-8")
    paths = os.pathsep.join(path for path in (package, os.environ.get("PYTHONPATH")) if path)
    done = subprocess.run(
        [sys.executable, "script.py"], cwd=tmp_path, env=environment({"PYTHONPATH": paths}),
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    here, there = done.stdout.splitlines()
    assert here == there
    assert here.startswith("90 ")
