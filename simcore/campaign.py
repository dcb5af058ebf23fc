"""Many runs: blocks of them, on threads or elsewhere, added up in run order.

A block counts only when all earlier ones are in, so the result is always that of the first so many
runs, whatever the executor did.  Plan, stopping rule, ledger and tally know nothing of who computes a
block: any executor of `concurrent.futures`, or of a library that speaks its language, will do.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from typing import Any

from simcore.chain import Design
from simcore.computing import Job, compute
from simcore.course import Course, Outcome, Plan
from simcore.executors import workers
from simcore.ledger import Ledger
from simcore.stopping import Stop

Progress = Callable[[int, int], None]
Note = Callable[[Course], None]


def drive(
    courses: Iterable[Course], executor: Executor, in_hand: int, note: Note | None = None
) -> Iterator[Course]:
    """Each course, in order, when it has ended; ``note`` is told of a course after each of its blocks.

    Later courses begin while earlier ones wait for their last blocks, so no worker is idle in between.
    The very first block is computed alone: everything is compiled before two could set about it.
    """
    source, running = iter(courses), deque[Course]()
    futures: dict[Future[Any], tuple[Course, Job]] = {}
    limit = 1
    while True:
        _submit(source, running, futures, executor, limit)
        while running and running[0].ended_by is not None:
            yield running.popleft()
        if not futures and not running:
            return
        done, _ = wait(futures, return_when=FIRST_COMPLETED)
        for future in done:
            course, job = futures.pop(future)
            course.take(job, future.result())
            if note is not None:
                note(course)
        limit = in_hand


def _submit(
    source: Iterator[Course],
    running: deque[Course],
    futures: dict[Future[Any], tuple[Course, Job]],
    executor: Executor,
    limit: int,
) -> None:
    """Put work in hand, of the earliest course that wants any, until there are ``limit`` blocks."""
    while len(futures) < limit:
        for course in running:
            job = course.next()
            if job is not None:
                break
        else:
            following = next(source, None)
            if following is None:
                return
            running.append(following)
            continue
        futures[executor.submit(compute, job)] = (course, job)


def run_campaign(
    design: Design,
    *,
    seed: int,
    runs: int,
    first_run: int = 0,
    engine: str = "batch",
    threads: int = 1,
    block: int | None = None,
    progress: Progress | None = None,
    margins: bool = True,
    stop: Stop | None = None,
    ledger: Ledger | None = None,
) -> Outcome:
    """Simulate ``runs`` runs and tally them, with their ``margins`` unless they are not wanted.

    ``stop``, if given, says when to end instead of ``runs``.  ``progress`` is called with (runs done,
    runs asked for) after each block.  A KeyboardInterrupt ends the campaign with what was finished so
    far.  What a ``ledger`` has is not computed again, and what is computed is kept there.
    """
    stop = stop or Stop(runs)
    course = Course(Plan(design, seed, stop, first_run, engine, block, margins), ledger)

    def note(course: Course) -> None:
        if progress is not None:
            progress(course.tally.runs, stop.runs)

    try:
        with workers(threads) as (executor, in_hand):
            for _ in drive([course], executor, in_hand, note):
                pass
    except KeyboardInterrupt:
        pass
    return course.outcome()
