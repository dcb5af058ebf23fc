"""What goes wrong, as exceptions: bad input in the words of the command line, and Ctrl-C."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reports.api.result import Result


class BadInput(ValueError):  # noqa: N818 - what it is called wherever people read of it
    """Something that the caller can put right; the text is the command line's own message.

    It names options as the command line does: ``--runs`` for the argument ``runs``.
    """

    @property
    def lines(self) -> tuple[str, ...]:
        """One message for each mistake."""
        return tuple(str(self).split("\n"))


class Interrupted(KeyboardInterrupt):
    """Ctrl-C while runs were simulated.  ``result`` covers the whole blocks of runs finished until then."""

    def __init__(self, result: Result) -> None:
        super().__init__("interrupted; what was finished is in the attribute 'result' of this exception")
        self.result = result


@contextmanager
def refusing() -> Iterator[None]:
    """Within this, whatever the command line would refuse with a message is raised as `BadInput`."""
    from click import ClickException

    from reports.exits import UserError
    from scenarios.loading.messages import ScenarioError

    try:
        yield
    except UserError as error:
        raise BadInput("\n".join(error.lines)) from None
    except ScenarioError as error:
        raise BadInput(str(error)) from None
    except ClickException as error:
        raise BadInput(error.format_message()) from None
