"""Scenarios of every form that callers give, and values that override their own."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple, Union

from reports.errors import BadInput, Notice

if TYPE_CHECKING:
    from reports.api.loading import LoadedScenario
    from reports.words.commands import NamedScenario
    from scenarios.loading import load
    from scenarios.loading.sources import Source

ScenarioInput = Union[str, "os.PathLike[str]", Mapping[str, Any], "LoadedScenario"]
"""A ready name or a file as the command line takes it; a path, which is always a file; a TOML text,
recognised by its line breaks; nested dictionaries, as TOML would give them; or what `scenario` returned."""
Sets = str | Mapping[str, object] | Iterable[str]
"""Values that override those of a scenario: ``{"filter.capacitor": "47 nF"}``, one text
"filter.capacitor=47 nF", or several."""
SAVED = "scenario.toml"
"""The file that commands name for a scenario that was not read from one."""


class LoadedInput(NamedTuple):
    """A loaded scenario, what it was read from, and the values that override its own."""

    loaded: load.Scenario
    source: Source
    sets: tuple[str, ...]

    @property
    def named(self) -> NamedScenario:
        from reports.words.commands import NamedScenario

        return NamedScenario(self.loaded.source, self.sets)

    @property
    def files(self) -> tuple[str, ...]:
        """The file that it was read from, if there is one; no result may overwrite it."""
        from scenarios.loading.sources import ProgramSource

        return () if isinstance(self.source, ProgramSource) else files_read(self.loaded.source)


def load_input(given: ScenarioInput, sets: Sets) -> LoadedInput:
    """Load a scenario.  Raises ScenarioError, or BadInput for what is no scenario at all."""
    from dataclasses import replace

    from reports.api.loading import LoadedScenario
    from scenarios.loading.load import load_source
    from scenarios.loading.sources import ProgramSource

    source, words = source_of(given, sets)
    if isinstance(given, LoadedScenario) and words == given._chosen.sets:
        return given._chosen
    try:
        loaded = load_source(source, words)
    finally:
        warn_of_plugins()
    if isinstance(source, ProgramSource):
        loaded = replace(loaded, source=SAVED)
    return LoadedInput(loaded, source, words)


def source_of(given: ScenarioInput, sets: Sets = ()) -> tuple[Source, tuple[str, ...]]:
    """What a scenario is read from, and the values that override its own.  Raises as `load_input` does."""
    from reports.api.loading import LoadedScenario

    words = set_words(sets)
    if isinstance(given, LoadedScenario):
        return given._chosen.source, (*given._chosen.sets, *words)
    return _source(given), words


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
    from scenarios.loading.messages import shown

    raise BadInput(
        "scenario: expected a name, a path, a TOML text, nested dictionaries or what api.scenario returned, "
        f"got {shown(given)}"
    )


def set_words(sets: Sets) -> tuple[str, ...]:
    from scenarios.loading.sources import setting

    if isinstance(sets, str):
        return (sets,)
    if isinstance(sets, Mapping):
        return tuple(setting(path, value) for path, value in sets.items())
    return tuple(str(each) for each in sets)


def files_read(name_or_file: str) -> tuple[str, ...]:
    """The file behind a scenario, which no result may overwrite; none behind a ready one."""
    from scenarios.loading.catalogue import ready_names

    return () if name_or_file in ready_names() else (name_or_file,)


def warn_of_plugins() -> None:
    """A warning for each plug-in that had to be left out, if any was looked for."""
    plugins = sys.modules.get("scenarios.plugins")
    if plugins is not None:
        for each in plugins.complaints():
            warnings.warn(each, Notice, stacklevel=3)
