"""Scenarios: by name, from files, from TOML texts and from tables, with values that override theirs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.api.inputs import LoadedInput, ScenarioInput, Sets, load_input
from reports.errors import refusing

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderResult

    from reports.results.show import ShowResult


@dataclass(frozen=True, repr=False, eq=False)
class LoadedScenario:
    """A checked scenario; any function that takes a scenario takes it, without reading it again."""

    _chosen: LoadedInput

    @property
    def name(self) -> str:
        """Its name: the ready one, or that of its file."""
        return self._chosen.loaded.name

    @property
    def title(self) -> str:
        """What it is, in a line."""
        return self._chosen.loaded.title

    @property
    def sets(self) -> tuple[str, ...]:
        """The values that override those of its text, as "PATH=VALUE"."""
        return self._chosen.sets

    @property
    def text(self) -> str:
        """Its TOML as read, without the overrides."""
        return self._chosen.loaded.text

    @property
    def resolved(self) -> Mapping[str, Any]:
        """The whole of it with all defaults and parts written out, quantities as texts with their units."""
        return self.show().scenario

    @property
    def paths(self) -> tuple[str, ...]:
        """What ``sets`` may name."""
        return self._chosen.loaded.paths

    @property
    def runs(self) -> int:
        """Runs that `run` simulates if not told otherwise."""
        return self._chosen.loaded.runs

    @property
    def seed(self) -> int:
        """Seed that `run` uses if not told otherwise."""
        return self._chosen.loaded.seed

    @property
    def cautions(self) -> tuple[str, ...]:
        """Sentences to read beside any result."""
        return self._chosen.loaded.cautions

    def show(self) -> ShowResult:
        """What can be said of it without simulating, as `show` gives it."""
        from reports.results.show import ShowResult

        return ShowResult.of(self._chosen.loaded)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        return self.show().__rich_console__(console, options)

    def _repr_html_(self) -> str:
        return self.show()._repr_html_()

    def __repr__(self) -> str:
        sets = f" with {', '.join(self.sets)}" if self.sets else ""
        return f"<LoadedScenario {self.name}{sets}: {self.title}>"


def scenario(given: ScenarioInput, *, sets: Sets = ()) -> LoadedScenario:
    """Load a scenario (see `reports.api.inputs.ScenarioInput`), with values that override its own.

    Raises BadInput with all its mistakes.
    """
    with refusing():
        chosen = load_input(given, sets)
    if isinstance(given, LoadedScenario) and chosen is given._chosen:
        return given
    return LoadedScenario(chosen)


def show(scenario: ScenarioInput, *, sets: Sets = ()) -> ShowResult:
    """A scenario with all defaults and parts written out, and what formulas give for its stages.

    Raises BadInput with all its mistakes.
    """
    from reports.results.show import ShowResult

    with refusing():
        return ShowResult.of(load_input(scenario, sets).loaded)
