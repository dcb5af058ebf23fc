"""Ledgers in files that hold pretended runs, and children of this process to be killed or starved."""

from __future__ import annotations

import os
import pathlib
import signal
import traceback
import warnings
from collections.abc import Callable

from scenarios.ledger import LedgerFile
from simcore.campaigns.course import Course, Outcome
from simcore.campaigns.identity import identity
from simcore.campaigns.ledger import Span
from simcore.statistics.stopping import Stop
from tests.hostile.pretended import DESIGN, GRID, computed, plan, told

IDENTITY = identity(DESIGN, 1, True)
BLOCKS = 30
RUNS = BLOCKS * GRID
FAILED = 70
"""Exit code of a child in which something went wrong."""


def filled(path: pathlib.Path, blocks: int = BLOCKS) -> None:
    """Make a ledger that has the first so many blocks."""
    with LedgerFile(path) as ledger:
        ledger.announce(IDENTITY, "pretended", {"counter": {"kind": "none"}})
        for at in range(blocks):
            span = Span(at * GRID, GRID)
            ledger.keep(IDENTITY, span, told(span))


def gone_through(path: pathlib.Path) -> Outcome:
    """A campaign of all those runs on the ledger; LedgerError if that cannot be used."""
    with LedgerFile(path) as ledger:
        course = Course(plan(Stop(RUNS)), ledger)
        while (job := course.next()) is not None:
            course.take(job, computed(job))
        if ledger.trouble is not None:
            raise ledger.trouble
        return course.outcome()


def lies_beside(path: pathlib.Path) -> list[str]:
    """The names in the folder, sorted."""
    return sorted(each.name for each in path.parent.iterdir())


def child(work: Callable[[], None]) -> int:
    """Do ``work`` in a copy of this process; returns its identifier."""
    with warnings.catch_warnings():
        warnings.simplefilter(
            "ignore", DeprecationWarning
        )  # of forking beside threads, which do nothing here
        number = os.fork()
    if number:
        return number
    try:
        work()
    except BaseException:
        traceback.print_exc()
        os._exit(FAILED)
    os._exit(0)


def ended(number: int) -> int:
    """Wait for a child: its exit code, or minus the signal that ended it."""
    return os.waitstatus_to_exitcode(os.waitpid(number, 0)[1])


def dies() -> None:
    """End this process as a loss of power would."""
    os.kill(os.getpid(), signal.SIGKILL)
