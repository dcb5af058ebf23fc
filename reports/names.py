"""Names of scenarios on the command line: completed by the shell, loaded with the errors that users make."""

from __future__ import annotations

import difflib
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from click import Context, Parameter, ParamType
from click.shell_completion import CompletionItem

from reports.exits import UserError, complain

if TYPE_CHECKING:
    from scenarios.loading.comparison import Compared
    from scenarios.loading.load import Scenario


class ScenarioName(ParamType):  # type: ignore[type-arg]
    """The name of a ready scenario, or a file."""

    name = "scenario"

    def shell_complete(self, ctx: Context, param: Parameter, incomplete: str) -> list[CompletionItem]:
        """Ready names that begin like that, with their titles; and files."""
        from scenarios.loading.catalogue import ready_names, ready_title

        found = [
            CompletionItem(name, help=ready_title(name))
            for name in ready_names()
            if name.startswith(incomplete)
        ]
        if not found:
            found.append(CompletionItem(incomplete, type="file"))
        return found


class Choice(ParamType):  # type: ignore[type-arg]
    """One of a few words, with the nearest one named for any other."""

    name = "word"

    def __init__(self, words: Sequence[str]) -> None:
        self.words = tuple(words)

    def convert(self, value: str, param: Parameter | None, ctx: Context | None) -> str:
        """The word itself."""
        if value not in self.words:
            self.fail(
                f"read {value!r}; allowed is {', '.join(self.words)}{suggestion(value, self.words)}",
                param,
                ctx,
            )
        return value

    def shell_complete(self, ctx: Context, param: Parameter, incomplete: str) -> list[CompletionItem]:
        """Words that begin like that."""
        return [CompletionItem(word) for word in self.words if word.startswith(incomplete)]


def suggestion(word: str, known: Sequence[str]) -> str:
    """The nearest known word as a question at the end of a sentence, or nothing."""
    near = difflib.get_close_matches(word, known, n=1)
    return f"; did you mean {near[0]!r}?" if near else ""


SCENARIO = ScenarioName()


def loaded(name_or_file: str, sets: Sequence[str] = ()) -> Scenario:
    """The scenario.  Raises UserError with a line for each of its problems."""
    from scenarios.loading.load import ScenarioError, load_scenario

    try:
        return load_scenario(name_or_file, sets)
    except ScenarioError as error:
        raise UserError(*(str(problem) for problem in error.problems)) from None
    finally:
        complain_of_plugins()


def compared(
    names: Sequence[str], groups: Sequence[str] = (), sets: Sequence[str] = ()
) -> tuple[Compared, ...]:
    """The designs of a comparison.  Raises UserError with a line for each of their problems."""
    from scenarios.loading.comparison import load_compared
    from scenarios.loading.load import ScenarioError

    try:
        return load_compared(names, groups, sets)
    except ScenarioError as error:
        raise UserError(*(str(problem) for problem in error.problems)) from None
    finally:
        complain_of_plugins()


def files_read(name_or_file: str) -> tuple[str, ...]:
    """The file behind a scenario, which no result may overwrite; none behind a ready one."""
    from scenarios.loading.catalogue import ready_names

    return () if name_or_file in ready_names() else (name_or_file,)


def complain_of_plugins() -> None:
    """A line on standard error for each plug-in that had to be left out, if any was looked for."""
    plugins = sys.modules.get("scenarios.plugins")
    if plugins is not None:
        complain(*plugins.complaints())
