"""`compare`: designs on the same hands, contacts and parts, as ``steptally compare`` does."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.api.errors import refusing
from reports.api.fragment import Part, line, more, strong, table
from reports.api.given import Chosen, Given, Sets, set_words, taken
from reports.api.options import parsed
from reports.api.result import Estimate, Export, Paged, Row, flat
from reports.api.working import Progress, finished, silent, working

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from reports.verbs.compare import Settings
    from scenarios.loading.comparison import Compared, Group, Named


@dataclass(frozen=True, repr=False, eq=False)
class Comparison(Paged):
    """Designs held against the first of them, the reference."""

    _designs: tuple[Compared, ...]
    _files: tuple[str, ...]

    @property
    def headline(self) -> str:
        """Which is better, by how much, how sure."""
        return str(self.export["headline"])

    @property
    def designs(self) -> tuple[str, ...]:
        """Names of the designs, the reference first."""
        return tuple(each["name"] for each in self.export["designs"])

    @property
    def best(self) -> tuple[str, ...]:
        """The designs with the fewest wrong steps; none without a step."""
        return tuple(self.export["best"])

    @property
    def runs(self) -> int:
        """Runs done of each design."""
        return int(self.export["runs"])

    @property
    def wrong_rates(self) -> Mapping[str, Estimate]:
        """The share of all steps that went wrong, by design."""
        return {each["name"]: Estimate(**each["wrong_rate"]) for each in self.export["designs"]}

    @property
    def differences(self) -> Mapping[str, Estimate]:
        """The wrong rate of each other design minus that of the reference; below nought it is better."""
        return {each["design"]: Estimate(**each["difference"]) for each in self.export["comparisons"]}

    @property
    def verdicts(self) -> Mapping[str, str]:
        """Of each other design against the reference: better, worse, unsettled or same."""
        return {each["design"]: each["verdict"] for each in self.export["comparisons"]}

    @property
    def command(self) -> str:
        """The command that gives the same numbers.  It names ``design-2.toml`` for the second design where
        that is no name or file as it stands; its ``scenario`` in the export is what the file must say.
        """
        return str(self.export["command"])

    def page(self) -> str:
        """The page that ``--html`` writes; single steps are looked at for it, which takes a moment."""
        from reports.compare_gallery import gallery
        from reports.page.comparison import page

        return page({**self.export, "gallery": gallery(self._designs, self.export)})

    def _read(self) -> Sequence[str]:
        return self._files

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        comparisons = self.export["comparisons"]
        return {
            "designs": [_design_row(each) for each in self.export["designs"]],
            "differences": [
                {"path": row["path"], **dict(zip(self.designs, row["values"], strict=True))}
                for row in self.export["differences"]
            ],
            "verdicts": [
                flat(paired, design=each["design"], verdict=name)
                for each in comparisons
                for name, paired in each["by_verdict"].items()
            ],
            "gestures": [
                flat(paired, design=each["design"]) for each in comparisons for paired in each["by_gesture"]
            ],
            "runs": [flat(each["runs_table"], design=each["design"]) for each in comparisons],
            "partings": [
                flat(parting, design=each["design"]) for each in comparisons for parting in each["partings"]
            ],
        }

    def _blocks(self, console: Console) -> Iterable[RenderableType]:
        from reports.terminal.comparing import blocks

        return blocks(self.export, console)

    def _parts(self) -> Sequence[Part]:
        return list(_shown(self.export))

    def _line(self) -> str:
        return f"{', '.join(self.designs)}: {self.headline}"


def _design_row(design: Export) -> Row:
    left_out = ("signal_path", "scenario", "by_gesture", "causes", "verdict_rates")
    return flat({key: value for key, value in design.items() if key not in left_out})


def _shown(export: Export) -> Iterator[Part]:
    """What a notebook shows: the sentence, the rates, what differs; the rest on demand."""
    from reports.page import compare_tables as tables
    from reports.sentences import LASTING

    yield strong(export["title"])
    yield line(f"{export['met']}.")
    yield strong(export["headline"])
    if len(export["comparisons"]) > 1:
        yield from (line(each["sentence"]) for each in export["comparisons"])
    yield from (line(each) for each in export["cautions"] if each not in LASTING)
    if export["steps"]:
        yield table(tables.rate_table(export))
    if export["differences"]:
        yield table(tables.what_differs(export))
    for number, each in enumerate(export["comparisons"], start=2):
        if export["steps"]:
            yield more(f"{number} against 1", *_paired_parts(export, each, number))
    yield more("Mind", *(line(each) for each in LASTING))


def _paired_parts(export: Export, comparison: Export, number: int) -> Iterator[Part]:
    from reports.compare_words import runs_line
    from reports.page import compare_tables as tables

    yield table(tables.verdict_table(export, comparison, number))
    yield table(tables.gesture_table(comparison, number))
    yield table(tables.runs_table(comparison, number))
    yield line(runs_line(export, comparison))
    if comparison["partings"]:
        yield table(tables.parting_table(comparison, number))


def compare(
    *designs: Given,
    with_: Sequence[str | Mapping[str, object]] = (),
    sets: Sets = (),
    runs: int | None = None,
    seed: int | None = None,
    threads: int | None = None,
    progress: Progress = silent,
) -> Comparison:
    """Hold designs against the first of them, on the same hands, contacts and parts.

    Several scenarios are a design each; one is compared with its variants, or with what each entry of
    ``with_`` makes of it, as ``--with`` does: ``{"filter.capacitor": "220 nF"}`` or such a text.  The other
    arguments are those of `run`.  Raises BadInput, and Interrupted as `run` does.
    """
    from reports.verbs import compare as verb

    with refusing():
        read = parsed(verb.compare, runs=runs, seed=seed, threads=threads)
        settings = _settings(read)
        groups = tuple(each if isinstance(each, str) else set_words(each) for each in with_)
        common = set_words(sets)
        chosen = [taken(each, ()) for each in designs]
        found = _compared(chosen, groups, common)
        words = _words(chosen, groups, common)
        with working() as stopped:
            export = _simulated(found, settings, words, progress)
    files = tuple(file for each in chosen for file in each.files)
    return finished(Comparison(export, found, files), stopped)


def _settings(read: Mapping[str, Any]) -> Settings:
    from reports.verbs.compare import Settings

    names = ("runs", "seed", "threads", "json", "html", "quiet")
    return Settings(**{name: read[name] for name in names}, colour=False)


def _words_of(group: Group) -> str:
    """A group as the command line has it; a value that holds a comma stands in quotes."""
    from scenarios.loading.written import inline

    if isinstance(group, str):
        return group
    pieces = [each.partition("=") for each in group]
    return ", ".join(
        f"{path}={inline(value) if ',' in value and value[0] not in '[{' else value}"
        for path, _, value in pieces
    )


def _compared(
    chosen: Sequence[Chosen], groups: tuple[Group, ...], sets: tuple[str, ...]
) -> tuple[Compared, ...]:
    """The designs.  Raises ScenarioError, or UserError without any."""
    from reports.exits import UserError
    from scenarios.loading.comparison import compared_of

    if not chosen:
        raise UserError("compare: there is no design; allowed are scenarios")
    return compared_of([_named(each) for each in chosen], groups, sets)


def _words(chosen: Sequence[Chosen], groups: tuple[Group, ...], sets: tuple[str, ...]) -> list[str]:
    """The words of the command line that name the designs."""
    from reports.verbs.compare import design_words

    texts = [_words_of(each) for each in groups]
    if len(chosen) == 1:
        return design_words([chosen[0].named.scenario], texts, (*chosen[0].sets, *sets))
    files = [_file(number, each) for number, each in enumerate(chosen, start=1)]
    return design_words(files, texts, sets)


def _named(chosen: Chosen) -> Named:
    from scenarios.loading.comparison import Named

    called = f"{chosen.loaded.name} with {', '.join(chosen.sets)}" if chosen.sets else ""
    return Named(chosen.source, chosen.named.scenario, chosen.sets, called)


def _file(number: int, chosen: Chosen) -> str:
    """How the command names one of several designs."""
    from scenarios.loading.sources import Handed

    plain = not chosen.sets and not isinstance(chosen.source, Handed)
    return chosen.named.scenario if plain else f"design-{number}.toml"


def _simulated(
    designs: tuple[Compared, ...], settings: Settings, words: Sequence[str], progress: Progress
) -> Export:
    from reports.compare_export import compare_export
    from reports.simulate import simulate
    from reports.verbs.compare import request_of

    asked = designs[0].scenario.runs if settings.runs is None else settings.runs
    found = simulate(request_of(designs, settings, asked), progress)
    return compare_export(designs, found, asked, words)
