"""A ledger as the command line uses it: its mistakes become messages, and a line says what it gave."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from reports.cli.exits import complain
from reports.errors import BadInput
from reports.words.numbers import counted, whole

if TYPE_CHECKING:
    from scenarios.ledger import LedgerFile
    from scenarios.loading.load import Scenario

PAIRS = ", pairs of designs on the same runs"
"""Ends the title of what two designs came to together."""


@contextmanager
def ledger_at(place: str | None) -> Iterator[LedgerFile | None]:
    """The ledger in a file, made if there is none; None without a ``place``.

    BadInput for whatever is no whole ledger, now or at any time within.
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
def usual_ledger(tell: Callable[[str], None] = complain) -> Iterator[LedgerFile | None]:
    """The user's own ledger, None if it cannot be used: then a line says why, and work goes on without."""
    from scenarios.ledger import LedgerError, LedgerFile, default_place

    try:
        ledger = LedgerFile(default_place())
    except LedgerError as error:
        tell(f"Without a ledger: {error}")
        yield None
        return
    try:
        with ledger:
            yield ledger
    except LedgerError as error:
        raise BadInput(f"{error}; or give --no-ledger") from None


def announced(ledger: LedgerFile | None, scenario: Scenario, seed: int, margins: bool) -> None:
    """Tell a ledger, if there is one, what the runs of a scenario are called there."""
    if ledger is None:
        return
    from simcore.campaigns.identity import identity

    ledger.announce(identity(scenario.design, seed, margins), scenario.title, scenario.resolved)


def announced_pairs(ledger: LedgerFile | None, scenarios: Sequence[Scenario], seed: int) -> None:
    """Tell a ledger, if there is one, what the runs of scenarios, and of each paired with the first, are
    called there.
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


def kept_line(kept: int, runs: int) -> str:
    """How many of the runs were there already."""
    were = "was" if runs == 1 else "were"
    return f"{whole(kept)} of {counted(runs, 'run')} {were} in the ledger."


def not_kept(ledger: LedgerFile | None) -> list[str]:
    """Why not every run was kept, none if all were."""
    if ledger is None or ledger.trouble is None:
        return []
    return [f"{ledger.trouble}; the result is whole, but not all of its runs were kept"]
