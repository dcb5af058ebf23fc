"""``steptally trace``: one run told in order, and why a step of it went wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import rich_click as click

from reports.compiled import interpreted_lines, tell_of_first_use
from reports.exits import DONE, UserError, complain
from reports.names import SCENARIO, files_read, loaded, suggestion
from reports.output import STANDARD_OUTPUT, kept, require_places, write, write_file
from reports.whole import Whole

if TYPE_CHECKING:
    from reports.simulate import Show
    from reports.story import Story
    from scenarios.loading.load import Scenario
    from simcore.tracing.tracing import TracedRun

MOST_RUNS = 100_000_000
ALL = "all"
Place = tuple[str | None, int, int | None]
"""Something to tell: the cause that it was searched for, run and step; None for no cause, no step."""


@dataclass(frozen=True)
class Asked:
    """What the command line asks for; ``worst`` is None, ALL, or one word."""

    run: int | None
    step: int | None
    worst: str | None
    runs: int
    seed: int

    @property
    def overview(self) -> bool:
        """Whether the table of all steps comes before a story."""
        return self.worst is None and self.step is None


@dataclass(frozen=True)
class Files:
    """Where to write; None for nowhere."""

    json: str | None
    vcd: str | None
    csv: str | None
    csv_steps: str | None

    def tables(self) -> dict[str, str]:
        """The options that take one run, and their files."""
        named = {"--vcd": self.vcd, "--csv": self.csv, "--csv-steps": self.csv_steps}
        return {option: file for option, file in named.items() if file is not None}


@click.command(short_help="Tell one run in order, and why a step of it went wrong.")
@click.argument("scenario", type=SCENARIO)
@click.option("--run", "number", type=Whole(0), metavar="N", help="Number of the run to tell, from 0.")
@click.option(
    "--step", type=Whole(1), metavar="K",
    help="Step to tell, from 1; if not given, all steps as a table and the first wrong one told.",
)  # fmt: skip
@click.option(
    "--worst", is_flag=False, flag_value=ALL, metavar="[CAUSE]",
    help="Search for the run and step furthest off by each root cause, or by the one named, and tell them.",
)  # fmt: skip
@click.option(
    "--runs", type=Whole(1, MOST_RUNS), metavar="N",
    help="Runs that --worst searches; if not given, as many as the scenario says.",
)  # fmt: skip
@click.option(
    "--seed", type=Whole(0), metavar="N", help="Seed of all draws; if not given, the scenario's."
)  # fmt: skip
@click.option(
    "--set", "sets", multiple=True, metavar="PATH=VALUE",
    help="Put another value into the scenario, such as filter.capacitor='47 nF'. May be given often.",
)  # fmt: skip
@click.option("--json", metavar="FILE", help="Write all facts as JSON to FILE, or to standard output for -.")
@click.option("--vcd", metavar="FILE", help="Write the run as a value change dump for a waveform viewer.")
@click.option("--csv", metavar="FILE", help="Write every change of the run as a CSV table.")
@click.option("--csv-steps", metavar="FILE", help="Write the steps of the run as a CSV table.")
@click.option("--no-color", is_flag=True, help="No colour. The variable NO_COLOR does the same.")
def trace(
    scenario: str, number: int | None, step: int | None, worst: str | None, runs: int | None,
    seed: int | None, sets: tuple[str, ...], json: str | None, vcd: str | None, csv: str | None,
    csv_steps: str | None, no_color: bool,
) -> int:  # fmt: skip
    """Tell one run of SCENARIO in order: the hand, the contacts, the voltages, the counter, and why a
    step went wrong. SCENARIO is the name of a ready scenario or a TOML file.

    Say which run with --run, or let --worst find what is worth looking at.
    """
    wanted = wanted_cause(number, step, worst, runs)
    chosen = loaded(scenario, sets)
    asked = asked_of(chosen, number, step, wanted, runs, seed)
    files = Files(json, vcd, csv, csv_steps)
    require_places({**files.tables(), "--json": json}, files_read(scenario))
    return _told(chosen, asked, files, not no_color)


def asked_of(
    scenario: Scenario, number: int | None, step: int | None, wanted: str | None, runs: int | None,
    seed: int | None,
) -> Asked:  # fmt: skip
    """What to tell; what is None is the scenario's."""
    return Asked(
        number, step, wanted, scenario.runs if runs is None else runs, scenario.seed if seed is None else seed
    )


def wanted_cause(number: int | None, step: int | None, worst: str | None, runs: int | None) -> str | None:
    """The word after --worst, checked, and whether the options fit together."""
    if worst is None:
        if number is None:
            raise UserError("say which run to tell with --run N, or let --worst search for one")
        if runs is not None:
            raise UserError("--runs is for --worst: how many runs to search")
        return None
    if number is not None or step is not None:
        raise UserError("--worst searches for run and step itself; leave out --run and --step")
    from reports.sentences import SPURIOUS
    from simcore.judging.sums import CAUSES

    words = (*CAUSES[1:], SPURIOUS)
    word = worst.strip().lower()
    spaced = word if word in words else word.replace("-", " ").replace("_", " ")
    if spaced != ALL and spaced not in words:
        raise UserError(
            f"--worst: read {worst!r}; allowed is nothing or one of {', '.join(words)}"
            f"{suggestion(spaced, words)}"
        )
    return spaced


def _told(scenario: Scenario, asked: Asked, files: Files, colour: bool) -> int:
    from reports.progress import watching

    tell_of_first_use()
    if asked.worst is None:
        searched, places = places_of(scenario, asked)
    else:
        with watching(quiet=False, colour=colour) as show:
            searched, places = places_of(scenario, asked, show)
    require_one_run(list(files.tables()), len(places))
    export, told = told_export(scenario, asked, searched, places)
    complain(*interpreted_lines())
    _write(export, told, files, colour, overview=asked.overview)
    return DONE


def require_one_run(options: Sequence[str], count: int) -> None:
    """Raise UserError where ``options`` take one run and there are ``count``."""
    if options and count != 1:
        words = " and ".join(options)
        there = f"there are {count}" if count else "the search found none"
        raise UserError(f"{words}: one run is needed, and {there}; name one with --run N")


def told_export(
    scenario: Scenario, asked: Asked, searched: dict[str, Any] | None, places: Sequence[Place]
) -> tuple[dict[str, Any], list[tuple[TracedRun, Story | None]]]:
    """The object that ``--json`` writes, and each run with the story of its step."""
    from reports.trace_export import one_trace, trace_export

    traces, told = [], []
    for cause, run, step in places:
        traced = _traced(scenario, asked.seed, run, step)
        export, story = one_trace(scenario, traced, step, cause)
        traces.append(export)
        told.append((traced, story))
    return trace_export(scenario, searched, traces), told


def _traced(scenario: Scenario, seed: int, run: int, step: int | None) -> TracedRun:
    from simcore.tracing.tracing import trace_run

    traced = trace_run(scenario.design, seed, run)
    if step is not None and step > len(traced.steps):
        raise UserError(f"--step {step}: run {run} of seed {seed} has steps 1 to {len(traced.steps)}")
    return traced


def places_of(
    scenario: Scenario, asked: Asked, show: Show | None = None
) -> tuple[dict[str, Any] | None, list[Place]]:
    """What was searched, and each thing to tell; ``show`` is told of the progress of a search."""
    if asked.worst is None:
        assert asked.run is not None  # noqa: S101 - wanted_cause has seen to it
        return None, [(None, asked.run, asked.step)]
    from reports.sentences import SPURIOUS
    from simcore.tracing.worst import search

    found = search(scenario.design, asked.seed, asked.runs, 0, show)
    places: dict[str, tuple[int, int | None]] = {**found.steps}
    if found.spurious is not None:
        places[SPURIOUS] = (found.spurious, None)
    wanted = None if asked.worst == ALL else asked.worst
    searched = {
        "seed": asked.seed,
        "first_run": 0,
        "runs": asked.runs,
        "wanted": wanted,
        "found": {cause: {"run": run, "step": step} for cause, (run, step) in places.items()},
    }
    return searched, [(c, run, step) for c, (run, step) in places.items() if wanted in (None, c)]


def _write(
    export: dict[str, Any],
    told: list[tuple[TracedRun, Story | None]],
    files: Files,
    colour: bool,
    overview: bool,
) -> None:
    from reports.dumps import write_vcd
    from reports.exports import as_json
    from reports.output import console
    from reports.trace_tables import write_edges_csv, write_steps_csv
    from reports.trace_view import trace_page

    writers = {"--vcd": write_vcd, "--csv": write_edges_csv, "--csv-steps": write_steps_csv}
    failures: list[str] = []
    for option, file in files.tables().items():
        failures += kept(partial(writers[option], told[0][0], file))
    if files.json == STANDARD_OUTPUT:
        write(as_json(export))
    else:
        if files.json is not None:
            failures += kept(partial(write_file, files.json, as_json(export)))
        write(trace_page(export, told, console(colour=colour), overview))
    if failures:
        raise UserError(*failures)
