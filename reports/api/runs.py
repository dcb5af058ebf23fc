"""`run`: simulate a scenario, as ``steptally run`` does."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.api.errors import refusing
from reports.api.fragment import Part
from reports.api.given import Chosen, Given, Sets, taken, warn
from reports.api.options import parsed, switched
from reports.api.result import Estimate, Paged, Row, flat
from reports.api.run_parts import run_parts
from reports.api.working import Progress, finished, silent, working

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from reports.verbs.run import Settings
    from simcore.campaigns.course import Outcome


@dataclass(frozen=True, repr=False, eq=False)
class Run(Paged):
    """What became of the steps of all runs."""

    _chosen: Chosen
    _outcome: Outcome

    @property
    def runs(self) -> int:
        """Runs done."""
        return int(self.export["runs"])

    @property
    def steps(self) -> int:
        """Steps of all runs."""
        return int(self.export["steps"])

    @property
    def verdicts(self) -> Mapping[str, int]:
        """Steps by verdict: right, flickered, missed, doubled, reversed."""
        found: Mapping[str, int] = self.export["verdicts"]
        return found

    @property
    def verdict_rates(self) -> Mapping[str, Estimate]:
        """The share of all steps that each verdict has."""
        return {name: Estimate(**each) for name, each in self.export["verdict_rates"].items()}

    @property
    def wrong(self) -> int:
        """Wrong steps: missed, doubled or reversed."""
        return int(self.export["wrong"])

    @property
    def wrong_rate(self) -> Estimate:
        """The share of all steps that went wrong."""
        return Estimate(**self.export["wrong_rate"])

    @property
    def spurious_rate(self) -> Estimate:
        """Counts that no movement caused, per step."""
        return Estimate(**self.export["spurious_rate"])

    @property
    def causes(self) -> Mapping[str, int]:
        """Wrong steps by root cause, the commonest first."""
        found: Mapping[str, int] = self.export["causes"]
        return found

    @property
    def final_errors(self) -> Mapping[int, int]:
        """Runs by their final position minus the position expected (counts)."""
        return {int(error): runs for error, runs in self.export["final_errors"].items()}

    @property
    def exact_share(self) -> Estimate:
        """The share of runs that ended on the exact position."""
        return Estimate(**self.export["exact_share"])

    @property
    def target_met(self) -> bool | None:
        """Whether the scenario's target is shown to be met; None if it states none."""
        target = self.export["target"]
        return None if target is None else bool(target["met"])

    @property
    def command(self) -> str:
        """The command that gives the same numbers; it names ``scenario.toml`` where the scenario was given
        as a text or as tables.
        """
        return str(self.export["command"])

    def page(self) -> str:
        """The page that ``--html`` writes; single runs are looked at for it, which takes a moment."""
        from reports.checks_export import checks_of
        from reports.page.document import page
        from reports.verbs.run import with_gallery

        export = {**self.export, "checks": checks_of(self._chosen.loaded)}
        return page(with_gallery(export, self._outcome, self._chosen.named))

    def _read(self) -> Sequence[str]:
        return self._chosen.files

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        export = self.export
        counts = {**export["verdicts"], "wrong": export["wrong"], "spurious": export["spurious"]}
        rates = {
            **export["verdict_rates"], "wrong": export["wrong_rate"], "spurious": export["spurious_rate"],
        }  # fmt: skip
        sentences = export["cause_sentences"]
        return {
            "verdicts": [flat(rates[name], verdict=name, steps=counts[name]) for name in counts],
            "gestures": [flat(each) for each in export["by_gesture"]],
            "spacing": [flat(each) for each in export["by_spacing"]],
            "causes": [
                {"cause": cause, "steps": steps, "sentence": sentences[cause]}
                for cause, steps in export["causes"].items()
            ],
            "final_errors": [{"counts": each, "runs": runs} for each, runs in self.final_errors.items()],
            "margins": [flat(each) for each in (export["margins"] or {"quantities": []})["quantities"]],
            "checks": [check_row(each) for each in export["checks"]],
        }

    def _blocks(self, console: Console) -> Iterable[RenderableType]:
        from reports.terminal.page import blocks

        return blocks(self.export, console)

    def _parts(self) -> Sequence[Part]:
        return run_parts(self.export)

    def _line(self) -> str:
        from reports.terminal.prose import headline

        runs, seed = self.export["runs"], self.export["seed"]
        return f"{self.export['name']}: {headline(self.export)[:-1]}; {runs:,} runs, seed {seed}"


def check_row(check: Mapping[str, object]) -> Row:
    """A check as a plain row; the numbers put in are left out."""
    change = check["change"]
    suggested = None if not isinstance(change, Mapping) else ", ".join(change["sets"])
    row = {key: value for key, value in check.items() if key not in ("numbers", "change")}
    return {**row, "suggested": suggested}


def run(
    scenario: Given,
    *,
    sets: Sets = (),
    runs: int | None = None,
    seed: int | None = None,
    first_run: int = 0,
    errors: int | str | None = None,
    precision: str | None = None,
    time: str | None = None,
    ledger: str | os.PathLike[str] | None = None,
    engine: str = "batch",
    threads: int | None = None,
    margins: bool = True,
    progress: Progress = silent,
) -> Run:
    """Simulate a scenario and tally what became of its steps.

    Arguments are the options of ``steptally run`` and take the same values; what is None the scenario
    decides.  ``progress`` is called every now and then, in this thread, with runs done and runs asked for.
    Raises BadInput; on Ctrl-C, once the blocks of runs on their way are finished, Interrupted with the
    result of those.
    """
    from reports.verbs import run as verb

    with refusing():
        read = parsed(
            verb.run, runs=runs, seed=seed, first_run=first_run, errors=errors, precision=precision,
            time=time, ledger=ledger, engine=engine, threads=threads,
        )  # fmt: skip
        settings = _settings(read, switched("margins", margins))
        chosen = taken(scenario, sets)
        with working() as stopped:
            result = _simulated(chosen, settings, progress)
    return finished(result, stopped)


def _settings(read: Mapping[str, Any], margins: bool) -> Settings:
    from reports.stop_options import Rules
    from reports.verbs.run import Settings

    names = ("runs", "seed", "first_run", "engine", "threads", "ledger", "json", "html", "quiet")
    rules = Rules(read["errors"], read["precision"], read["time"])
    return Settings(**{name: read[name] for name in names}, rules=rules, margins=margins, colour=False)


def _simulated(chosen: Chosen, settings: Settings, progress: Progress) -> Run:
    from reports.exports import run_export
    from reports.ledger_use import announced, ledger_at, not_kept
    from reports.simulate import simulate
    from reports.verbs.run import request_of

    loaded = chosen.loaded
    stop = settings.rules.over(loaded.stop, loaded.runs if settings.runs is None else settings.runs)
    with ledger_at(settings.ledger) as kept:
        request = request_of(loaded, settings, stop, kept)
        announced(kept, loaded, request.seed, settings.margins)
        outcome = simulate(request, progress)
        warn(not_kept(kept))
    return Run(run_export(loaded, outcome, stop.runs, chosen.named, stop), chosen, outcome)
