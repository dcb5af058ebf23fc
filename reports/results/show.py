"""The result of ``steptally show``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import Field

from reports.results.common import SCENARIO, Number, Record, ResolvedScenario, Result, Row, Texts, flat


class StageFigure(Record):
    """A figure that a formula gives for a stage, without simulating."""

    stage: str = Field(description="Name of the stage.")
    label: str = Field(description="What the figure is.")
    value: Number = Field(description="Its value in unit.")
    unit: str = Field(description="Its unit.")
    source: str = Field(description="The formula and where it is published.")


class ShowResult(Result):
    """A checked scenario with all defaults and parts written out."""

    name: str = Field(description="Name of the scenario, or of its file.")
    title: str = Field(description="Its title.")
    scenario: ResolvedScenario = Field(description=SCENARIO)
    figures: tuple[StageFigure, ...] = Field(
        description="What formulas give for the stages, without simulating."
    )
    paths: Texts = Field((), exclude=True, description="Paths that --set takes; not in the JSON.")

    @property
    def resolved(self) -> Mapping[str, Any]:
        """The scenario with all defaults and parts written out, quantities as texts with their units."""
        return self.scenario

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        return {
            "settings": [{"path": path, "value": self._value_at(path)} for path in self.paths],
            "figures": [flat(each) for each in self.figures],
        }

    def _value_at(self, path: str) -> Any:
        """The value at a path of --set, lists as text; None where there is none."""
        first, *keys = path.split(".")
        named = {stage["name"]: stage for stage in self.scenario.get("stage", ())}
        if first == "hand":
            named = {gesture["name"]: gesture for gesture in self.scenario["hand"]}
            first, *keys = keys
        value: Any = named.get(first, self.scenario.get(first))
        for key in keys:
            value = value.get(key) if isinstance(value, Mapping) else None
        return ", ".join(str(each) for each in value) if isinstance(value, tuple) else value
