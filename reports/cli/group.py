"""The command group: verbs that are imported when used, and a hint for a mistyped one."""

from __future__ import annotations

import difflib
import importlib
import sys
from typing import Any

import rich_click
from click import Command, Context, UsageError

from reports.cli.exits import BAD_INPUT, complain, guarded

PROGRAM = "steptally"

VERBS = {
    "run": "reports.cli.run:run",
    "sweep": "reports.cli.sweep:sweep",
    "choose": "reports.cli.choose:choose",
    "check": "reports.cli.check:check",
    "compare": "reports.cli.compare:compare",
    "trace": "reports.cli.trace:trace",
    "replay": "reports.cli.replay:replay",
    "ledger": "reports.cli.ledger:ledger",
    "list": "reports.cli.list:list_",
    "show": "reports.cli.show:show",
    "new": "reports.cli.new:new",
    "completion": "reports.cli.completion:completion",
}
"""Verb, and where its click command is: ``module:name``."""


class Verbs(rich_click.RichGroup):
    """Imports a verb's module only when that verb, or the list of verbs, is asked for."""

    def list_commands(self, ctx: Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: Context, cmd_name: str) -> Command | None:
        place = VERBS.get(cmd_name)
        if place is None:
            return None
        module, name = place.split(":")
        found: Command = getattr(importlib.import_module(module), name)
        return found

    def resolve_command(self, ctx: Context, args: list[str]) -> tuple[str | None, Command | None, list[str]]:
        """As click does, but with the nearest verb in the message (a lazy group knows none)."""
        if args and not args[0].startswith("-") and args[0] not in VERBS:
            near = difflib.get_close_matches(args[0], VERBS, n=1)
            hint = f"Did you mean {near[0]!r}?" if near else f"There are {', '.join(VERBS)}."
            raise UsageError(f"No such command {args[0]!r}. {hint}", ctx)
        return super().resolve_command(ctx, args)

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """As click's, with our name, and with our exit codes when it is to end the process."""
        kwargs["prog_name"] = PROGRAM
        if not kwargs.get("standalone_mode", True):
            return super().main(*args, **kwargs)
        kwargs["standalone_mode"] = False
        sys.exit(guarded(lambda: super(Verbs, self).main(*args, **kwargs)))


def _show_version(context: Context, parameter: Any, value: bool) -> None:
    if not value or context.resilient_parsing:
        return
    from importlib.metadata import version

    rich_click.echo(f"{PROGRAM} {version(PROGRAM)}")
    context.exit()


HELP_LOOK = {
    "style_options_panel_box": "SIMPLE_HEAD",
    "style_commands_panel_box": "SIMPLE_HEAD",
    "style_options_panel_border": "bold cyan",
    "style_commands_panel_border": "bold cyan",
}
"""Help without frames, in the colours of the reports."""


@rich_click.group(
    cls=Verbs,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "rich_help_config": HELP_LOOK},
)
@rich_click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_show_version,
    help="Show the version.",
)
@rich_click.pass_context
def steptally(context: Context) -> None:
    """How often does a hand-turned contact encoder, joined to a hardware up/down counter, count a
    step wrongly: miss it, double it, reverse it, or count one that nobody turned?

    Start with `steptally list`, then `steptally run` with a name from there.
    """
    if context.invoked_subcommand is None:
        complain(context.get_help())
        context.exit(BAD_INPUT)
