"""Arguments of functions as options of a verb: read, checked and refused by its own command line."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from click import Command, Parameter

PLACE = "scenario"
"""Stands for the argument SCENARIO, which may be no text here and is looked at elsewhere."""


def parsed(command: Command, *arguments: str, **given: object) -> dict[str, Any]:
    """Every parameter of a verb by its name, as the verb's command line reads it.

    ``given`` are options by the names of their parameters, a tuple of values for one that may be given
    often; what is None is left out, so that the verb's default holds.  Raises click's errors, for
    `reports.api.errors.refusing`.
    """
    known = {parameter.name: parameter for parameter in command.params}
    words = [word for name, value in given.items() for word in _words(known[name], value)]
    context = command.make_context(command.name, [*words, "--", *arguments, PLACE])
    return dict(context.params)


def _words(parameter: Parameter, value: object) -> list[str]:
    """An option as words of the command line, one for each value of one that may be given often."""
    option = max(parameter.opts, key=len)
    if value is None:
        return []
    if parameter.name == "ledger":
        value = _file(parameter.name, value)
    if isinstance(value, tuple):
        return [f"{option}={each}" for each in value]
    if getattr(parameter, "is_flag", False):
        return [option] if switched(parameter.name or "", value) else []
    return [f"{option}={value}"]


def _file(name: str, value: object) -> str:
    """The name of a file; raises UserError for a number and the like, which would become a file's name."""
    from reports.exits import UserError
    from scenarios.loading.messages import shown

    if not isinstance(value, str | os.PathLike):
        raise UserError(f"{name}: read {shown(value)}; allowed is a text or a path")
    return os.fsdecode(value)


def switched(name: str, value: object) -> bool:
    """What is to be True or False; raises UserError for anything else, which Python would take for one."""
    from reports.exits import UserError
    from scenarios.loading.messages import shown

    if not isinstance(value, bool):
        raise UserError(f"{name}: read {shown(value)}; allowed is True or False")
    return value
