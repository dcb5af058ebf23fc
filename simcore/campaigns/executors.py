"""Who computes: the calling thread, threads of our own, or any executor that is handed in."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any, TypeVar

AHEAD = 2
"""Blocks in hand for each worker, so that none waits for work."""

Given = TypeVar("Given")
Made = TypeVar("Made")


class Inline(Executor):
    """Computes in the calling thread, at once."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """As any executor's, but what goes wrong is raised here and now."""
        future: Future[Any] = Future()
        future.set_result(fn(*args, **kwargs))
        return future


@contextmanager
def workers(threads: int) -> Iterator[tuple[Executor, int]]:
    """An executor of so many threads, and how many blocks to have in hand."""
    if threads <= 1:
        yield Inline(), 1
        return
    pool = ThreadPoolExecutor(threads)
    try:
        yield pool, AHEAD * threads
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def in_order(
    work: Callable[[Given], Made], todo: Iterable[Given], executor: Executor, in_hand: int
) -> Iterator[Made]:
    """What ``work`` makes of each, in order.

    The first is done alone, so that everything is compiled before two could both set about it.
    """
    waiting: deque[Future[Made]] = deque()
    first = True
    for each in todo:
        waiting.append(executor.submit(work, each))
        if first or len(waiting) >= in_hand:
            yield waiting.popleft().result()
        first = False
    while waiting:
        yield waiting.popleft().result()
