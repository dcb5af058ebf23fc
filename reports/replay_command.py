"""``steptally replay``: a recorded trace through a scenario's stages and counter."""

from __future__ import annotations

import pathlib
from typing import TYPE_CHECKING

import rich_click as click

from reports.compiled import tell_of_first_use
from reports.exits import UserError
from reports.names import SCENARIO, files_read, loaded
from reports.output import STANDARD_OUTPUT, console, kept, require_places, write, write_file
from reports.whole import Whole

if TYPE_CHECKING:
    from reports.replay_export import Asked, Export
    from scenarios.loading.load import Scenario
    from scenarios.traces.reading import Trace
    from scenarios.traces.rows import Threshold

ROWS = 40
CLOSED = ("low", "high")


@click.command()
@click.argument("trace", type=click.Path())
@click.argument("scenario", type=SCENARIO)
@click.option(
    "--set", "sets", multiple=True, metavar="PATH=VALUE",
    help="Put another value into the scenario, such as filter.capacitor='47 nF'. May be given often.",
)  # fmt: skip
@click.option(
    "--closed", type=click.Choice(CLOSED), default="low", show_default=True,
    help="The recorded level of a closed contact; low with a pull-up.",
)  # fmt: skip
@click.option(
    "--settle", metavar="TIME", default="1 ms", show_default=True,
    help="Changes of a line closer than this are one burst, in the bounce-free reading.",
)  # fmt: skip
@click.option(
    "--threshold", metavar="VOLTS",
    help='For lines in volts: where the level changes, "1.5 V", or rising and falling, "1.9 V,1.2 V".',
)  # fmt: skip
@click.option("--unit", help="Unit of the time column: s, ms, us, ns, ps. [default: the header's, else s]")
@click.option(
    "--columns", metavar="TIME,A,B",
    help="Names or numbers of three columns, or the names of two variables of a value change dump. "
    "[default: by their names, else in order]",
)  # fmt: skip
@click.option(
    "--run", type=Whole(0), metavar="N",
    help="Draw the parts of this unit within their tolerances; if not given, every part is nominal.",
)  # fmt: skip
@click.option(
    "--seed", type=Whole(0), metavar="N", help="Seed of all draws; if not given, the scenario's."
)  # fmt: skip
@click.option(
    "--limit", type=Whole(0), metavar="N", default=ROWS, show_default=True,
    help="Most rows of a table; 0 for all.",
)  # fmt: skip
@click.option("--json", metavar="FILE", help="Write the result as JSON to FILE, or to standard output for -.")
@click.option("--quiet", "-q", is_flag=True, help="The verdict in a few lines.")
@click.option("--no-color", is_flag=True, help="No colour. The variable NO_COLOR does the same.")
def replay(
    trace: str, scenario: str, sets: tuple[str, ...], closed: str, settle: str, threshold: str | None,
    unit: str | None, columns: str | None, run: int | None, seed: int | None, limit: int, json: str | None,
    quiet: bool, no_color: bool,
) -> None:  # fmt: skip
    """Send TRACE, a recording of both contacts, through the stages and the counter of SCENARIO.

    TRACE is a CSV file: a time and the levels of A and B in each row, by samples or by changes, with
    or without a header. Or it is a value change dump (VCD); its first character tells.
    SCENARIO is the name of a ready scenario or a TOML file; its hand and its contacts are left out, for
    the trace takes their place. What was counted stands beside what a bounce-free reading of the same
    trace gives.

    Exit code: 0 done; 2 bad input.
    """
    _require_order(trace, scenario)
    chosen = loaded(scenario, sets)
    asked = asked_of(chosen, closed, settle, threshold, seed, run)
    require_places({"--json": json}, (trace, *files_read(scenario)))
    read = recording(trace, columns, unit, asked)
    tell_of_first_use(quiet=quiet)
    _report(replayed(chosen, read, asked), json, limit, quiet, not no_color)


def _require_order(trace: str, scenario: str) -> None:
    """Raise UserError where scenario and trace have changed places."""
    from scenarios.loading.catalogue import ready_names

    swapped = trace.endswith(".toml") or (trace in ready_names() and not pathlib.Path(trace).exists())
    if swapped and scenario.lower().endswith((".csv", ".vcd")):
        raise UserError(
            f"TRACE: read {trace!r}, a scenario; allowed is a recording, which comes before the scenario: "
            f"steptally replay {scenario} {trace}"
        )


def asked_of(
    scenario: Scenario, closed: str, settle: str, threshold: str | None, seed: int | None, run: int | None
) -> Asked:
    """What is asked for; raises UserError for what is no time and no voltage."""
    from reports.replay_export import Asked

    cut = _threshold(threshold)
    seed = scenario.seed if seed is None else seed
    return Asked(CLOSED.index(closed), _settle(settle), cut, seed, run)


def replayed(scenario: Scenario, trace: Trace, asked: Asked) -> Export:
    """The object that ``--json`` writes."""
    from reports.replay_export import replay_export
    from scenarios.traces.reading import contact_edges
    from simcore.tracing.replay import nominal, replay

    a, b = contact_edges(trace, asked.closed)
    design = nominal(scenario.design) if asked.run is None else scenario.design
    done = replay(design, a, b, asked.settle, trace.notes.duration, asked.seed, asked.run or 0)
    return replay_export(scenario, trace, done, asked)


def _report(export: Export, json: str | None, limit: int, quiet: bool, colour: bool) -> None:
    from reports.exports import as_json
    from reports.replay_view import replay_brief, replay_page

    if json == STANDARD_OUTPUT:
        write(as_json(export))
        return
    failures = () if json is None else kept(lambda: write_file(json, as_json(export)))
    screen = console(colour=colour)
    write(replay_brief(export, screen) if quiet else replay_page(export, screen, limit))
    if failures:
        raise UserError(*failures)


def recording(path: str, columns: str | None, unit: str | None, asked: Asked) -> Trace:
    """A recorded trace.  Raises UserError with a line for each of its problems."""
    from scenarios.traces.reading import TraceError, read_trace

    try:
        return read_trace(path, columns=columns, unit=_unit(unit), threshold=asked.threshold)
    except TraceError as error:
        raise UserError(*(str(problem) for problem in error.problems)) from None


def _settle(text: str) -> int:
    """The settling time in ticks."""
    from scenarios.loading.messages import shown
    from scenarios.quantities import TIME, QuantityError, read_quantity
    from simcore.base.ticks import FAR_SECONDS, ticks

    try:
        settle = read_quantity(text, TIME)
    except QuantityError as error:
        raise UserError(f"--settle: {error}") from None
    if not 1.0e-12 <= settle <= FAR_SECONDS:
        raise UserError(f"--settle: read {shown(text)}; the settling time lies between 1 ps and 46 days")
    return ticks(settle)


def _threshold(text: str | None) -> Threshold | None:
    from scenarios.quantities import QuantityError
    from scenarios.traces.reading import read_threshold

    try:
        return None if text is None else read_threshold(text)
    except QuantityError as error:
        raise UserError(f"--threshold: {error}") from None


def _unit(text: str | None) -> int | None:
    from scenarios.quantities import QuantityError
    from scenarios.traces.reading import read_unit

    try:
        return None if text is None else read_unit(text)
    except QuantityError as error:
        raise UserError(f"--unit: {error}") from None
