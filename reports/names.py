"""Names of scenarios on the command line: completed by the shell, loaded with the errors that users make."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from click import Context, Parameter, ParamType
from click.shell_completion import CompletionItem

from reports.exits import UserError

if TYPE_CHECKING:
    from scenarios.load import Scenario


class ScenarioName(ParamType):  # type: ignore[type-arg]
    """The name of a ready scenario, or a file."""

    name = "scenario"

    def shell_complete(self, ctx: Context, param: Parameter, incomplete: str) -> list[CompletionItem]:
        """Ready names that begin like that, with their titles; and files."""
        from scenarios.catalogue import ready_names, ready_title

        found = [
            CompletionItem(name, help=ready_title(name))
            for name in ready_names()
            if name.startswith(incomplete)
        ]
        if not found:
            found.append(CompletionItem(incomplete, type="file"))
        return found


SCENARIO = ScenarioName()


def loaded(name_or_file: str, sets: Sequence[str] = ()) -> Scenario:
    """The scenario.  Raises UserError with a line for each of its problems."""
    from scenarios.load import ScenarioError, load_scenario

    try:
        return load_scenario(name_or_file, sets)
    except ScenarioError as error:
        raise UserError(*(str(problem) for problem in error.problems)) from None
