"""``steptally replay``: a recording through a scenario's stages and counter."""

from __future__ import annotations

import pathlib

import rich_click as click

from reports.api.inputs import files_read
from reports.cli import options
from reports.cli.options import Output
from reports.cli.progress import tell_of_first_use
from reports.errors import BadInput

ROWS = 40


@click.command(short_help="Send a recording of both contacts through a design, and count.")
@click.argument("trace", type=click.Path())
@options.scenario
@options.sets
@click.option(
    "--closed", metavar="[low|high]", default="low", show_default=True,
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
    "--run", metavar="N", help="Draw the parts of this unit within their tolerances; default: nominal parts."
)  # fmt: skip
@options.seed
@click.option(
    "--limit", metavar="N", default=str(ROWS), show_default=True, help="Most rows of a table; 0 for all."
)  # fmt: skip
@options.output(html=False, quiet="Only the verdict.")
def replay(
    trace: str, scenario: str, sets: tuple[str, ...], closed: str, settle: str, threshold: str | None,
    unit: str | None, columns: str | None, run: str | None, seed: str | None, limit: str, output: Output,
) -> None:  # fmt: skip
    """Send TRACE, a recording of both contacts, through the stages and the counter of SCENARIO.

    TRACE is a CSV file: a time and the levels of A and B in each row, by samples or by changes, with
    or without a header. Or it is a value change dump (VCD); its first character tells.
    SCENARIO is the name of a ready scenario or a TOML file; its hand and its contacts are not used, for
    the recording takes their place. What was counted stands beside what a bounce-free reading of the same
    recording gives.

    Exit code: 0 done; 2 bad input.
    """
    from reports import api
    from reports.api.options import whole

    _require_order(trace, scenario)
    rows = whole("--limit", limit) or 0
    output.require((trace, *files_read(scenario)))
    tell_of_first_use(quiet=output.quiet)
    result = api.replay(
        trace, scenario, sets=sets, closed=closed, settle=settle, threshold=threshold, unit=unit,
        columns=columns, run=run, seed=seed,
    )  # fmt: skip
    output.deliver(result.limited(rows))


def _require_order(trace: str, scenario: str) -> None:
    """Raise BadInput where scenario and recording have changed places."""
    from scenarios.loading.catalogue import ready_names

    swapped = trace.endswith(".toml") or (trace in ready_names() and not pathlib.Path(trace).exists())
    if swapped and scenario.lower().endswith((".csv", ".vcd")):
        raise BadInput(
            f"TRACE: expected a recording, got {trace!r}, a scenario; it comes before the scenario: "
            f"steptally replay {scenario} {trace}"
        )
