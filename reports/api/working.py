"""Work that takes its time: one piece at a time, and Ctrl-C keeps what is finished."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

from reports.api.given import warn_of_interpreted
from reports.api.result import Result
from reports.errors import Interrupted

Progress = Callable[[int, int], None]
Made = TypeVar("Made", bound=Result)
ONE_AT_A_TIME = threading.Lock()
"""A campaign uses all cores and compiles at its first block; a second one waits."""


def silent(done: int, asked: int) -> None:
    """No progress report."""


class Stopped:
    """Whether the user pressed Ctrl-C while the work was done."""

    def __init__(self) -> None:
        self.by_hand = False


@contextmanager
def working() -> Iterator[Stopped]:
    """Within this, the first Ctrl-C is noted and the work ends with what it has."""
    from reports import interrupts

    stopped = Stopped()
    with ONE_AT_A_TIME, interrupts.at_stake():
        yield stopped
        stopped.by_hand = interrupts.wished()
    warn_of_interpreted()


def finished(result: Made, stopped: Stopped) -> Made:
    """The result; raises Interrupted with it if the user stopped the work."""
    if stopped.by_hand:
        raise Interrupted(result)
    return result
