"""Work that takes its time: in a thread of its own, so that Ctrl-C and progress are served meanwhile.

On Ctrl-C the blocks of runs on their way are finished, and what is there is the result.
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
"""Called every now and then, in the caller's thread, with runs done and runs asked for."""
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
    """Work in a thread; ``done`` runs so far, ``outcome`` or ``error`` at the end.  It ends after its
    present block once it is ``unwanted``.
    """

    def __init__(self, work: Callable[[Progress], Done], asked: int) -> None:
        self.work = work
        self.asked = asked
        self.done = 0
        self.unwanted = False
        self.outcome: Done | None = None
        self.error: BaseException | None = None
        self.finished = threading.Event()

    def note(self, done: int, asked: int) -> None:
        self.done, self.asked = done, asked
        if self.unwanted or interrupts.stop_requested():
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
    """What ``work`` gives, or what it had when the user pressed Ctrl-C.

    ``work`` is called in a thread with what is to be told of each block, which may raise
    KeyboardInterrupt; ``nothing`` says what there is, after so many seconds, when nothing was finished.
    """
    began = time.perf_counter()
    running = _Work(work, asked)
    threading.Thread(target=running.run, name="campaign", daemon=True).start()
    try:
        _preload()
        given_up = _follow(running, show)
    except BaseException:
        running.unwanted = True
        raise
    if running.error is not None:
        raise running.error
    if running.outcome is not None and not given_up:
        return running.outcome
    return nothing(time.perf_counter() - began)


def _follow(running: _Work[Done], show: Progress) -> bool:
    """Wait for the end; True when a first block that does not come was given up."""
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
            running.unwanted = True
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
