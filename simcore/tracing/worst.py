"""The worst wrong step of many runs for each root cause."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from simcore.base.records import Ints
from simcore.campaigns.campaign import blocks, runs_per_block
from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.engines.blocks import BlockDetail
from simcore.judging.sums import CAUSES, NO_CAUSE
from simcore.tracing.accounts import Account, account_of

Rank = tuple[int, int, int, int]
"""Smaller is worse: minus the counts too many or too few, minus the extra pulses, run, step."""


@dataclass(frozen=True)
class WorstSteps:
    """For every root cause that occurs (by its word in simcore.judging.sums.CAUSES) the run and the step
    (numbered from 1) worth looking at, and the ``spurious`` run, with the most counts that no movement caused
    (the first of those; None without any).

    The step is the one whose net count is furthest from the expected one; among those, the one with the most
    pulses beyond the bounce-free ones; among those, the first.
    """

    steps: dict[str, tuple[int, int]]
    spurious: int | None


def search(
    design: Design,
    seed: int,
    runs: int,
    first_run: int = 0,
    progress: Callable[[int, int], None] | None = None,
) -> WorstSteps:
    """Search runs from ``first_run`` on; ``progress`` is called with (runs done, runs in all)."""
    found: dict[int, Rank] = {}
    most, spurious = 0, None
    engine = BatchEngine(design, runs_per_block(design))
    for start, count in blocks(first_run, runs, engine.runs):
        detail = engine.detail(seed, start, count)
        account = account_of(engine.judge.rules, detail)
        for cause in np.unique(detail.causes[detail.causes != NO_CAUSE]).tolist():
            best = _worst(detail, account, cause, start)
            found[cause] = min(best, found.get(cause, best))
        strays = detail.spurious_counts()
        if strays.max() > most:
            most, spurious = int(strays.max()), start + int(strays.argmax())
        if progress is not None:
            progress(start - first_run + count, runs)
    steps = {CAUSES[cause]: found[cause][2:] for cause in sorted(found)}
    return WorstSteps(steps, spurious)


def _worst(detail: BlockDetail, account: Account, cause: int, first_run: int) -> Rank:
    """The worst step of one cause in a block."""
    steps: Ints = np.flatnonzero(detail.causes == cause)
    off = -np.abs(account.expected[steps] - account.received[steps])
    extra = account.clean_moves[steps] - account.moves[steps]
    at = int(np.lexsort((steps, extra, off))[0])
    step = int(steps[at])
    offsets = detail.truth.steps.offsets
    run = int(np.searchsorted(offsets, step, side="right")) - 1
    return int(off[at]), int(extra[at]), first_run + run, step - int(offsets[run]) + 1
