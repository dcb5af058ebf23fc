"""What callers give: scenarios of every form, and values to lay over them."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple, Union

if TYPE_CHECKING:
    from reports.api.loading import Scenario
    from reports.exact_command import Asked
    from scenarios.loading import load
    from scenarios.loading.sources import Source

Given = Union[str, "os.PathLike[str]", Mapping[str, Any], "Scenario"]
"""A ready name or a file as the command line takes it; a path, which is always a file; a TOML text, which
is known by its line breaks; nested dictionaries, as TOML would give them; or what `scenario` gave."""
Sets = str | Mapping[str, object] | Iterable[str]
"""Values laid over a scenario: ``{"filter.capacitor": "47 nF"}``, ``["filter.capacitor=47 nF"]``, or one
such text."""
SAVED = "scenario.toml"
"""The file that commands name for a scenario that was none."""


class Chosen(NamedTuple):
    """A loaded scenario, what it was read from, and the values laid over it."""

    loaded: load.Scenario
    source: Source
    sets: tuple[str, ...]

    @property
    def named(self) -> Asked:
        """How commands name it."""
        from reports.exact_command import Asked

        return Asked(self.loaded.source, self.sets)

    @property
    def files(self) -> tuple[str, ...]:
        """The file that it was read from, if there is one; no result may overwrite it."""
        from reports.names import files_read
        from scenarios.loading.sources import Handed

        return () if isinstance(self.source, Handed) else files_read(self.loaded.source)


def taken(given: Given, sets: Sets) -> Chosen:
    """Load a scenario.  Raises ScenarioError, or UserError for what is no scenario at all."""
    from dataclasses import replace

    from reports.api.loading import Scenario
    from scenarios.loading.load import load_source
    from scenarios.loading.sources import Handed

    words = set_words(sets)
    if isinstance(given, Scenario):
        if not words:
            return given._chosen
        source, words = given._chosen.source, (*given._chosen.sets, *words)
    else:
        source = _source(given)
    try:
        loaded = load_source(source, words)
    finally:
        warn_of_plugins()
    if isinstance(source, Handed):
        loaded = replace(loaded, source=SAVED)
    return Chosen(loaded, source, words)


def _source(given: object) -> Source:
    from scenarios.loading.catalogue import ready_names
    from scenarios.loading.sources import find_source, tables_source, text_source

    if isinstance(given, str):
        return text_source(given) if "\n" in given else find_source(given)
    if isinstance(given, os.PathLike):
        path = os.fspath(given)
        return find_source(os.path.join(os.curdir, path) if path in ready_names() else path)
    if isinstance(given, Mapping):
        return tables_source(given)
    from reports.exits import UserError
    from scenarios.loading.messages import shown

    raise UserError(
        f"scenario: read {shown(given)}; allowed is a name, a path, a TOML text, nested dictionaries, "
        "or what api.scenario gave"
    )


def set_words(sets: Sets) -> tuple[str, ...]:
    """Each setting as the command line has it."""
    from scenarios.loading.sources import setting

    if isinstance(sets, str):
        return (sets,)
    if isinstance(sets, Mapping):
        return tuple(setting(path, value) for path, value in sets.items())
    return tuple(str(each) for each in sets)


def warn_of_plugins() -> None:
    """A warning for each plug-in that had to be left out, if any was looked for."""
    plugins = sys.modules.get("scenarios.plugins")
    if plugins is not None:
        warn(plugins.complaints())


def warn_of_interpreted() -> None:
    """A warning for each module whose rules could not be compiled."""
    from reports.compiled import interpreted_lines

    warn(interpreted_lines())


def warn(lines: Iterable[str]) -> None:
    """What the command line would say on standard error beside a result, as warnings."""
    for each in lines:
        warnings.warn(each, RuntimeWarning, stacklevel=3)
