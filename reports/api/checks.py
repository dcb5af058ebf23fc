"""`check`: what can be said of a design by formulas, as ``steptally check`` does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.api.given import Given, Sets, taken
from reports.errors import refusing

if TYPE_CHECKING:
    from reports.results.check import CheckResult


def check(scenario: Given, *, sets: Sets = ()) -> CheckResult:
    """Check a design by formulas, without simulating it.  Raises BadInput."""
    from reports.results.check import CheckResult

    with refusing():
        return CheckResult.of(taken(scenario, sets).loaded)
