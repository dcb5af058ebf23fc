"""`run`: simulate a scenario, as ``steptally run`` does."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.api.errors import Interrupted, refusing
from reports.api.fragment import Part
from reports.api.given import Chosen, Given, Sets, choose, warn
from reports.api.options import parsed, switched
from reports.api.result import Estimate, Paged, Row, flat
from reports.api.run_parts import run_parts

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from reports.simulate import Show
    from reports.verbs.run import Settings
    from simcore.course import Outcome
    from simcore.stopping import Stop

ONE_AT_A_TIME = threading.Lock()
"""A campaign uses all cores and compiles at its first block; a second one waits."""


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
        from reports.page.document import page
        from reports.verbs.run import with_gallery

        return page(with_gallery(self.export, self._outcome, self._chosen.named))

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
    engine: str = "batch",
    threads: int | None = None,
    margins: bool = True,
    errors: int | None = None,
    precision: str | None = None,
    time: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Run:
    """Simulate a scenario and tally what became of its steps.

    Arguments are the options of ``steptally run`` and take the same values; what is None the scenario
    decides.  ``progress`` is called every now and then, in this thread, with runs done and runs asked for.
    Raises BadInput; on Ctrl-C, once the blocks of runs on their way are finished, Interrupted with the
    result of those.
    """
    from reports.verbs.run import run as verb

    with refusing():
        read = parsed(
            verb, runs=runs, seed=seed, first_run=first_run, engine=engine, threads=threads,
            errors=errors, precision=precision, time=time,
        )  # fmt: skip
        settings = _settings(read, switched("margins", margins))
        chosen = choose(scenario, sets)
        loaded = chosen.loaded
        stop = settings.rules.over(loaded.stop, loaded.runs if settings.runs is None else settings.runs)
        outcome, stopped = _simulated(chosen, settings, stop, progress)
        result = Run(_export(chosen, outcome, stop), chosen, outcome)
    if stopped:
        raise Interrupted(result)
    return result


def _settings(read: Mapping[str, object], margins: bool) -> Settings:
    from reports.stop_options import Rules
    from reports.verbs.run import Settings

    names = ("runs", "seed", "first_run", "engine", "threads", "ledger", "json", "html", "quiet")
    values = {name: read[name] for name in names}
    rules = Rules(read["errors"], read["precision"], read["time"])  # type: ignore[arg-type]
    return Settings(**values, rules=rules, margins=margins, colour=False)  # type: ignore[arg-type]


def _simulated(chosen: Chosen, settings: Settings, stop: Stop, progress: Show | None) -> tuple[Outcome, bool]:
    """The outcome, and whether the user stopped it."""
    from reports import interrupts
    from reports.progress import silent
    from reports.sentences import INTERPRETED
    from reports.simulate import simulate
    from reports.verbs.run import request_of
    from simcore.compiling import interpreted

    request = request_of(chosen.loaded, settings, stop)
    with ONE_AT_A_TIME, interrupts.at_stake():
        outcome = simulate(request, progress or silent)
        stopped = interrupts.wished()
    warn(INTERPRETED.format(module=module, why=why) for module, why in interpreted().items())
    return outcome, stopped


def _export(chosen: Chosen, outcome: Outcome, stop: Stop) -> dict[str, object]:
    from reports.exports import run_export

    return run_export(chosen.loaded, outcome, stop.runs, chosen.named, stop)
