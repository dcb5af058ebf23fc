"""Runs a campaign in a thread of its own, so that Ctrl-C and the progress bar are served meanwhile."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports import interrupts

if TYPE_CHECKING:
    from simcore.chain import Design
    from simcore.course import Outcome

LOOK = 0.05
"""Seconds between two looks at how far the campaign is."""
PATIENCE = 1.0
"""Seconds that the first block may still take once the user has asked to stop."""
BLOCKS = {"batch": None, "events": 8}
"""Runs per block: the event engine is slow, so it gets small blocks; no result depends on it."""

Show = Callable[[int, int], None]


@dataclass(frozen=True)
class Request:
    """What to simulate: ``runs`` runs of ``design`` from ``first_run`` on, and how."""

    design: Design
    seed: int
    runs: int
    first_run: int
    engine: str
    threads: int
    margins: bool = True


class _Campaign:
    """One campaign in a thread; ``done`` runs so far, ``outcome`` or ``error`` at the end.  It ends after
    its present block once it is ``unwanted``.
    """

    def __init__(self, request: Request) -> None:
        self.request = request
        self.done = 0
        self.unwanted = False
        self.outcome: Outcome | None = None
        self.error: BaseException | None = None
        self.finished = threading.Event()

    def start(self) -> None:
        threading.Thread(target=self._work, name="campaign", daemon=True).start()

    def _note(self, done: int, asked: int) -> None:
        self.done = done
        if self.unwanted or interrupts.wished():
            raise KeyboardInterrupt

    def _work(self) -> None:
        request = self.request
        try:
            from simcore.campaign import run_campaign

            self.outcome = run_campaign(
                request.design,
                seed=request.seed,
                runs=request.runs,
                first_run=request.first_run,
                engine=request.engine,
                threads=request.threads,
                block=BLOCKS.get(request.engine),
                progress=self._note,
                margins=request.margins,
            )
        except BaseException as error:
            self.error = error
        finally:
            self.finished.set()


def simulate(request: Request, show: Show) -> Outcome:
    """The campaign's outcome, or that of the runs finished when the user pressed Ctrl-C.

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
    return _nothing_done(request, time.perf_counter() - began)


def _follow(campaign: _Campaign, show: Show) -> bool:
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


def _nothing_done(request: Request, seconds: float) -> Outcome:
    from simcore.course import Outcome
    from simcore.stopping import INTERRUPTED
    from simcore.tally import nothing

    names = tuple(entry.name for entry in request.design.hand)
    return Outcome(
        request.design, request.seed, request.first_run, request.engine, nothing(names), INTERRUPTED, seconds
    )
