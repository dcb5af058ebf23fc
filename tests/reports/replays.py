"""Recordings to replay, and the command in this process."""

from __future__ import annotations

import json
import pathlib
from typing import Any

import jsonschema
from click.testing import CliRunner, Result

from reports.cli.group import steptally
from reports.results import schema_of
from reports.results.replay import ReplayResult

QUARTER = 10_000
"""Microseconds from one boundary of the clean cycle to the next."""
PITCH = 20
"""Microseconds between the changes of a burst."""


def recording(pairs_a: int = 0, pairs_b: int = 0, cycles: int = 3, start: int = 0) -> str:
    """Whole cycles upward, recorded on change in us behind a pull-up, with so many extra pairs of
    changes at every boundary of A and of B.
    """
    changes = []
    for number in range(4 * cycles):
        line = number % 2
        pairs = (pairs_a, pairs_b)[line]
        changes += [((number + 2) * QUARTER + PITCH * k, line) for k in range(2 * pairs + 1)]
    levels = [1, 1]
    rows = [f"{start},1,1"]
    for time, line in sorted(changes):
        levels[line] ^= 1
        rows.append(f"{start + time},{levels[0]},{levels[1]}")
    rows.append(f"{start + (4 * cycles + 3) * QUARTER},1,1")
    return "time [us],A,B\n" + "\n".join(rows) + "\n"


def replayed(folder: pathlib.Path, text: str, *options: str) -> Result:
    """``steptally replay`` of a recording with the folder's knob."""
    trace = folder / "trace.csv"
    trace.write_text(text, encoding="utf-8")
    return CliRunner().invoke(steptally, ["replay", str(trace), str(folder / "knob.toml"), *options])


def exported(folder: pathlib.Path, text: str, *options: str) -> dict[str, Any]:
    """The checked JSON of a replay."""
    done = replayed(folder, text, *options, "--json", "-")
    assert done.exit_code == 0, done.output
    loaded: dict[str, Any] = json.loads(done.stdout)
    jsonschema.validate(loaded, schema_of("replay"))
    return loaded


def result(folder: pathlib.Path, text: str, *options: str) -> ReplayResult:
    """The same as a result."""
    return ReplayResult.model_validate_json(json.dumps(exported(folder, text, *options)))
