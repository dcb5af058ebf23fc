"""``steptally check``: what can be said of a design by formulas, at the worst corner of its tolerances."""

from __future__ import annotations

import rich_click as click

from reports.api.inputs import files_read
from reports.cli import options
from reports.cli.exits import CHECK_FAILED, DONE
from reports.cli.options import Output


@click.command(short_help="Check a design by formulas, at the worst corner of its tolerances.")
@options.scenario
@options.sets
@options.output(html=False, quiet="Only the table, without the details of each check.")
def check(scenario: str, sets: tuple[str, ...], output: Output) -> int:
    """Check SCENARIO, the name of a ready scenario or a TOML file, without simulating it: currents, levels,
    charge times against the hand, chatter against the filters, set-up and hold, preferred values.

    Exit code: 0 nothing fails; 1 a check fails; 2 bad input.
    """
    from reports import api

    output.require(files_read(scenario))
    result = api.check(scenario, sets=sets)
    output.deliver(result)
    return DONE if result.passed else CHECK_FAILED
