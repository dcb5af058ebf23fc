"""``steptally check``: what can be said of a design by formulas, at the worst corner of its tolerances."""

from __future__ import annotations

import rich_click as click

from reports.exits import CHECK_FAILED, DONE, UserError
from reports.names import SCENARIO, files_read, loaded
from reports.output import STANDARD_OUTPUT, console, kept, require_places, write, write_file


@click.command(short_help="Check a design by formulas, at the worst corner of its tolerances.")
@click.argument("scenario", type=SCENARIO)
@click.option(
    "--set", "sets", multiple=True, metavar="PATH=VALUE",
    help="Put another value into the scenario, such as filter.capacitor='47 nF'. May be given often.",
)  # fmt: skip
@click.option("--json", metavar="FILE", help="Write the checks as JSON to FILE, or to standard output for -.")
@click.option("--quiet", "-q", is_flag=True, help="The table only, without how each result came about.")
@click.option("--no-color", is_flag=True, help="No colour. The variable NO_COLOR does the same.")
def check(scenario: str, sets: tuple[str, ...], json: str | None, quiet: bool, no_color: bool) -> int:
    """Check SCENARIO, the name of a ready scenario or a TOML file, without simulating it: currents, levels,
    charge times against the hand, chatter against the filters, set-up and hold, preferred values.

    Exit code: 0 nothing fails; 1 a check fails; 2 bad input.
    """
    from reports.checks_export import whole_export
    from reports.exports import as_json

    chosen = loaded(scenario, sets)
    require_places({"--json": json}, files_read(scenario))
    export = whole_export(chosen)
    if json == STANDARD_OUTPUT:
        write(as_json(export))
    else:
        from reports.terminal.checks import checks_page

        failures = () if json is None else kept(lambda: write_file(json, as_json(export)))
        write(checks_page(export, console(colour=not no_color), brief=quiet))
        if failures:
            raise UserError(*failures)
    return CHECK_FAILED if export["totals"]["fail"] else DONE
