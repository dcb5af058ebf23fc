"""Sweeps in this process, and what they give."""

from __future__ import annotations

import functools

from click.testing import CliRunner, Result

from reports.cli.group import steptally as group
from reports.results.sweep import SweepResult

KNOB = "panel-knob"
CAPACITORS = "filter.capacitor=47n..470n:E6"
"""Chatter passes the first of these seven, and the last is too slow for twists."""
TARGET = "1 in 300 steps"
"""Some cells meet it within 800 runs, some miss it, and some are undecided then."""


def swept(*arguments: str) -> Result:
    """The verb, with nothing kept in a ledger unless one is named."""
    ledger = () if {"--ledger", "--no-ledger"} & {*arguments} else ("--no-ledger",)
    return CliRunner().invoke(group, ["sweep", *arguments, *ledger])


@functools.cache
def told(*arguments: str) -> SweepResult:
    """The result that the JSON of a sweep holds."""
    done = swept(*arguments, "--json", "-")
    assert done.exit_code in (0, 1), done.stderr
    return SweepResult.model_validate_json(done.stdout)


def one_key(target: str = TARGET, runs: int = 800) -> SweepResult:
    """A sweep over a capacitor."""
    more = ("--target", target) if target else ()
    return told(KNOB, "--vary", CAPACITORS, "--runs", str(runs), *more)


def two_keys(target: str = TARGET) -> SweepResult:
    """A sweep over a capacitor and a resistor."""
    more = ("--target", target) if target else ()
    return told(KNOB, "--vary", CAPACITORS, "--vary", "filter.series=470R, 1k, 2k2", "--runs", "400", *more)


def three_keys() -> SweepResult:
    """A sweep over two values of each of three keys."""
    return told(
        KNOB, "--vary", "filter.capacitor=47n, 220n", "--vary", "filter.series=1k, 2k2",
        "--vary", "supply.voltage=3V3, 5 V", "--runs", "60",
    )  # fmt: skip


def untimed(result: SweepResult) -> SweepResult:
    """Without what differs from one time to the next."""
    return result.model_copy(update={"seconds": 0.0})
