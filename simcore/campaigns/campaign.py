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

from simcore.campaigns.computing import Job, compute
from simcore.campaigns.course import Course, Outcome, Plan
from simcore.campaigns.executors import workers
from simcore.campaigns.ledger import Ledger
from simcore.design import Design
from simcore.statistics.stopping import Stop

Progress = Callable[[int, int], None]
Note = Callable[[Course], None]
Futures = dict[Future[Any], tuple[Course, Job]]


def drive(
    courses: Iterable[Course], executor: Executor, in_hand: int, note: Note | None = None
) -> Iterator[Course]:
    """Each course, in order, when it has ended; ``note`` is told of a course after each of its blocks.

    Later courses begin while earlier ones wait for their last blocks, or for a look that might end them,
    so no worker is idle in between.
    The very first block is computed alone: everything is compiled before two could set about it.
    """
    source, running = iter(courses), deque[Course]()
    futures: Futures = {}
    limit = 1
    while True:
        _submit(source, running, futures, executor, limit)
        if running and running[0].ended_by is not None:
            yield running.popleft()
            continue
        if not futures:
            return
        done, _ = wait(futures, return_when=FIRST_COMPLETED)
        for future in done:
            course, job = futures.pop(future)
            course.take(job, future.result())
            if note is not None:
                note(course)
        _withdraw(futures)
        limit = in_hand


def _submit(
    source: Iterator[Course], running: deque[Course], futures: Futures, executor: Executor, limit: int
) -> None:
    """Put work in hand until there are ``limit`` blocks: of the earliest course whose next block is
    wanted for certain, else of the next course; of one that may end before it only when there is no other.

    No further course is begun while the first has ended, or while there are many, so that of those that a
    ledger has whole only a few are alive at a time.
    """
    while len(futures) < limit and not (running and running[0].ended_by is not None):
        found = _wanted(running, ahead=False)
        if found is None and len(running) < 2 * limit:
            following = next(source, None)
            if following is not None:
                running.append(following)
                continue
        found = found or _wanted(running, ahead=True)
        if found is None:
            return
        futures[executor.submit(compute, found[1])] = found


def _wanted(running: deque[Course], *, ahead: bool) -> tuple[Course, Job] | None:
    for course in running:
        job = course.next(ahead=ahead)
        if job is not None:
            return course, job
    return None


def _withdraw(futures: Futures) -> None:
    """Blocks of courses that have ended, if nobody computes them yet."""
    ended = [future for future, (course, _) in futures.items() if course.ended_by is not None]
    for future in ended:
        if future.cancel():
            del futures[future]


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
