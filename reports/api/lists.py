"""`list_`: what can be run as it is, and what a scenario may say; `schema`: what results hold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from reports.api import options
from reports.api.given import warn_of_plugins

if TYPE_CHECKING:
    from reports.results.list import ListResult


def list_(what: str | None = None) -> ListResult:
    """The ready scenarios and parts; or, for "stages", "inputs", "counters", "contacts" or "gestures", every
    kind with its keys, units, defaults and meanings.  Raises BadInput for any other word.
    """
    from reports.results.list import SECTIONS, ListResult

    section = None if what is None else options.word("WHAT", what, SECTIONS)
    try:
        return ListResult.of(section)
    finally:
        warn_of_plugins()


def schema(verb: str) -> Mapping[str, Any]:
    """The JSON schema of what a verb's ``--json`` writes, each key with its meaning and unit.

    Raises BadInput for a verb that writes none.
    """
    from reports.results import RESULTS, schema_of

    return schema_of(options.word("VERB", verb, tuple(RESULTS)))
