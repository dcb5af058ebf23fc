"""A ledger as the verbs use it: its errors become messages, and its runs get titles."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from reports.api.working import warn
from reports.errors import BadInput

if TYPE_CHECKING:
    from scenarios.ledger import LedgerFile
    from scenarios.loading.load import Scenario

PAIRS = ", pairs of designs on the same runs"
"""Ends the title of a pair."""


@contextmanager
def ledger_at(place: str | None) -> Iterator[LedgerFile | None]:
    """The ledger in a file, which is created if missing; None without a ``place``.

    Raises BadInput, also from within, for a file that is no intact ledger.
    """
    if place is None:
        yield None
        return
    from scenarios.ledger import LedgerError, LedgerFile

    try:
        with LedgerFile(place) as ledger:
            yield ledger
    except LedgerError as error:
        raise BadInput(str(error)) from None


@contextmanager
def usual_ledger() -> Iterator[LedgerFile | None]:
    """The user's own ledger; None if it cannot be used, which a notice says."""
    from scenarios.ledger import LedgerError, LedgerFile, default_place

    try:
        ledger = LedgerFile(default_place())
    except LedgerError as error:
        warn(f"Without a ledger: {error}")
        yield None
        return
    try:
        with ledger:
            yield ledger
    except LedgerError as error:
        raise BadInput(f"{error}; or give --no-ledger") from None


def announced(ledger: LedgerFile | None, scenario: Scenario, seed: int, margins: bool) -> None:
    """Give the runs of a scenario their title in a ledger, if there is one."""
    if ledger is None:
        return
    from simcore.campaigns.identity import identity

    ledger.announce(identity(scenario.design, seed, margins), scenario.title, scenario.resolved)


def announced_pairs(ledger: LedgerFile | None, scenarios: Sequence[Scenario], seed: int) -> None:
    """Give the runs of scenarios, and of each paired with the first, their titles in a ledger, if there is
    one.
    """
    if ledger is None:
        return
    from simcore.campaigns.identity import pair_identity

    for scenario in scenarios:
        announced(ledger, scenario, seed, margins=False)
    first = scenarios[0]
    for other in scenarios[1:]:
        name = pair_identity(first.design, other.design, seed)
        title = first.title if first.title == other.title else f"{first.title} | {other.title}"
        ledger.announce(name, title + PAIRS, {"first": first.resolved, "other": other.resolved})


def not_kept(ledger: LedgerFile | None) -> list[str]:
    """Why a ledger did not take every run; empty if it did."""
    if ledger is None or ledger.trouble is None:
        return []
    return [f"{ledger.trouble}; the result is whole, but not all of its runs were kept"]
