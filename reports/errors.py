"""Exceptions for bad input, with a message for each mistake, and for Ctrl-C; notices as warnings."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any


class BadInput(ValueError):  # noqa: N818 - the name that is documented
    """Input that the caller can correct.  ``lines``: one message each.

    Messages name options as the command line does: ``--runs`` for the argument ``runs``.
    """

    def __init__(self, *lines: str) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines


class Interrupted(KeyboardInterrupt):
    """Ctrl-C while runs were simulated.  ``result`` covers the whole blocks of runs finished until then."""

    def __init__(self, result: Any) -> None:
        super().__init__("interrupted; what was finished is in the attribute 'result' of this exception")
        self.result = result


class Notice(RuntimeWarning):
    """A line that the command line writes to standard error beside a result."""


class LedgerNotice(Notice):
    """A ledger did not take every run; the result is whole."""


@contextmanager
def refusing() -> Iterator[None]:
    """Within this, the problems of a scenario are raised as `BadInput`."""
    from scenarios.loading.messages import ScenarioError

    try:
        yield
    except ScenarioError as error:
        raise BadInput(*(str(problem) for problem in error.problems)) from None
