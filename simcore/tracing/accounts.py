"""Expected and received counts of each step.

The judge (see verdicts) works by the same rules but keeps verdicts only.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from simcore.base.compiling import kernel, rule
from simcore.base.records import Ints, Pulses, Steps, Transitions
from simcore.counters.base import BounceFreeCounts
from simcore.engines.blocks import BlockDetail
from simcore.judging.causes import Rules
from simcore.judging.sums import Scratch, empty_scratch
from simcore.judging.verdicts import clear, expected_of, expected_step, gather


class Account(NamedTuple):
    """Per step of a block: net counts ``expected`` and ``received``, the pulses that asked for a count
    (``moves``) and those that bounce-free contacts would have given (``clean_moves``).
    """

    expected: Ints
    received: Ints
    moves: Ints
    clean_moves: Ints


@rule
def account_run(
    rules: Rules, transitions: Transitions, steps: Steps, clean: BounceFreeCounts, scratch: Scratch,
    account: Account, r: int, count: int,
) -> None:  # fmt: skip
    """Enter the steps of run ``r``, whose pulses have been gathered."""
    here, base = rules.place.start, steps.offsets[r]
    for s in range(count):
        wanted = expected_step(rules, steps, clean, base + s)
        if scratch.start[s] >= 0:
            here = scratch.start[s]
        account.expected[base + s] = expected_of(rules, transitions, clean, wanted, here, r, s)
        account.received[base + s] = scratch.net[s]
        account.moves[base + s] = scratch.moves[s]
        account.clean_moves[base + s] = wanted.moves
        here += scratch.net[s]


@kernel
def account_block(
    rules: Rules, transitions: Transitions, steps: Steps, clean: BounceFreeCounts, pulses: Pulses,
    scratch: Scratch, strays: Ints, account: Account,
) -> None:  # fmt: skip
    """Enter the steps of all runs of a block."""
    for r in range(transitions.first.size):
        t0, t1 = transitions.offsets[r], transitions.offsets[r + 1]
        count = steps.offsets[r + 1] - steps.offsets[r]
        clear(scratch, count, t1 - t0)
        gather(pulses, pulses.offsets[r], pulses.offsets[r + 1], transitions, t0, rules, scratch, strays)
        account_run(rules, transitions, steps, clean, scratch, account, r, count)


def account_of(rules: Rules, detail: BlockDetail, plain: bool = False) -> Account:
    """The account of a block's steps; ``plain`` runs uncompiled, which is faster for one run."""
    truth = detail.truth
    count = int(truth.steps.offsets[-1])
    account = Account(*(np.zeros(count, np.int64) for _ in range(4)))
    most = [
        int(np.diff(offsets).max(initial=0)) for offsets in (truth.steps.offsets, truth.transitions.offsets)
    ]
    work = account_block.plain if plain else account_block  # type: ignore[attr-defined]
    work(
        rules, truth.transitions, truth.steps, truth.clean, detail.pulses,
        empty_scratch(most[0], most[1], 0), np.zeros(16, np.int64), account,
    )  # fmt: skip
    return account
