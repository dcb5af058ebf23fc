"""`check`: what can be said of a design by formulas, as ``steptally check`` does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.api.errors import refusing
from reports.api.fragment import Part, line, more, strong, table
from reports.api.given import Given, Sets, taken
from reports.api.result import Result, Row, flat
from reports.api.runs import check_row

if TYPE_CHECKING:
    from rich.console import Console, RenderableType


@dataclass(frozen=True, repr=False, eq=False)
class Check(Result):
    """The checks of a design at the worst corner of its tolerances."""

    @property
    def totals(self) -> Mapping[str, int]:
        """How many checks have each verdict: fail, tight, pass, does not apply."""
        found: Mapping[str, int] = self.export["totals"]
        return found

    @property
    def passed(self) -> bool:
        """Whether nothing fails."""
        return not self.totals["fail"]

    @property
    def failing(self) -> tuple[str, ...]:
        """What fails: the name of each check, and of what."""
        failing = [each for each in self.export["checks"] if each["verdict"] == "fail"]
        return tuple(f"{each['name']}, {each['subject']}" for each in failing)

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        checks = self.export["checks"]
        return {
            "checks": [check_row(each) for each in checks],
            "numbers": [
                {"check": each["name"], "subject": each["subject"], **number}
                for each in checks
                for number in each["numbers"]
            ],
            "networks": [flat(each) for each in self.export["networks"]],
        }

    def _blocks(self, console: Console) -> Iterable[RenderableType]:
        from reports.terminal.checks import blocks

        return blocks(self.export, console)

    def _parts(self) -> Sequence[Part]:
        from reports.page import judgements
        from reports.terminal.checks import METHOD

        checks, drawn = self.export["checks"], self.export["networks"]
        networks = [line(f"{' and '.join(each['lines'])}: {each['words']}") for each in drawn]
        spared = [line(each) for each in judgements.spared(checks)]
        return [
            strong(self.export["title"]),
            *networks,
            strong(judgements.check_line(checks)),
            table(judgements.check_table(checks)),
            more("How each check came about", table(judgements.worked_table(checks)), line(METHOD)),
            *([more("What does not apply", *spared)] if spared else []),
        ]

    def _line(self) -> str:
        from reports.terminal.checks import total_line

        return f"{self.export['name']}: {total_line(dict(self.totals))[:-1]}"


def check(scenario: Given, *, sets: Sets = ()) -> Check:
    """Check a design by formulas, without simulating it.  Raises BadInput."""
    from reports.checks_export import whole_export

    with refusing():
        return Check(whole_export(taken(scenario, sets).loaded))
