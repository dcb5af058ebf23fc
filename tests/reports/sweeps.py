"""Sweeps in this process, and what they give."""

from __future__ import annotations

import copy
import functools
import json
from typing import Any

from click.testing import CliRunner, Result

from reports.cli.group import steptally as group

Export = dict[str, Any]
KNOB = "panel-knob"
CAPACITORS = "filter.capacitor=47n..470n:E6"
"""Chatter passes the first of these seven, and the last is too slow for twists."""
TARGET = "1 in 300 steps"
"""Some cells meet it within 800 runs, some miss it, and some are undecided then."""


def asked(*arguments: str) -> Result:
    """The verb, with nothing kept in a ledger unless one is named."""
    ledger = () if {"--ledger", "--no-ledger"} & {*arguments} else ("--no-ledger",)
    return CliRunner().invoke(group, ["sweep", *arguments, *ledger])


@functools.cache
def _told(arguments: tuple[str, ...]) -> Export:
    result = asked(*arguments, "--json", "-")
    assert result.exit_code in (0, 1), result.stderr
    export: Export = json.loads(result.stdout)
    return export


def told(*arguments: str) -> Export:
    """The JSON object of a sweep; a copy, so that a test may change it."""
    return copy.deepcopy(_told(arguments))


def one_key(target: str = TARGET, runs: int = 800) -> Export:
    """A sweep over a capacitor."""
    more = ("--target", target) if target else ()
    return told(KNOB, "--vary", CAPACITORS, "--runs", str(runs), *more)


def two_keys(target: str = TARGET) -> Export:
    """A sweep over a capacitor and a resistor."""
    more = ("--target", target) if target else ()
    return told(KNOB, "--vary", CAPACITORS, "--vary", "filter.series=470R, 1k, 2k2", "--runs", "400", *more)


def without_time(export: Export) -> Export:
    """Without what differs from one time to the next."""
    return {key: value for key, value in export.items() if key != "seconds"}
