"""`trace`: single runs told in order, as ``steptally trace`` does."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.api.errors import refusing
from reports.api.fragment import Part, drawn, grid_table, line, more, strong
from reports.api.given import Given, Sets, taken, warn_of_interpreted
from reports.api.options import parsed
from reports.api.result import Export, Result, Row, flat

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from reports.story import Story
    from simcore.tracing.tracing import TracedRun

Told = tuple["TracedRun", "Story | None"]


@dataclass(frozen=True, repr=False, eq=False)
class Trace(Result):
    """One run or several, each with the story of one of its steps."""

    _told: Sequence[Told]
    _overview: bool
    _files: tuple[str, ...]

    @property
    def places(self) -> tuple[tuple[int, int | None], ...]:
        """The runs told, each with the number of the step told, None where there is none."""
        return tuple((each["run"], each["step"]) for each in self.export["traces"])

    @property
    def errors(self) -> tuple[int, ...]:
        """Final position minus the position expected, of each run (counts)."""
        return tuple(each["error"] for each in self.export["traces"])

    @property
    def why(self) -> tuple[str, ...]:
        """The sentences that say why the steps told went wrong."""
        stories = [each["story"] for each in self.export["traces"] if each["story"] is not None]
        return tuple(said["text"] for story in stories for said in story["why"])

    def save_vcd(self, file: str | os.PathLike[str]) -> None:
        """Write the one run told as a value change dump.  Raises BadInput."""
        from reports.dumps import write_vcd

        self._save("--vcd", write_vcd, file)

    def save_csv(self, file: str | os.PathLike[str]) -> None:
        """Write every change of the one run told as a CSV table, which `replay` takes.  Raises BadInput."""
        from reports.trace_tables import write_edges_csv

        self._save("--csv", write_edges_csv, file)

    def save_csv_steps(self, file: str | os.PathLike[str]) -> None:
        """Write the steps of the one run told as a CSV table.  Raises BadInput."""
        from reports.trace_tables import write_steps_csv

        self._save("--csv-steps", write_steps_csv, file)

    def _save(
        self, option: str, write: Callable[[TracedRun, str], None], file: str | os.PathLike[str]
    ) -> None:
        from reports.output import require_places
        from reports.verbs.trace import require_one_run

        with refusing():
            require_one_run([option], len(self._told))
            require_places({option: os.fspath(file)}, self._files)
            write(self._told[0][0], os.fspath(file))

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        traces = list({trace["run"]: trace for trace in self.export["traces"]}.values())

        def rows(name: str) -> list[Row]:
            return [flat(each, run=trace["run"]) for trace in traces for each in trace[name]]

        return {
            "runs": [_run_row(trace) for trace in self.export["traces"]],
            "movements": rows("movements"),
            "steps": rows("steps"),
            "pulses": rows("pulses"),
            "changes": [row for trace in traces for row in _changes(trace)],
            "voltages": [row for trace in traces for row in _voltages(trace)],
        }

    def _blocks(self, console: Console) -> Iterable[RenderableType]:
        from reports.trace_view import blocks

        return blocks(self.export, self._told, console, self._overview)

    def _parts(self) -> Sequence[Part]:
        from reports.trace_view import searched_words

        searched = self.export["searched"]
        found = [strong(self.export["title"])]
        if searched is not None:
            found.append(line(searched_words(searched)))
        for trace, told in zip(self.export["traces"], self._told, strict=True):
            found += _run_parts(trace, told)
        return found

    def _line(self) -> str:
        told = [f"run {run}" + (f" step {step}" if step else "") for run, step in self.places]
        return f"{self.export['name']}: {', '.join(told) or 'nothing went wrong'}"


def _run_row(trace: Export) -> Row:
    start, end = trace["positions"]
    kept = {key: trace[key] for key in ("run", "seed", "searched_for", "step", "error")}
    return {**kept, "position_at_start": start, "position_at_end": end}


def _changes(trace: Export) -> Iterable[Row]:
    """Every change of every line at every place."""
    for name, wire in trace["lines"].items():
        for place in (wire["contact"], *wire["stages"]):
            for each in place["changes"]:
                yield flat(each, run=trace["run"], line=name, place=place["name"])


def _voltages(trace: Export) -> Iterable[Row]:
    """The voltage of each line at its events, with the thresholds in force."""
    for name, wire in trace["lines"].items():
        for each in (wire["node"] or {"events": []})["events"]:
            yield flat(each, run=trace["run"], line=name)


def _run_parts(trace: Export, told: Told) -> list[Part]:
    """One run: its step with the diagrams and why, then its tables."""
    from reports.story_tables import step_columns
    from reports.trace_view import diagrams, run_line, verdict_line

    traced, story = told
    cause = trace["searched_for"]
    found = [line(run_line(trace) if cause is None else f"Worst by {cause}. {run_line(trace)}")]
    found += [line(each["text"]) for each in trace["spurious"]]
    if story is not None:
        found.append(strong(verdict_line(trace["steps"][trace["step"] - 1])))
    found += [drawn(each) for each in diagrams(traced, story, _console())]
    if story is not None:
        found += [line(each["text"]) for each in trace["story"]["why"]]
        found.append(more("What happened, in order", *_story_parts(traced, trace["story"])))
    return [*found, more("Steps of this run", grid_table("Steps of this run", step_columns(trace)))]


def _console() -> Console:
    from reports.api.fragment import DRAWING_WIDTH
    from reports.output import layout

    return layout(DRAWING_WIDTH, "utf-8")


def _story_parts(traced: TracedRun, story: Export) -> list[Part]:
    """The story of a step as tables."""
    from reports import story_tables as tables
    from reports.trace_view import is_noisy

    shown = {
        "What the contacts did": tables.contact_columns(story["contacts"]),
        "What the voltages were, and what the inputs saw": tables.voltage_columns(
            story["voltages"], is_noisy(traced)
        ),
        "What every stage passed on": tables.passed_columns(story) if story["contacts"] else [],
        "What the counter did": tables.count_columns(story["counter"]),
    }
    found = [line(each["text"]) for each in story["hand"]]
    return found + [
        grid_table(words, columns) for words, columns in shown.items() if columns and columns[0].cells
    ]


def trace(
    scenario: Given,
    *,
    run: int | None = None,
    step: int | None = None,
    worst: bool | str | None = None,
    runs: int | None = None,
    seed: int | None = None,
    sets: Sets = (),
    progress: Callable[[int, int], None] | None = None,
) -> Trace:
    """Tell one run in order, or search for what is worth looking at.

    Arguments are the options of ``steptally trace``: ``run`` says which run, or ``worst`` searches, True
    for each root cause and a word for the one that it names.  ``progress`` is called with runs searched
    and runs to search.  Raises BadInput.
    """
    from reports.verbs import trace as verb

    with refusing():
        word = verb.ALL if worst is True else None if worst is False else worst
        read = parsed(verb.trace, number=run, step=step, worst=word, runs=runs, seed=seed)
        wanted = verb.wanted_cause(read["number"], read["step"], read["worst"], read["runs"])
        chosen = taken(scenario, sets)
        loaded = chosen.loaded
        asked = verb.asked_of(loaded, read["number"], read["step"], wanted, read["runs"], read["seed"])
        searched, places = verb.places_of(loaded, asked, progress)
        export, told = verb.told_export(loaded, asked, searched, places)
        warn_of_interpreted()
        return Trace(export, tuple(told), asked.overview, chosen.files)
