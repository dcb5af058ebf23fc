"""The verbs that simulate nothing: `check`, `ledger`, `list_` and `schema`."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from reports.api import options
from reports.api.inputs import ScenarioInput, Sets, load_input, warn_of_plugins
from reports.errors import BadInput, refusing

if TYPE_CHECKING:
    from reports.results.check import CheckResult
    from reports.results.ledger import LedgerResult
    from reports.results.list import ListResult


def check(scenario: ScenarioInput, *, sets: Sets = ()) -> CheckResult:
    """Check a design by formulas, without simulating it, as ``steptally check`` does.  Raises BadInput."""
    from reports.results.check import CheckResult

    with refusing():
        return CheckResult.of(load_input(scenario, sets).loaded)


def ledger(file: str | os.PathLike[str] | None = None, *, check: bool = False) -> LedgerResult:
    """What the ledger in a file keeps, or the user's own one; ``check`` compares every block with its digest
    as well.  Raises BadInput where there is no ledger, or a damaged one.
    """
    from reports.results.ledger import LedgerResult
    from scenarios.ledger import LedgerError, LedgerFile, broken, default_place, torn

    place, checked = options.file("FILE", file), None
    check = options.switch("check", check)
    try:
        with LedgerFile(default_place(make=False) if place is None else place, write=False) as kept:
            if check:
                checked, faults = broken(kept)
                if faults:
                    raise BadInput(*(str(torn(kept.path, fault)) for fault in faults))
            return LedgerResult.of(kept, checked)
    except LedgerError as error:
        raise BadInput(str(error)) from None


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
