"""The results of the verbs: frozen records that hold what ``--json`` writes, one file for each verb.

Importing this package imports no pydantic; the model of a verb is imported when it is first asked for.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reports.results.common import Result

RESULTS = {
    "check": "CheckResult",
    "run": "RunResult",
    "sweep": "SweepResult",
    "choose": "ChoiceResult",
    "compare": "ComparisonResult",
    "trace": "TraceResult",
    "replay": "ReplayResult",
    "ledger": "LedgerResult",
    "list": "ListResult",
    "show": "ShowResult",
}
"""The class of each verb's result, in the module of the verb's name."""


def result_class(verb: str) -> type[Result]:
    """The class of a verb's result.  Raises KeyError for a verb without one."""
    module = importlib.import_module(f"reports.results.{verb}")
    found: type[Result] = getattr(module, RESULTS[verb])
    return found


def schema_of(verb: str) -> dict[str, Any]:
    """The JSON schema (draft 2020-12) of what a verb's ``--json`` writes, each key with its meaning and unit.

    Raises KeyError for a verb without a result.
    """
    from reports.results.common import UntitledSchema

    schema = result_class(verb).model_json_schema(mode="serialization", schema_generator=UntitledSchema)
    return {
        "$schema": UntitledSchema.schema_dialect,
        **schema,
        "title": f"Result of steptally {verb} --json",
    }
