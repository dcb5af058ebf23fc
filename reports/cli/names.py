"""Names of scenarios on the command line, completed by the shell, and the files behind them."""

from __future__ import annotations

import sys

from click import Context, Parameter, ParamType
from click.shell_completion import CompletionItem

from reports.cli.exits import complain


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


def files_read(name_or_file: str) -> tuple[str, ...]:
    """The file behind a scenario, which no result may overwrite; none behind a ready one."""
    from scenarios.loading.catalogue import ready_names

    return () if name_or_file in ready_names() else (name_or_file,)


def complain_of_plugins() -> None:
    """A line on standard error for each plug-in that had to be left out, if any was looked for."""
    plugins = sys.modules.get("scenarios.plugins")
    if plugins is not None:
        complain(*plugins.complaints())
