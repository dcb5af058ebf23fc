"""One block of a campaign, computed: a job that can be sent to a thread, a process or another machine.

Whoever computes needs `compute` and a `Job` alone, both of which can be pickled; nothing here knows of
plans, stopping rules or ledgers.
"""

from __future__ import annotations

import threading
import uuid
from dataclasses import dataclass, field
from typing import Protocol

from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.engines.blocks import BlockResult
from simcore.engines.events import EventEngine
from simcore.judging.tally import Tally, tally_of

ENGINES = ("batch", "events")
KEPT = 4
"""Engines that a thread keeps: campaigns of a sweep take turns while their looks are awaited."""


class Engine(Protocol):
    """Whatever can run and judge a block."""

    def run(self, seed: int, first_run: int, runs: int) -> BlockResult:
        """Tallies of ``runs`` runs from ``first_run`` on."""
        ...


@dataclass(frozen=True)
class Work:
    """What all blocks of one campaign share; ``room`` is the most runs of one block, and copies that went to
    other processes are known by their ``mark``.
    """

    design: Design
    seed: int
    engine: str
    margins: bool
    room: int
    mark: str = field(default_factory=lambda: uuid.uuid4().hex)

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
    """The engines that a thread used last: an engine holds arrays that are worth using again."""

    def __init__(self) -> None:
        self.engines: dict[str, Engine] = {}


_kept = _Kept()


def compute(job: Job) -> Tally:
    """The tally of one block."""
    names = tuple(entry.name for entry in job.work.design.hand)
    result = _engine(job.work).run(job.work.seed, job.first, job.runs)
    return tally_of(names, result.sums, result.errors, result.margins)


def _engine(work: Work) -> Engine:
    """The engine for ``work``, now the last in the row of those kept."""
    engines = _kept.engines
    engine = engines.pop(work.mark, None)
    if engine is None:
        while len(engines) >= KEPT:
            del engines[next(iter(engines))]
        engine = _make(work)
    engines[work.mark] = engine
    return engine


def _make(work: Work) -> Engine:
    if work.engine == "batch":
        return BatchEngine(work.design, work.room, margins=work.margins)
    return EventEngine(work.design, margins=work.margins)
