"""The options that verbs share, each declared once, and where a verb's result goes."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING, Any, TypeVar

import rich_click as click
from click import Context, Parameter, ParamType
from click.shell_completion import CompletionItem

from reports.errors import BadInput

if TYPE_CHECKING:
    from reports.results.common import Result

Command = TypeVar("Command", bound=Callable[..., Any])
STANDARD_OUTPUT = "-"


class ScenarioName(ParamType):  # type: ignore[type-arg]
    """The name of a ready scenario, or a file."""

    name = "scenario"

    def shell_complete(self, ctx: Context, param: Parameter, incomplete: str) -> list[CompletionItem]:
        """Ready names that begin like that, with their titles; files where none does."""
        from scenarios.loading.catalogue import ready_names, ready_title

        found = [
            CompletionItem(name, help=ready_title(name))
            for name in ready_names()
            if name.startswith(incomplete)
        ]
        return found or [CompletionItem(incomplete, type="file")]


def _many(*options: Callable[[Command], Command]) -> Callable[[Command], Command]:
    """Several options, shown in this order."""

    def give(command: Command) -> Command:
        for option in reversed(options):
            command = option(command)
        return command

    return give


scenario = click.argument("scenario", type=ScenarioName())
sets = click.option(
    "--set", "sets", multiple=True, metavar="PATH=VALUE",
    help="Override a scenario value, such as filter.capacitor='47 nF'; repeatable.",
)  # fmt: skip
runs = click.option("--runs", metavar="N", help="Simulate at most N runs; default: the scenario's number.")
seed = click.option("--seed", metavar="N", help="Seed of all draws; default: the scenario's.")
threads = click.option(
    "--threads", metavar="N", help="Threads; default: one for each core. No result depends on it."
)
ending = _many(
    click.option("--errors", metavar="N", help="Stop once N steps are wrong; none: ignore the scenario."),
    click.option(
        "--precision", metavar="SHARE",
        help="Stop once the confidence interval is within SHARE, such as '10 %', of the rate of wrong steps.",
    ),
    click.option("--time", metavar="DURATION", help="Stop after DURATION, such as '30 s'."),
)  # fmt: skip
ledger = click.option(
    "--ledger", metavar="FILE", help="Cache completed runs in FILE (created if missing) and reuse them."
)
usual_ledger = _many(
    click.option(
        "--ledger", metavar="FILE", help="Cache completed runs in FILE instead of the user's own ledger."
    ),
    click.option("--no-ledger", is_flag=True, help="Neither read nor write a ledger."),
)


@dataclass(frozen=True)
class Output:
    """Where a result goes: files named by --json (or - for standard output) and --html, None for nowhere;
    only the result itself, without progress, if ``quiet``; without ``colour`` no control code.
    """

    json: str | None
    html: str | None
    quiet: bool
    colour: bool

    def require(self, read: Sequence[str] = (), ledger: str | None = None) -> None:
        """Raise BadInput, before anything is simulated, where a result could not be written, or would be
        written over the ledger or a file that is ``read``.
        """
        from reports.output import require_places

        for option, place in (("--json", self.json), ("--html", self.html)):
            if None not in (place, ledger) and os.path.realpath(str(place)) == os.path.realpath(str(ledger)):
                raise BadInput(f"{place}: named for {option} and for --ledger; each needs a file of its own")
        require_places({"--json": self.json, "--html": self.html}, read)

    def deliver(self, result: Result) -> None:
        """Write the page, the JSON and the text of a result.

        Whatever cannot be written, the rest is; BadInput is raised at the end, also for runs that a ledger
        did not take.
        """
        from reports.output import console, failures_of, write, write_file
        from reports.render import terminal

        failures = [*result.troubles]
        if self.html is not None:
            result = result.with_gallery()
            place, page = self.html, result.page()
            failures += failures_of(lambda: write_file(place, page))
        if self.json == STANDARD_OUTPUT:
            write(result.json())
        else:
            if self.json is not None:
                named = self.json
                failures += failures_of(lambda: write_file(named, result.json()))
            screen = console(colour=self.colour)
            write(terminal.text(result.document(), screen, brief=self.quiet))
        if failures:
            raise BadInput(*failures)


Give = Callable[[Callable[..., Any]], Callable[..., Any]]


def output(*, html: bool = True, quiet: str = "Only the result in a line or two, and no progress.") -> Give:
    """The options that say where a result goes; the command gets them as one `Output` called ``output``."""
    options = [
        click.option("--json", metavar="FILE", help="Write the result as JSON to FILE (-: standard output)."),
        click.option("--html", metavar="FILE", help="Write the report as one HTML page to FILE."),
        click.option("--quiet", "-q", is_flag=True, help=quiet),
        click.option("--no-color", is_flag=True, help="No colour; the variable NO_COLOR does the same."),
    ]
    if not html:
        del options[1]

    def give(command: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(command)
        def collected(
            *, json: str | None, quiet: bool, no_color: bool, html: str | None = None, **rest: Any
        ) -> Any:
            return command(output=Output(json, html, quiet, not no_color), **rest)

        return _many(*options)(collected)

    return give
