"""``steptally compare``: designs on the same hands, contacts and parts."""

from __future__ import annotations

import rich_click as click

from reports.api.inputs import files_read
from reports.cli import options
from reports.cli.campaign import report
from reports.cli.options import Output, ScenarioName


@click.command(short_help="Compare designs on the same hands, contacts and parts.")
@click.argument("designs", type=ScenarioName(), nargs=-1, required=True, metavar="SCENARIO...")
@click.option(
    "--with", "groups", multiple=True, metavar="PATH=VALUE,...",
    help="Add a design: the one SCENARIO with other values, such as 'filter.capacitor=470 nF, "
    "filter.series=2k2'; repeatable.",
)  # fmt: skip
@click.option(
    "--set", "sets", multiple=True, metavar="PATH=VALUE",
    help="Override a value in all designs, such as supply.voltage='5 V'; repeatable.",
)  # fmt: skip
@click.option(
    "--runs", metavar="N", help="Simulate N runs of each design; default: the first scenario's number."
)
@click.option("--seed", metavar="N", help="Seed of all draws; default: the first scenario's.")
@options.ending
@click.option(
    "--settled", is_flag=True,
    help="Stop once every other design is settled to be better or worse than the first: the error allowance "
    "of 5 % is divided among interim analyses after 1, 2, 4, ... blocks of runs.",
)  # fmt: skip
@options.ledger
@options.threads
@options.output()
def compare(
    designs: tuple[str, ...], groups: tuple[str, ...], sets: tuple[str, ...], runs: str | None,
    seed: str | None, errors: str | None, precision: str | None, time: str | None, settled: bool,
    ledger: str | None, threads: str | None, output: Output,
) -> int:  # fmt: skip
    """Compare designs with the first of them on the same simulated units (hands, contacts and parts): which
    is better, by how much, how sure.

    Give several SCENARIOs (names of ready scenarios, or TOML files); or one, with its [variant.NAME]
    tables; or one, with other values for each --with. Hand, encoder and contacts must be the same in all.

    Exit code: 0 done; 2 bad input; 130 interrupted.
    """
    from reports import api

    return report(
        lambda progress: api.compare(
            *designs, with_=groups, sets=sets, runs=runs, seed=seed, errors=errors, precision=precision,
            time=time, settled=settled, ledger=ledger, threads=threads, progress=progress,
        ),
        output, [file for name in designs for file in files_read(name)], covers="the runs finished",
        ledger=ledger, uses_ledger=ledger is not None,
    )  # fmt: skip
