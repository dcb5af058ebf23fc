"""Simulation in a thread of its own, so that Ctrl-C and progress are handled meanwhile.

On Ctrl-C the blocks of runs that were begun are finished, and make up the result.
"""

from __future__ import annotations

import threading
import time
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Generic, TypeVar

from reports import interrupts
from reports.errors import Interrupted, LedgerNotice, Notice

if TYPE_CHECKING:
    from reports.results.common import Result

Progress = Callable[[int, int], None]
"""Called repeatedly, in the caller's thread, with runs done and runs requested."""
Made = TypeVar("Made", bound="Result")
Done = TypeVar("Done")
PERIOD = 0.05
"""Seconds between two looks at how far the work is."""
PATIENCE = 1.0
"""Seconds that the first block may still take once the user has asked to stop."""
ONE_AT_A_TIME = threading.Lock()
"""A campaign uses all cores and compiles at its first block; a second one waits."""


def silent(done: int, asked: int) -> None:
    """No progress report."""


class _Work(Generic[Done]):
    """Work in a thread: runs ``done`` so far, then ``outcome`` or ``error``.  Once ``cancelled``, it ends
    after its present block.
    """

    def __init__(self, work: Callable[[Progress], Done], asked: int) -> None:
        self.work = work
        self.asked = asked
        self.done = 0
        self.cancelled = False
        self.outcome: Done | None = None
        self.error: BaseException | None = None
        self.finished = threading.Event()

    def note(self, done: int, asked: int) -> None:
        self.done, self.asked = done, asked
        if self.cancelled or interrupts.stop_requested():
            raise KeyboardInterrupt

    def run(self) -> None:
        try:
            self.outcome = self.work(self.note)
        except BaseException as error:
            self.error = error
        finally:
            self.finished.set()


def worked(
    work: Callable[[Progress], Done], asked: int, nothing: Callable[[float], Done], show: Progress
) -> Done:
    """What ``work`` returns, after Ctrl-C with what was finished until then.

    ``work`` is called in a thread with a function to call after each block, which may raise
    KeyboardInterrupt; ``nothing`` gives the result when nothing was finished, after so many seconds.
    """
    began = time.perf_counter()
    running = _Work(work, asked)
    threading.Thread(target=running.run, name="campaign", daemon=True).start()
    try:
        _preload()
        given_up = _follow(running, show)
    except BaseException:
        running.cancelled = True
        raise
    if running.error is not None:
        raise running.error
    if running.outcome is not None and not given_up:
        return running.outcome
    return nothing(time.perf_counter() - began)


def _follow(running: _Work[Done], show: Progress) -> bool:
    """Wait for the end; True if Ctrl-C came before the first block, which was then abandoned."""
    stopped_at: float | None = None
    while True:
        try:
            if running.finished.wait(PERIOD):
                return False
            show(running.done, running.asked)
        except KeyboardInterrupt:
            interrupts.request_stop()
        if not interrupts.stop_requested():
            continue
        now = time.perf_counter()
        stopped_at = stopped_at or now
        if running.done == 0 and now - stopped_at > PATIENCE:
            running.cancelled = True
            return True


def _preload() -> None:
    """Import, while the runs are computed, what their report will need."""
    import rich.table
    import scipy.special

    del rich, scipy


@contextmanager
def working() -> Iterator[None]:
    """Within this, the first Ctrl-C is noted and the work ends with what it has."""
    with ONE_AT_A_TIME, interrupts.at_stake():
        yield
    warn_of_interpreted()


def warn_of_interpreted() -> None:
    """A warning for each module whose rules could not be compiled."""
    from simcore.base.compiling import interpreted

    for module, why in interpreted().items():
        warn(
            f"The rules of {module} cannot be compiled ({why}); they run interpreted, some hundred times "
            "slower, and give the same numbers."
        )


def finished(result: Made, troubles: Iterable[str] = ()) -> Made:
    """The result; ``troubles`` of a ledger are warnings.  Raises Interrupted with it if the user stopped
    the work.
    """
    result._troubles = tuple(troubles)
    for each in result._troubles:
        warn(each, LedgerNotice)
    if interrupts.stop_requested():
        raise Interrupted(result)
    return result


def warn(message: str, category: type[Notice] = Notice) -> None:
    """What the command line says on standard error beside a result, as a warning."""
    warnings.warn(message, category, stacklevel=4)
