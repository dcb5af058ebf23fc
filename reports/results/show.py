"""The result of ``steptally show``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from pydantic import Field, PrivateAttr

from reports.results.common import SCENARIO, Number, Record, ResolvedScenario, Result, Row, flat

if TYPE_CHECKING:
    from reports.documents.document import Document
    from reports.results.common import SignalBox
    from scenarios.loading.load import Scenario


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

    _loaded: Scenario = PrivateAttr()

    @classmethod
    def of(cls, scenario: Scenario) -> ShowResult:
        result = cls(
            name=scenario.name,
            title=scenario.title,
            scenario=scenario.resolved,
            figures=tuple(StageFigure(stage=stage, **figure._asdict()) for stage, figure in scenario.figures),
        )
        result._loaded = scenario
        return result

    @property
    def text(self) -> str:
        """The scenario's own text, and the figures as TOML remarks, so that the whole still is a scenario."""
        text = self._loaded.text
        if not self.figures:
            return text
        lines = ["", "# Computed by steptally show, not simulated:"]
        for each in self.figures:
            lines += [f"# {each.stage}: {each.label} {each.value:.4g} {each.unit}", f"#   by {each.source}"]
        return text.rstrip("\n") + "\n" + "\n".join(lines) + "\n"

    @property
    def cautions(self) -> tuple[str, ...]:
        return self._loaded.cautions

    @property
    def signal_path(self) -> tuple[SignalBox, ...]:
        """The boxes of the block diagram, from the hand to the count, then the supply."""
        from reports.words.signal_path import signal_path

        return signal_path(self._loaded)

    def document(self) -> Document:
        from reports.documents.show import document

        return document(self)

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        return {
            "settings": [{"path": path, "value": self._value_at(path)} for path in self._loaded.paths],
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
