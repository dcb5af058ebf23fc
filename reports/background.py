"""Work in a thread of its own, so that Ctrl-C and progress are served meanwhile."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Generic, TypeVar

from reports import interrupts

LOOK = 0.05
"""Seconds between two looks at how far the work is."""
PATIENCE = 1.0
"""Seconds that work without any result yet may still take once the user has asked to stop."""

Made = TypeVar("Made")


class Background(Generic[Made]):
    """One piece of work in a thread; ``result`` or ``error`` at the end."""

    def __init__(self, work: Callable[[], Made]) -> None:
        self.work = work
        self.result: Made | None = None
        self.error: BaseException | None = None
        self.finished = threading.Event()

    def start(self) -> None:
        """Begin."""
        threading.Thread(target=self._work, name="campaign", daemon=True).start()

    def _work(self) -> None:
        try:
            self.result = self.work()
        except BaseException as error:
            self.error = error
        finally:
            self.finished.set()

    def follow(self, look: Callable[[], None], fruitless: Callable[[], bool]) -> bool:
        """Wait for the end, with a ``look`` every now and then; True when work that is ``fruitless`` so
        far was given up because the user wished to stop.

        Whoever works must heed `interrupts.wished` once it has a result.
        """
        stopped_at: float | None = None
        while True:
            try:
                if self.finished.wait(LOOK):
                    return False
                look()
            except KeyboardInterrupt:
                interrupts.wish()
            if not interrupts.wished():
                continue
            now = time.perf_counter()
            stopped_at = stopped_at or now
            if fruitless() and now - stopped_at > PATIENCE:
                return True
