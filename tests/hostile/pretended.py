"""Campaigns whose runs are told by their numbers: all that a course does, with nothing simulated.

Run r has ten steps, of which a number between 0 and 3, mixed from r, is missed.
"""

from __future__ import annotations

import functools
import random
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future
from typing import Any

import numpy as np

from simcore.campaigns.computing import Job
from simcore.campaigns.course import Plan, runs_per_block
from simcore.campaigns.ledger import Span
from simcore.design import Design, HandEntry
from simcore.judging.sums import MISSED, RIGHT, WRONG, Sums, empty_sums
from simcore.judging.tally import Tally
from simcore.statistics.stopping import Stop
from tests.simcore.builders import CLICKS, design

STEPS = 10
FURTHEST = 4000
"""Runs that can be told."""

DESIGN: Design = design(hand=(HandEntry("clicks", CLICKS._replace(moves=700), 700),))
"""So long a hand that the grid has borders every few runs."""
GRID = runs_per_block(DESIGN)


@functools.cache
def _missed() -> np.ndarray[Any, np.dtype[np.int64]]:
    generator = np.random.Generator(np.random.Philox(20))
    return generator.choice(4, FURTHEST, p=(0.7, 0.2, 0.05, 0.05)).astype(np.int64)


def told(span: Span) -> Tally:
    """The tally of some runs."""
    missed = _missed()[span.first : span.end]
    wrong, squared = int(missed.sum()), int((missed**2).sum())
    sums: Sums = empty_sums(1)
    sums.steps[0, 0, 0, MISSED, 1] = wrong
    sums.steps[0, 0, 0, RIGHT, 0] = STEPS * span.runs - wrong
    for group in (0, 1):
        sums.size[group], sums.size_squared[group] = STEPS * span.runs, STEPS**2 * span.runs
        sums.present[group] = span.runs
        for quantity in (MISSED, WRONG):
            sums.total[group, quantity], sums.squared[group, quantity] = wrong, squared
            sums.product[group, quantity] = STEPS * wrong
            sums.runs_with[group, quantity] = int((missed > 0).sum())
    values, counts = np.unique(missed, return_counts=True)
    errors = {-int(value): int(count) for value, count in zip(values, counts, strict=True)}
    return Tally(("clicks",), span.runs, sums, errors)


def computed(job: Job) -> Tally:
    """In the place of simcore.campaigns.computing.compute."""
    return told(Span(job.first, job.runs))


class Stored:
    """A ledger in memory that has some spans from the start."""

    def __init__(self, spans: list[Span]) -> None:
        self.kept = {span: told(span) for span in spans}
        self.asked = 0

    def spans(self, identity: str) -> list[Span]:
        """All that is kept."""
        return list(self.kept)

    def tally(self, identity: str, span: Span) -> Tally:
        """One of them."""
        self.asked += 1
        return self.kept[span]

    def keep(self, identity: str, span: Span, tally: Tally) -> None:
        """Keep it."""
        self.kept[span] = tally


def plan(stop: Stop, first_run: int = 0, block: int | None = None) -> Plan:
    """Some of those runs."""
    return Plan(DESIGN, 1, stop, first_run, block=block)


class Disorderly(Executor):
    """Computes in a thread of its own, whatever comes to hand, in any order."""

    def __init__(self, seed: int) -> None:
        self.order = random.Random(seed)
        self.waiting: list[tuple[Future[Any], Callable[[], Any]]] = []
        self.most = 0
        self.change = threading.Condition()
        self.open = True
        self.thread = threading.Thread(target=self._work)
        self.thread.start()

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """As any executor's."""
        future: Future[Any] = Future()
        with self.change:
            self.waiting.append((future, functools.partial(fn, *args, **kwargs)))
            self.most = max(self.most, sum(not each.cancelled() for each, _ in self.waiting))
            self.change.notify()
        return future

    def _work(self) -> None:
        while True:
            with self.change:
                self.change.wait_for(lambda: self.waiting or not self.open)
                if not self.waiting:
                    return
                future, work = self.waiting.pop(self.order.randrange(len(self.waiting)))
            if future.set_running_or_notify_cancel():
                future.set_result(work())

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Wait for what is waiting."""
        with self.change:
            self.open = False
            self.change.notify()
        self.thread.join()
