"""Runs a campaign, or a comparison, in a thread of its own, so that Ctrl-C and the progress bar are served
meanwhile.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, Protocol, TypeVar

from reports import interrupts

if TYPE_CHECKING:
    from simcore.campaigns.course import Outcome
    from simcore.campaigns.ledger import Ledger
    from simcore.design import Design
    from simcore.statistics.stopping import Stop

LOOK = 0.05
"""Seconds between two looks at how far the campaign is."""
PATIENCE = 1.0
"""Seconds that the first block may still take once the user has asked to stop."""
BLOCKS = {"batch": None, "events": 8}
"""Runs per block: the event engine is slow, so it gets small blocks; no result depends on it."""

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
    """What to simulate: runs of ``design`` from ``first_run`` on until ``stop``, and how."""

    design: Design
    seed: int
    stop: Stop
    first_run: int
    engine: str
    threads: int
    margins: bool = True
    ledger: Ledger | None = None

    @property
    def runs(self) -> int:
        """The most runs that there can be."""
        return self.stop.runs

    def outcome(self, note: Show) -> Outcome:
        """The campaign's outcome."""
        from simcore.campaigns.campaign import run_campaign

        return run_campaign(
            self.design,
            seed=self.seed,
            runs=self.runs,
            first_run=self.first_run,
            engine=self.engine,
            threads=self.threads,
            block=BLOCKS.get(self.engine),
            progress=note,
            margins=self.margins,
            stop=self.stop,
            ledger=self.ledger,
        )

    def nothing(self, seconds: float) -> Outcome:
        """The outcome of no runs."""
        from simcore.campaigns.course import Outcome
        from simcore.judging.tally import nothing
        from simcore.statistics.stopping import INTERRUPTED

        names = tuple(entry.name for entry in self.design.hand)
        return Outcome(
            self.design, self.seed, self.first_run, self.engine, nothing(names), INTERRUPTED, seconds
        )


class _Campaign(Generic[Kept]):
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
    campaign = _Campaign(request)
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


def _follow(campaign: _Campaign[Kept], show: Show) -> bool:
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
