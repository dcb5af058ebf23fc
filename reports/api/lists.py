"""`list_`: what can be run as it is, and what a scenario may say, as ``steptally list`` does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.api.fragment import Part, listing
from reports.api.result import Result, Row, flat
from reports.errors import refusing

if TYPE_CHECKING:
    from rich.console import Console, RenderableType


@dataclass(frozen=True, repr=False, eq=False)
class Listing(Result):
    """The ready scenarios and parts; or, with ``what``, the kinds of a section and their keys."""

    what: str | None

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the ready scenarios, or the kinds."""
        rows = self.export["scenarios"] if self.what is None else self.export[self.what]
        return tuple(each["name" if self.what is None else "kind"] for each in rows)

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        if self.what is None:
            scenarios = [{"name": each["name"], "title": each["title"]} for each in self.export["scenarios"]]
            return {"scenarios": scenarios, "parts": self.export["parts"]}
        kinds = self.export[self.what]
        return {
            "kinds": [{key: each[key] for key in ("kind", "meaning", "package")} for each in kinds],
            "keys": [flat(key, kind=each["kind"]) for each in kinds for key in each["parameters"]],
        }

    def _blocks(self, console: Console) -> Iterable[RenderableType]:
        from rich.console import Group

        from reports.terminal.kinds import kinds_parts
        from reports.terminal.listing import listing_lines

        if self.what is not None:
            return [Group(*kinds_parts(self.export[self.what], console.width))]
        scenarios = [(each["name"], each["title"]) for each in self.export["scenarios"]]
        parts = [(each["name"], each["kind"], each["title"]) for each in self.export["parts"]]
        return [Group(*listing_lines(scenarios, parts, console.width))]

    def _parts(self) -> Sequence[Part]:
        return [listing(name.capitalize(), rows) for name, rows in self.tables.items()]

    def _line(self) -> str:
        return f"{self.what or 'scenarios'}: {', '.join(self.names)}"


def list_(what: str | None = None) -> Listing:
    """The ready scenarios and parts; or, for "stages", "inputs", "counters", "contacts" or "gestures", every
    kind with its keys, units, defaults and meanings.  Raises BadInput for any other word.
    """
    from reports.verbs import list as verb

    with refusing():
        if what is None:
            return Listing(verb.list_export(), None)
        verb.list_.make_context("list", ["--", str(what)])
        return Listing(verb.kinds_export(what), what)
