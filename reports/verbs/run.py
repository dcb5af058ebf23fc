"""``steptally run``: simulate a scenario and report."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import rich_click as click

from reports import interrupts
from reports.compiled import interpreted_lines, tell_of_first_use
from reports.delivery import deliver
from reports.exits import DONE, INTERRUPTED, TARGET_MISSED, UserError, complain
from reports.ledger_use import announced, kept_line, ledger_at, not_kept
from reports.names import SCENARIO, files_read, loaded
from reports.output import require_places as require_files
from reports.stop_options import Rules, stop_options
from reports.whole import LARGEST, Whole

if TYPE_CHECKING:
    from reports.exact_command import Asked
    from reports.exports import Export
    from reports.simulate import Request
    from scenarios.ledger import LedgerFile
    from scenarios.loading.load import Scenario
    from simcore.campaigns.course import Outcome
    from simcore.statistics.stopping import Stop

MOST_RUNS = 100_000_000
MOST_THREADS = 1024


@dataclass(frozen=True)
class Settings:
    """What the command line asks for; None where the scenario decides."""

    runs: int | None
    seed: int | None
    first_run: int
    rules: Rules
    engine: str
    threads: int | None
    ledger: str | None
    json: str | None
    html: str | None
    margins: bool
    quiet: bool
    colour: bool


@click.command(short_help="Simulate a scenario and report what became of its steps.")
@click.argument("scenario", type=SCENARIO)
@click.option(
    "--runs", type=Whole(1, MOST_RUNS), metavar="N",
    help="Runs to simulate, at most; if not given, as many as the scenario says.",
)  # fmt: skip
@click.option(
    "--seed", type=Whole(0), metavar="N",
    help="Seed of all draws; if not given, the scenario's.",
)  # fmt: skip
@click.option(
    "--first-run", type=Whole(0), default=0, show_default=True, metavar="N",
    help="Number of the first run.",
)  # fmt: skip
@click.option(
    "--set", "sets", multiple=True, metavar="PATH=VALUE",
    help="Put another value into the scenario, such as filter.capacitor='47 nF'. May be given often.",
)  # fmt: skip
@stop_options
@click.option(
    "--ledger", metavar="FILE",
    help="Keep finished runs in FILE, and take from there what it has; it is made if there is none.",
)  # fmt: skip
@click.option(
    "--engine", type=click.Choice(["batch", "events"]), default="batch", show_default=True,
    help="Compiled batches, or the slow reference engine; both give the same numbers.",
)  # fmt: skip
@click.option(
    "--threads", type=Whole(1, MOST_THREADS), metavar="N",
    help="Threads; if not given, one for each core. No result depends on it.",
)  # fmt: skip
@click.option("--json", metavar="FILE", help="Write the result as JSON to FILE, or to standard output for -.")
@click.option(
    "--html", metavar="FILE", help="Write the report as one HTML page to FILE; it needs no network."
)
@click.option("--no-margins", is_flag=True, help="Leave the margins out, which saves a tenth of the time.")
@click.option("--quiet", "-q", is_flag=True, help="The result in a line or two, and no progress.")
@click.option("--no-color", is_flag=True, help="No colour. The variable NO_COLOR does the same.")
def run(
    scenario: str, sets: tuple[str, ...], runs: int | None, seed: int | None, first_run: int,
    errors: int | None, precision: float | None, time: float | None, ledger: str | None, engine: str,
    threads: int | None, json: str | None, html: str | None, no_margins: bool, quiet: bool,
    no_color: bool,
) -> int:  # fmt: skip
    """Simulate SCENARIO, the name of a ready scenario or a TOML file, and report what became of its steps.

    Exit code: 0 done; 1 the scenario's target is not shown to be met; 2 bad input; 130 interrupted.
    """
    rules = Rules(errors, precision, time)
    settings = Settings(
        runs, seed, first_run, rules, engine, threads, ledger, json, html, not no_margins, quiet, not no_color
    )
    chosen = loaded(scenario, sets)
    require_places(json, html, ledger, files_read(scenario))
    stop = rules.over(chosen.stop, chosen.runs if runs is None else runs)
    with interrupts.at_stake(), ledger_at(ledger) as kept:
        outcome = _simulated(chosen, settings, stop, kept)
        export = _export(chosen, settings, outcome, stop, sets)
        deliver(export, settings, _page, lambda each: _text(each, settings), not_kept(kept))
        return _code(export)


def require_places(
    json: str | None, html: str | None, ledger: str | None = None, read: Sequence[str] = ()
) -> None:
    """Raise UserError, before a run is simulated, where a result could not be written, or would be written
    over the ledger or a file that is ``read``.
    """
    for option, place in (("--json", json), ("--html", html)):
        if None not in (place, ledger) and os.path.realpath(str(place)) == os.path.realpath(str(ledger)):
            raise UserError(f"{place}: named for {option} and for --ledger; each needs a file of its own")
    require_files({"--json": json, "--html": html}, read)


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def request_of(
    scenario: Scenario, settings: Settings, stop: Stop, ledger: LedgerFile | None = None
) -> Request:
    """What to simulate.  Raises UserError where a run's number would leave the range."""
    from reports.simulate import Request

    if settings.first_run > LARGEST - stop.runs:
        raise UserError(f"--first-run {settings.first_run}: the last run's number must not exceed {LARGEST}")
    return Request(
        scenario.design,
        scenario.seed if settings.seed is None else settings.seed,
        stop,
        settings.first_run,
        settings.engine,
        settings.threads or cores(),
        settings.margins,
        ledger,
    )


def _simulated(scenario: Scenario, settings: Settings, stop: Stop, ledger: LedgerFile | None) -> Outcome:
    from reports.progress import watching
    from reports.simulate import simulate

    request = request_of(scenario, settings, stop, ledger)
    announced(ledger, scenario, request.seed, settings.margins)
    tell_of_first_use(quiet=settings.quiet)
    with watching(quiet=settings.quiet, colour=settings.colour) as show:
        outcome = simulate(request, show)
    complain(*interpreted_lines())
    if ledger is not None and not settings.quiet:
        complain(kept_line(outcome.kept, outcome.tally.runs))
    return outcome


def _export(
    scenario: Scenario, settings: Settings, outcome: Outcome, stop: Stop, sets: Sequence[str]
) -> Export:
    """The result; single runs are looked at, and values that would help are sought, only for a page."""
    from reports.exact_command import Asked
    from reports.exports import run_export

    named = Asked(scenario.source, sets)
    export = run_export(scenario, outcome, stop.runs, named, stop, suggest=settings.html is not None)
    return export if settings.html is None else with_gallery(export, outcome, named)


def with_gallery(export: Export, outcome: Outcome, named: Asked) -> Export:
    """The same result with wrong steps to look at, as a page shows them."""
    from reports.gallery import gallery

    found = gallery(outcome.design, outcome.tally, outcome.seed, outcome.first_run, named)
    return {**export, "gallery": found}


def _page(export: Export) -> str:
    from reports.page.document import page

    return page(export)


def _text(export: Export, settings: Settings) -> str:
    from reports.output import console
    from reports.terminal.page import brief, page

    return (brief if settings.quiet else page)(export, console(colour=settings.colour))


def _code(export: Export) -> int:
    from simcore.statistics.stopping import INTERRUPTED as BY_HAND

    if export["ended_by"] == BY_HAND:
        complain("Interrupted; the report covers the runs finished until then.")
        return INTERRUPTED
    if export["target"] is not None and not export["target"]["met"]:
        return TARGET_MISSED
    return DONE
