"""``steptally run``: simulate a scenario and report."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import rich_click as click

from reports import interrupts
from reports.exits import DONE, INTERRUPTED, TARGET_MISSED, UserError, complain
from reports.names import SCENARIO, loaded
from reports.output import STANDARD_OUTPUT, require_apart, require_writable, write, write_file
from reports.whole import LARGEST, Whole

if TYPE_CHECKING:
    from reports.exports import Export
    from scenarios.load import Scenario
    from simcore.campaign import Outcome

MOST_RUNS = 100_000_000
MOST_THREADS = 1024


@dataclass(frozen=True)
class Settings:
    """What the command line asks for; None where the scenario decides."""

    runs: int | None
    seed: int | None
    first_run: int
    engine: str
    threads: int | None
    json: str | None
    html: str | None
    margins: bool
    quiet: bool
    colour: bool


@click.command(short_help="Simulate a scenario and report what became of its steps.")
@click.argument("scenario", type=SCENARIO)
@click.option(
    "--runs", type=Whole(1, MOST_RUNS), metavar="N",
    help="Runs to simulate; if not given, as many as the scenario says.",
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
    scenario: str, sets: tuple[str, ...], runs: int | None, seed: int | None, first_run: int, engine: str,
    threads: int | None, json: str | None, html: str | None, no_margins: bool, quiet: bool,
    no_color: bool,
) -> int:  # fmt: skip
    """Simulate SCENARIO, the name of a ready scenario or a TOML file, and report what became of its steps.

    Exit code: 0 done; 1 the scenario's target is not shown to be met; 2 bad input; 130 interrupted.
    """
    settings = Settings(
        runs, seed, first_run, engine, threads, json, html, not no_margins, quiet, not no_color
    )
    chosen = loaded(scenario, sets)
    _require_places(scenario, json, html)
    with interrupts.at_stake():
        asked = chosen.runs if runs is None else runs
        outcome = _simulated(chosen, settings, asked)
        return _reported(settings, _export(chosen, settings, outcome, asked, sets))


def _require_places(scenario: str, json: str | None, html: str | None) -> None:
    """Raise UserError, before a run is simulated, where a result could not be written."""
    if json is not None and json != STANDARD_OUTPUT:
        require_writable(json)
    if html is not None:
        needs = "--html needs the name of a file"
        if html == STANDARD_OUTPUT:
            raise UserError(f"--html -: a page is not written to standard output; {needs}")
        require_writable(html, needs)
    require_apart({"--json": json, "--html": html}, scenario)


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _simulated(scenario: Scenario, settings: Settings, asked: int) -> Outcome:
    from reports.progress import watching
    from reports.sentences import INTERPRETED
    from reports.simulate import Request, simulate
    from simcore.compiling import interpreted, is_cold

    if settings.first_run > LARGEST - asked:
        raise UserError(f"--first-run {settings.first_run}: the last run's number must not exceed {LARGEST}")
    if not settings.quiet and is_cold():
        complain("First use on this machine: compiling for some 15 s, once.")
    request = Request(
        scenario.design,
        scenario.seed if settings.seed is None else settings.seed,
        asked,
        settings.first_run,
        settings.engine,
        settings.threads or cores(),
        settings.margins,
    )
    with watching(quiet=settings.quiet, colour=settings.colour) as show:
        outcome = simulate(request, show)
    complain(*(INTERPRETED.format(module=module, why=why) for module, why in interpreted().items()))
    return outcome


def _export(
    scenario: Scenario, settings: Settings, outcome: Outcome, asked: int, sets: Sequence[str]
) -> Export:
    """The result; single runs are looked at only for a page."""
    from reports.exact_command import Asked
    from reports.exports import run_export

    named = Asked(scenario.source, sets)
    export = run_export(scenario, outcome, asked, named)
    if settings.html is not None:
        from reports.gallery import gallery

        export["gallery"] = gallery(scenario.design, outcome.tally, outcome.seed, outcome.first_run, named)
    return export


def _reported(settings: Settings, export: Export) -> int:
    from reports.exports import as_json

    failures: list[str] = []
    if settings.html is not None:
        from reports.page.document import page

        _kept(failures, settings.html, page(export))
    if settings.json == STANDARD_OUTPUT:
        write(as_json(export))
    else:
        if settings.json is not None:
            _kept(failures, settings.json, as_json(export))
        write(_text(export, settings))
    if failures:
        raise UserError(*failures)
    return _code(export)


def _kept(failures: list[str], place: str, text: str) -> None:
    """Write a file; the report in the terminal comes first even if that fails."""
    try:
        write_file(place, text)
    except UserError as error:
        failures += error.lines


def _text(export: Export, settings: Settings) -> str:
    from reports.output import console
    from reports.terminal.page import brief, page

    return (brief if settings.quiet else page)(export, console(colour=settings.colour))


def _code(export: Export) -> int:
    from simcore.campaign import INTERRUPTED as BY_HAND

    if export["ended_by"] == BY_HAND:
        complain("Interrupted; the report covers the runs finished until then.")
        return INTERRUPTED
    if export["target"] is not None and not export["target"]["met"]:
        return TARGET_MISSED
    return DONE
