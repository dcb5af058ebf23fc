"""Runs a campaign, or a comparison, in a thread of its own, so that Ctrl-C and the progress bar are served
meanwhile.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Generic, Protocol, TypeVar

from reports import interrupts

if TYPE_CHECKING:
    from simcore.campaign import Outcome
    from simcore.design import Design
    from simcore.ledger import Ledger
    from simcore.options import RunOptions

LOOK = 0.05
"""Seconds between two looks at how far the campaign is."""
PATIENCE = 1.0
"""Seconds that the first block may still take once the user has asked to stop."""

Show = Callable[[int, int], None]


Result = TypeVar("Result", covariant=True)
Kept = TypeVar("Kept")


class Wanted(Protocol[Result]):
    """Something to simulate, of ``runs`` runs."""

    @property
    def runs(self) -> int:
        """Runs asked for."""
        ...

    def outcome(self, note: Show) -> Result:
        """Simulate; ``note`` is to be told of each block, and may raise KeyboardInterrupt."""
        ...

    def nothing(self, seconds: float) -> Result:
        """What there is when nothing was finished."""
        ...


@dataclass(frozen=True)
class Request:
    """What to simulate: a design, or several on the same runs, and how."""

    designs: tuple[Design, ...]
    options: RunOptions
    ledger: Ledger | None = None

    @property
    def runs(self) -> int:
        """The most runs that there can be."""
        return self.options.stop.runs

    def outcome(self, note: Show) -> Outcome:
        """The campaign's outcome."""
        from simcore.campaign import run_designs

        return run_designs(self.designs, self.options, ledger=self.ledger, progress=note)

    def nothing(self, seconds: float) -> Outcome:
        """The outcome of no runs."""
        from simcore.campaign import Campaign

        return replace(Campaign(self.designs, self.options).outcome(), seconds=seconds)


class _Background(Generic[Kept]):
    """One request in a thread; ``done`` runs so far, ``outcome`` or ``error`` at the end.  It ends after
    its present block once it is ``unwanted``.
    """

    def __init__(self, request: Wanted[Kept]) -> None:
        self.request = request
        self.done = 0
        self.unwanted = False
        self.outcome: Kept | None = None
        self.error: BaseException | None = None
        self.finished = threading.Event()

    def start(self) -> None:
        threading.Thread(target=self._work, name="campaign", daemon=True).start()

    def _note(self, done: int, asked: int) -> None:
        self.done = done
        if self.unwanted or interrupts.wished():
            raise KeyboardInterrupt

    def _work(self) -> None:
        try:
            self.outcome = self.request.outcome(self._note)
        except BaseException as error:
            self.error = error
        finally:
            self.finished.set()


def simulate(request: Wanted[Kept], show: Show) -> Kept:
    """The outcome, or that of the runs finished when the user pressed Ctrl-C.

    ``show`` is called, in this thread, with (runs done, runs asked for) every now and then.
    """
    began = time.perf_counter()
    campaign = _Background(request)
    campaign.start()
    try:
        _preload()
        given_up = _follow(campaign, show)
    except BaseException:
        campaign.unwanted = True
        raise
    if campaign.error is not None:
        raise campaign.error
    if campaign.outcome is not None and not given_up:
        return campaign.outcome
    return request.nothing(time.perf_counter() - began)


def _follow(campaign: _Background[Kept], show: Show) -> bool:
    """Wait for the end; True when a first block that does not come was given up."""
    stopped_at: float | None = None
    while True:
        try:
            if campaign.finished.wait(LOOK):
                return False
            show(campaign.done, campaign.request.runs)
        except KeyboardInterrupt:
            interrupts.wish()
        if not interrupts.wished():
            continue
        now = time.perf_counter()
        stopped_at = stopped_at or now
        if campaign.done == 0 and now - stopped_at > PATIENCE:
            campaign.unwanted = True
            return True


def _preload() -> None:
    """Import, while the campaign runs, what its report will need."""
    import rich.progress
    import rich.table
    import scipy.special

    del rich, scipy
