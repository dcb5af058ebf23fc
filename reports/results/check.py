"""The result of ``steptally check``."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from pydantic import Field

from reports.results.common import (
    NAME,
    SCENARIO,
    TITLE,
    Count,
    DesignCheck,
    LineName,
    Record,
    ResolvedScenario,
    Result,
    Row,
    Versions,
    flat,
)

if TYPE_CHECKING:
    from reports.documents.document import Document
    from scenarios.loading.load import Scenario


class DrawnNetwork(Record):
    """A network between contacts and inputs, drawn in words."""

    stage: str = Field(description="Name of the stage.")
    lines: tuple[LineName, ...] = Field(description="The lines that have it.")
    words: str = Field(description="The network from the supply over the contact to the input.")


class CheckTotals(Record):
    """How many checks have each verdict."""

    fail: Count = Field(description="Checks that fail.")
    tight: Count = Field(description="Checks that pass nearer to the limit than a tenth of it.")
    passed: Count = Field(
        validation_alias="pass",
        serialization_alias="pass",
        description="Checks that pass with room to spare.",
    )
    not_applicable: Count = Field(
        validation_alias="does not apply",
        serialization_alias="does not apply",
        description="Checks that do not apply to the design.",
    )


class CheckResult(Result):
    """The electrical checks of a design at the worst corner of its tolerances."""

    name: str = Field(description=NAME)
    title: str = Field(description=TITLE)
    scenario: ResolvedScenario = Field(description=SCENARIO)
    networks: tuple[DrawnNetwork, ...] = Field(
        description="The networks between contacts and inputs, drawn in words."
    )
    totals: CheckTotals = Field(description="How many checks have each verdict.")
    checks: tuple[DesignCheck, ...] = Field(
        min_length=1, description="All checks, in the order in which they are shown."
    )
    versions: Versions = Field(description="What the result was made with.")

    @classmethod
    def of(cls, scenario: Scenario) -> CheckResult:
        """The checks of a scenario, with values that would pass for those that fail or are tight."""
        from reports.results.building import design_checks, versions
        from reports.words.drawing import networks

        checks = design_checks(scenario)
        counts = dict.fromkeys(("fail", "tight", "pass", "does not apply"), 0)
        counts |= Counter(check.verdict for check in checks)
        return cls(
            name=scenario.name,
            title=scenario.title,
            scenario=scenario.resolved,
            networks=tuple(DrawnNetwork.model_validate(each) for each in networks(scenario.design)),
            totals=CheckTotals.model_validate(counts),
            checks=checks,
            versions=versions(),
        )

    def document(self) -> Document:
        from reports.documents.check import document

        return document(self)

    @property
    def passed(self) -> bool:
        return not self.totals.fail

    @property
    def failing(self) -> tuple[str, ...]:
        """What fails: the name of each check, and of what."""
        return tuple(f"{each.name}, {each.subject}" for each in self.checks if each.verdict == "fail")

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        return {
            "checks": [each.row() for each in self.checks],
            "numbers": [
                flat(number, check=each.name, subject=each.subject)
                for each in self.checks
                for number in each.numbers
            ],
            "networks": [flat(each) for each in self.networks],
        }
