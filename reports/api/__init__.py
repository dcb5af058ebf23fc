"""The verbs of the command line as functions, for notebooks and scripts: ``from reports import api``.

Each returns a result that cannot be changed, with a few typed numbers, the object behind ``--json``, plain
tables, the terminal's report for rich, and HTML for a notebook.  Nothing is printed; bad input raises
`BadInput`.  See README.md in this folder.  What a name stands for is imported when it is first used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reports.api.choices import choose
    from reports.api.comparisons import compare
    from reports.api.loading import LoadedScenario, scenario, show
    from reports.api.queries import check, ledger, list_, schema
    from reports.api.replays import replay
    from reports.api.runs import run
    from reports.api.sweeps import sweep
    from reports.api.traces import trace
    from reports.errors import BadInput, Interrupted

__all__ = [
    "BadInput",
    "Interrupted",
    "LoadedScenario",
    "check",
    "choose",
    "compare",
    "ledger",
    "list_",
    "replay",
    "run",
    "scenario",
    "schema",
    "show",
    "sweep",
    "trace",
]

_PLACES = {
    "choices": ("choose",),
    "comparisons": ("compare",),
    "loading": ("LoadedScenario", "scenario", "show"),
    "queries": ("check", "ledger", "list_", "schema"),
    "replays": ("replay",),
    "runs": ("run",),
    "sweeps": ("sweep",),
    "traces": ("trace",),
}
"""Modules of this folder and what each offers.  None has the name of something offered: it would hide it."""


def __getattr__(name: str) -> Any:
    if name in ("BadInput", "Interrupted"):
        return getattr(importlib.import_module("reports.errors"), name)
    for module, offered in _PLACES.items():
        if name in offered:
            return getattr(importlib.import_module(f"reports.api.{module}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
