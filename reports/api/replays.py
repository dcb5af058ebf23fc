"""`replay`: a recording through a scenario's stages and counter, as ``steptally replay`` does."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from reports.api import options
from reports.api.inputs import ScenarioInput, Sets, load_input
from reports.api.working import warn_of_interpreted
from reports.errors import BadInput, refusing

if TYPE_CHECKING:
    from reports.results.replay import ReplayResult

CLOSED = ("low", "high")
Read = TypeVar("Read")


def replay(
    trace: str | os.PathLike[str],
    scenario: ScenarioInput,
    *,
    sets: Sets = (),
    closed: str = "low",
    settle: str = "1 ms",
    threshold: str | None = None,
    unit: str | None = None,
    columns: str | None = None,
    run: int | str | None = None,
    seed: int | str | None = None,
) -> ReplayResult:
    """Send a recording of both contacts, a CSV file or a value change dump, through a scenario's stages and
    counter.

    Arguments are those of ``steptally replay`` and take the same texts.  Raises BadInput.
    """
    from reports.results.replay import ReplayResult, ReplaySettings
    from scenarios.traces.reading import contact_edges, read_threshold, read_trace, read_unit
    from scenarios.traces.rows import TraceError
    from simcore.tracing.replay import nominal
    from simcore.tracing.replay import replay as replayed

    level = CLOSED.index(options.word("--closed", closed, CLOSED))
    unit_number, number = options.whole("--run", run), options.whole("--seed", seed)
    cut = None if threshold is None else _read("--threshold", threshold, read_threshold)
    time_unit = None if unit is None else _read("--unit", unit, read_unit)
    with refusing():
        chosen = load_input(scenario, sets)
    loaded = chosen.loaded
    settings = ReplaySettings(
        level, _settle(settle), cut, loaded.seed if number is None else number, unit_number
    )
    path = options.file("trace", trace) or ""
    try:
        recording = read_trace(path, columns=columns, unit=time_unit, threshold=cut)
    except TraceError as error:
        raise BadInput(*(str(problem) for problem in error.problems)) from None
    a, b = contact_edges(recording, settings.closed)
    design = nominal(loaded.design) if settings.run is None else loaded.design
    duration = recording.notes.duration
    done = replayed(design, a, b, settings.settle, duration, settings.seed, settings.run or 0)
    result = ReplayResult.of(loaded, recording, done, settings)
    result._read = (path, *chosen.files)
    warn_of_interpreted()
    return result


def _read(option: str, text: str, reader: Callable[[str], Read]) -> Read:
    from scenarios.quantities import QuantityError

    try:
        return reader(text)
    except QuantityError as error:
        raise BadInput(f"{option}: {error}") from None


def _settle(text: str) -> int:
    """The settling time in ticks."""
    from scenarios.quantities import TIME, read_quantity
    from simcore.base.ticks import FAR_SECONDS, ticks

    settle = _read("--settle", text, lambda each: read_quantity(each, TIME))
    if not 1.0e-12 <= settle <= FAR_SECONDS:
        options.refuse("--settle", text, "a settling time between 1 ps and 46 days")
    return ticks(settle)
