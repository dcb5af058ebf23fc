"""Scenarios: by name, from files, from TOML texts and from tables, with values laid over them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.api.errors import refusing
from reports.api.fragment import Part, drawing, line, listing, more, strong
from reports.api.given import Chosen, Given, Sets, taken
from reports.api.result import Result, Row

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from scenarios.loading import load


@dataclass(frozen=True, repr=False, eq=False)
class Scenario(Result):
    """A checked scenario; any function that takes a scenario takes it, without reading it again."""

    _chosen: Chosen

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
        """The values laid over it, as "PATH=VALUE"."""
        return self._chosen.sets

    @property
    def text(self) -> str:
        """Its TOML as read, without the values laid over it."""
        return self._chosen.loaded.text

    @property
    def resolved(self) -> Mapping[str, Any]:
        """The whole of it with all defaults and parts written out, quantities as texts with their units."""
        found: Mapping[str, Any] = self.export["scenario"]
        return found

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

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        return {
            "settings": [{"path": path, "value": value_at(self.resolved, path)} for path in self.paths],
            "figures": self.export["figures"],
        }

    def _blocks(self, console: Console) -> Iterable[RenderableType]:
        from rich.text import Text

        from reports.verbs.show import show_text

        return [Text(show_text(self._chosen.loaded).rstrip("\n"))]

    def _parts(self) -> Sequence[Part]:
        figures = self.table("figures")
        settings = "What can be set, and its value"
        return [
            strong(self.title),
            *(line(caution) for caution in self.cautions),
            listing("From the hand to the count", _path_rows(self._chosen.loaded)),
            *([listing("Computed, not simulated", figures)] if figures else []),
            more(settings, listing(settings, self.table("settings"))),
            more("The text", drawing(self.text)),
        ]

    def _line(self) -> str:
        sets = f" with {', '.join(self.sets)}" if self.sets else ""
        return f"{self.name}{sets}: {self.title}"


WHOLE = ("hand", "encoder", "supply")
"""Boxes that are of no line."""


def _path_rows(loaded: load.Scenario) -> list[Row]:
    """The boxes of the design with their main values."""
    from reports.signal_path import signal_path

    return [
        {
            "what": box["name"],
            "kind": box["kind"],
            "lines": "" if box["role"] in WHOLE else " and ".join(box["lines"]),
            "values": ", ".join(_told(value) for value in box["values"]),
        }
        for box in signal_path(loaded)
    ]


def _told(value: Mapping[str, str]) -> str:
    within = f" ± {value['tolerance']}" if value["tolerance"] else ""
    return f"{value['name']} {value['value']}{within}"


def value_at(resolved: Mapping[str, Any], path: str) -> Any:
    """The value at a path of ``sets`` in a resolved scenario, lists as text; None where there is none."""
    table: Any = resolved
    first, *keys = path.split(".")
    named = {stage["name"]: stage for stage in resolved.get("stage", [])}
    if first == "hand":
        named = {gesture["name"]: gesture for gesture in resolved["hand"]}
        first, *keys = keys
    table = named.get(first, resolved.get(first))
    for key in keys:
        table = table.get(key) if isinstance(table, Mapping) else None
    return ", ".join(str(each) for each in table) if isinstance(table, list) else table


def scenario(given: Given, *, sets: Sets = ()) -> Scenario:
    """Load a scenario (see `reports.api.given.Given`) with values laid over it, as `steptally show` does.

    Raises BadInput with all its mistakes.
    """
    from reports.verbs.show import show_export

    with refusing():
        chosen = taken(given, sets)
        if isinstance(given, Scenario) and chosen is given._chosen:
            return given
        return Scenario(show_export(chosen.loaded), chosen)
