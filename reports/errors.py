"""What goes wrong, as exceptions: bad input with a message for each mistake, and Ctrl-C."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reports.results.common import Result


class BadInput(ValueError):  # noqa: N818 - what it is called wherever people read of it
    """Something that the caller can put right.  ``lines``: one message each.

    Messages name options as the command line does: ``--runs`` for the argument ``runs``.
    """

    def __init__(self, *lines: str) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines


class Interrupted(KeyboardInterrupt):
    """Ctrl-C while runs were simulated.  ``result`` covers the whole blocks of runs finished until then."""

    def __init__(self, result: Result) -> None:
        super().__init__("interrupted; what was finished is in the attribute 'result' of this exception")
        self.result = result


@contextmanager
def refusing() -> Iterator[None]:
    """Within this, the problems of a scenario are raised as `BadInput`."""
    from scenarios.problems import ScenarioError

    try:
        yield
    except ScenarioError as error:
        raise BadInput(*(str(problem) for problem in error.problems)) from None
