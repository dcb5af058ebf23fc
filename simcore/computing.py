"""One block of a campaign, computed: a job that can be sent to a thread, a process or another machine.

Whoever computes needs `compute` and a `Job` alone, both of which can be pickled; nothing here knows of
plans, stopping rules or ledgers.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import Protocol

from simcore.batch import BatchEngine
from simcore.blocks import BlockResult
from simcore.chain import Design
from simcore.events import EventEngine
from simcore.tally import Tally, tally_of

ENGINES = ("batch", "events")


class Engine(Protocol):
    """Whatever can run and judge a block."""

    def run(self, seed: int, first_run: int, runs: int) -> BlockResult:
        """Tallies of ``runs`` runs from ``first_run`` on."""
        ...


@dataclass(frozen=True)
class Work:
    """What all blocks of one campaign share; ``room`` is the most runs of one block."""

    design: Design
    seed: int
    engine: str
    margins: bool
    room: int

    def __post_init__(self) -> None:
        if self.engine not in ENGINES:
            raise ValueError(f"no engine {self.engine!r}; there are {' and '.join(ENGINES)}")


@dataclass(frozen=True)
class Job:
    """One block: ``runs`` runs from ``first`` on."""

    work: Work
    first: int
    runs: int


class _Kept(threading.local):
    """The engine that a thread used last: an engine holds arrays that are worth using again."""

    work: Work | None = None
    engine: Engine | None = None


_kept = _Kept()


def compute(job: Job) -> Tally:
    """The tally of one block."""
    names = tuple(entry.name for entry in job.work.design.hand)
    result = _engine(job.work).run(job.work.seed, job.first, job.runs)
    return tally_of(names, result.sums, result.errors, result.margins)


def _engine(work: Work) -> Engine:
    if _kept.engine is None or _kept.work is not work:
        _kept.engine = _make(work)
        _kept.work = work
    return _kept.engine


def _make(work: Work) -> Engine:
    if work.engine == "batch":
        return BatchEngine(work.design, work.room, margins=work.margins)
    return EventEngine(work.design, margins=work.margins)
