"""The result of ``steptally sweep``, and what that of ``choose`` shares with it."""

from __future__ import annotations

import copy
import math
import shlex
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal

from pydantic import Field

from reports.results.building import group_tally, versions
from reports.results.common import (
    ASSUMPTIONS,
    CAUSES,
    CAUTIONS,
    EXACT_RUNS,
    NAME,
    SECONDS,
    SIGNAL_PATH,
    SPURIOUS,
    TITLE,
    WRONG,
    WRONG_RATE,
    Amount,
    Count,
    Decision,
    Flag,
    Frozen,
    GestureTally,
    Number,
    Positive,
    Rate,
    Record,
    ResolvedScenario,
    Result,
    RootCause,
    Row,
    Share,
    SignalBox,
    TargetRate,
    Texts,
    VerdictCounts,
    Versions,
    flat,
)
from reports.words.commands import set_words
from reports.words.numbers import counted
from reports.words.sentences import ASSUMPTIONS as MODEL_ASSUMPTIONS
from reports.words.sentences import LASTING
from reports.words.signal_path import signal_path
from reports.words.summary import design_words
from simcore.campaigns.choosing import (
    SLACK,
    Border,
    Standing,
    Window,
    against_lowest,
    lowest,
    standing,
    window,
)
from simcore.statistics.exact import LEVEL, Interval
from simcore.statistics.stopping import FEWEST_ERRORS

if TYPE_CHECKING:
    from reports.api.sweeps import FinishedCell, SweepOutcome, SweepRequest
    from reports.documents.document import Document
    from scenarios.loading.load import Scenario
    from scenarios.loading.ranges import Axis
    from simcore.statistics.stopping import Stop

CELL_CAUTIONS = "Limitations of this cell that do not hold for the scenario as it stands."
CELL_COMMAND = "The command that gives this cell's numbers alone, for a POSIX shell."
MEETS: Mapping[Standing, Decision] = {
    Standing.WITHIN: "yes",
    Standing.OUTSIDE: "no",
    Standing.OPEN: "undecided",
}
FEW = 6
"""Words that are listed one by one."""
RARE = "if some of the wrong steps cluster in runs so rare that few or none were simulated"
"""Where no interval computed from what was seen can keep its confidence level."""
ASSUMPTIONS_OF_SWEEPS = (
    "All cells share one seed: they meet the same hands, the same bounce and the same draws of their parts, "
    "so differences between cells are more certain than their intervals tell.",
    "The rate of a cell that ended early is biased a little towards the side on which it ended; whether it "
    "meets the target is judged by intervals that allow for that.",
)


class VariedKey(Record):
    """One key that is varied, with its values."""

    path: str = Field(description="The key, as --set takes it.")
    given: str = Field(description="The values as --vary gave them.")
    values: Texts = Field(min_length=1, description="All values, as --set takes them.")
    numbers: tuple[Number, ...] | None = Field(
        description="The values as numbers in unit, rising; null where they are words. A share is a fraction."
    )
    unit: str = Field(description='The unit of numbers; "" where there is none.')

    @property
    def words(self) -> str:
        return values_in_words(self.values, numeric=self.numbers is not None)


class CellEnding(Record):
    """What ends a cell before all its runs are done."""

    target: Flag = Field(description="Whether a cell ends once the target is decided.")
    each_gesture: Flag = Field(description="Whether it must be decided for each gesture as well.")
    precision: Amount | None = Field(
        description="A cell ends once the interval is within this share of the rate, on either side; null "
        "where that rule is not used."
    )


class CellGesture(GestureTally):
    """The steps of one gesture in a cell."""

    meets_target: Decision | None = Field(
        description="Whether the gesture's wrong rate is shown to meet the target (yes), shown to miss it "
        "(no), or neither; null without a target."
    )
    causes: Frozen[str, Positive] = Field(description=CAUSES)

    @property
    def steps_meet(self) -> Decision | None:
        return self.meets_target


class CellTally(Record):
    """What the runs of one cell came to; a cell is one combination of the values varied."""

    number: Count = Field(
        description="Its place among all cells, from 0; the last key varied is counted through first."
    )
    values: Frozen[str, str] = Field(description="The value of each key varied, as --set takes it.")
    runs: Positive = Field(description="Runs that were finished, numbered from 0 on.")
    steps: Count = Field(description="Steps of these runs.")
    verdicts: VerdictCounts = Field(description="These steps by verdict.")
    wrong: Count = Field(description=WRONG)
    wrong_rate: Rate = Field(description=WRONG_RATE)
    meets_target: Decision | None = Field(
        description="Whether the wrong rate is shown to meet the target (yes), shown to miss it (no), or "
        "neither; null without a target."
    )
    spurious: Count = Field(description=SPURIOUS)
    exact_runs: Count = Field(description=EXACT_RUNS)
    causes: Frozen[str, Positive] = Field(description=CAUSES)
    by_gesture: tuple[CellGesture, ...] = Field(description="The hand's gestures in the scenario's order.")
    ended_by: Literal[
        "all runs done",
        "precise enough",
        "shown to meet the target",
        "shown to miss the target",
        "interrupted",
    ] = Field(description="What ended the cell.")

    @property
    def steps_meet(self) -> Decision | None:
        return self.meets_target

    def group(self, gesture: int | None) -> CellTally | CellGesture:
        """All its steps (None), or those of one gesture."""
        return self if gesture is None else self.by_gesture[gesture]

    def row(self, *without: str, **first: object) -> Row:
        """The cell as a plain row, after ``first`` its values; nested tables and keys ``without`` are left
        out.
        """
        nested = ("values", "by_gesture", "causes", "cautions")
        return {**first, **self.values, **flat(self, without=(*nested, *without))}


class SweepCell(CellTally):
    """A finished cell of a sweep."""

    cautions: Texts = Field(description=CELL_CAUTIONS)
    command: str = Field(description=CELL_COMMAND)

    @classmethod
    def of(cls, finished: FinishedCell) -> SweepCell:
        outcome, tally = finished.outcome, finished.outcome.tally

        def steps(group: int) -> dict[str, Any]:
            cluster, goal = tally.cluster("wrong", group), finished.goal
            meets = None if goal is None else MEETS[standing(cluster, goal, finished.level)]
            return {**group_tally(outcome, group), "meets_target": meets}

        ended_by: Any = outcome.ended_by
        return cls(
            number=finished.number,
            values=finished.values,
            runs=tally.runs,
            **steps(0),
            spurious=tally.spurious,
            exact_runs=tally.exact_runs,
            causes=tally.causes,
            by_gesture=tuple(
                CellGesture(
                    name=entry.name,
                    kind=entry.kind,
                    **steps(tally.gesture_group(number)),
                    causes=tally.gesture_causes(number),
                )
                for number, entry in enumerate(outcome.design.hand)
            ),
            ended_by=ended_by,
            cautions=finished.cautions,
            command=finished.command,
        )


class RangeEnd(Record):
    """What limits an acceptable range at one end."""

    outside: str | None = Field(description="The first value outside; null where no value tried is outside.")
    open: Texts = Field(description="The values between it and the range, from the range on: undecided ones.")
    cause: RootCause | None = Field(
        description="The limiting cause: the root cause of most wrong steps at the first value outside."
    )
    of_wrong: Share | None = Field(description="Its share of the wrong steps there, as a fraction.")


class LowestRate(Record):
    """Where the upper end of the interval of the wrong rate is lowest."""

    value: str = Field(description="The value.")
    wrong_rate: Rate = Field(description="Wrong steps over steps there.")
    cause: RootCause | None = Field(
        description="The root cause of most wrong steps there; null if none went wrong."
    )


class AcceptableRange(Record):
    """The values of the key that meet the target, or that are as good as the best one."""

    gesture: str | None = Field(description="The gesture whose steps it is for; null for all steps.")
    rate: Amount | None = Field(
        description="The rate of wrong steps that values are compared with, as a fraction; null without data."
    )
    standings: tuple[Literal["within", "outside", "open"], ...] = Field(
        description="How each value of the key compares with that rate; open is undecided, also where its "
        "cell was not finished."
    )
    ends: tuple[Count, Count] | None = Field(
        description="Places of its first and last value, from 0; null where no value is within."
    )
    first: str | None = Field(
        validation_alias="from",
        serialization_alias="from",
        description="Its first value; null where no value is within.",
    )
    last: str | None = Field(
        validation_alias="to",
        serialization_alias="to",
        description="Its last value; null where no value is within.",
    )
    below: RangeEnd | None = Field(description="What lies below it; null where no value is within.")
    above: RangeEnd | None = Field(description="What lies above it; null where no value is within.")
    gaps: Texts = Field(description="Values inside the range that are undecided.")
    elsewhere: Texts = Field(description="Values within that lie beyond one outside.")
    lowest: LowestRate | None = Field(
        description="Where the upper end of the interval of the wrong rate is lowest; null without data."
    )

    @property
    def undecided(self) -> Texts:
        """Values inside it, or between it and the first ones outside, that are undecided."""
        ends = [end.open for end in (self.below, self.above) if end is not None]
        return (*self.gaps, *(value for end in ends for value in end))


def acceptable_ranges(
    axes: Sequence[Axis], cells: Sequence[CellTally], goal: float | None
) -> tuple[AcceptableRange, ...]:
    """The range for all steps and, of a hand of several gestures, one for each; none unless a single key is
    varied and takes numbers.
    """
    if len(axes) != 1 or axes[0].numbers is None or not cells:
        return ()
    gestures = range(len(cells[0].by_gesture))
    every: list[int | None] = [None, *(gestures if len(gestures) > 1 else ())]
    return tuple(_acceptable(axes[0], cells, goal, each) for each in every)


def _acceptable(
    axis: Axis, cells: Sequence[CellTally], goal: float | None, gesture: int | None
) -> AcceptableRange:
    """One range; a value whose cell was not finished is undecided."""
    groups = {cell.number: cell.group(gesture) for cell in cells}
    numbers = sorted(groups)
    intervals = [_interval(groups[number].wrong_rate) for number in numbers]
    if goal is None:
        standings, rate = against_lowest(intervals)
    else:
        stands = {decision: each for each, decision in MEETS.items()}
        standings, rate = [stands[groups[number].steps_meet or "undecided"] for number in numbers], goal
    known = dict(zip(numbers, standings, strict=True))
    every = [known.get(number, Standing.OPEN) for number in range(len(axis.values))]
    best = lowest(intervals)
    return AcceptableRange(
        gesture=None if gesture is None else cells[0].by_gesture[gesture].name,
        rate=rate if math.isfinite(rate) else None,
        standings=tuple(each.value for each in every),
        **_range_fields(axis, window(every), groups),
        lowest=None if best is None else _lowest(axis, numbers[best], groups),
    )


def _interval(rate: Rate) -> Interval:
    low, estimate, high = (
        math.nan if value is None else value for value in (rate.low, rate.estimate, rate.high)
    )
    return Interval(low, estimate, high, rate.level, rate.method)


def _range_fields(
    axis: Axis, found: Window | None, groups: Mapping[int, CellTally | CellGesture]
) -> dict[str, Any]:
    """Its ends as values, and what limits it there."""
    if found is None:
        none = dict.fromkeys(("ends", "first", "last", "below", "above"))
        return {**none, "gaps": (), "elsewhere": ()}
    values = axis.values
    return {
        "ends": (found.first, found.last),
        "first": values[found.first],
        "last": values[found.last],
        "below": _end(axis, found.below, groups),
        "above": _end(axis, found.above, groups),
        "gaps": tuple(values[i] for i in found.gaps),
        "elsewhere": tuple(values[i] for i in found.elsewhere),
    }


def _end(axis: Axis, border: Border, groups: Mapping[int, CellTally | CellGesture]) -> RangeEnd:
    undecided = tuple(axis.values[i] for i in border.open)
    if border.outside is None:
        return RangeEnd(outside=None, open=undecided, cause=None, of_wrong=None)
    group = groups[border.outside]
    causes: list[tuple[Any, int]] = [*group.causes.items()]
    cause, steps = causes[0] if causes else (None, 0)
    return RangeEnd(
        outside=axis.values[border.outside],
        open=undecided,
        cause=cause,
        of_wrong=None if cause is None else steps / group.wrong,
    )


def _lowest(axis: Axis, number: int, groups: Mapping[int, CellTally | CellGesture]) -> LowestRate:
    group = groups[number]
    cause: Any = next(iter(group.causes), None)
    return LowestRate(value=axis.values[number], wrong_rate=group.wrong_rate, cause=cause)


class CellsResult(Result):
    """What `SweepResult` and `ChoiceResult` share: the cells of one scenario, and what follows from them."""

    name: str = Field(description=NAME)
    title: str = Field(description=TITLE)
    simulated: str = Field(
        description="What was simulated, in one sentence, with the ranges of what was varied."
    )
    command: str = Field(
        description="The command that gives the same result, for a POSIX shell, with runs and seed written "
        "out."
    )
    signal_path: tuple[SignalBox, ...] = Field(
        description=f"{SIGNAL_PATH} With the ranges of what was varied."
    )
    scenario: ResolvedScenario = Field(
        description="The scenario as it stands, before values are varied, with every value filled in, each "
        "quantity as text with its unit."
    )
    seed: Count = Field(description="Seed of all draws, the same for every cell.")
    runs_asked: Positive = Field(description="Most runs of a cell.")
    cells_asked: Positive = Field(description="Cells that were requested.")
    complete: Flag = Field(description="Whether all cells were finished; false if the user interrupted.")
    axes: tuple[VariedKey, ...] = Field(
        min_length=1, description="What is varied, in the order of the command line."
    )
    target: TargetRate | None = Field(description="What cells are compared with; null for nothing.")
    ending: CellEnding = Field(description="What ends a cell before all its runs are done.")
    rule: str = Field(description="When a cell ends, in words.")
    cells: tuple[CellTally, ...] = Field(description="The finished cells, in order.")
    window: tuple[AcceptableRange, ...] = Field(
        description="The acceptable range of the key, for all steps and then for each gesture of a hand of "
        "several; empty unless one key is varied that takes numbers."
    )
    window_rule: str = Field(description="What acceptable ranges are compared with, in words.")
    seconds: Amount = Field(description=SECONDS)
    assumptions: Texts = Field(min_length=1, description=ASSUMPTIONS)
    cautions: Texts = Field(min_length=1, description=CAUTIONS)
    versions: Versions = Field(description="What the result was made with.")

    @property
    def kept(self) -> int | None:
        """Runs that were taken from a ledger; None if none was used."""
        return self._kept

    @property
    def runs(self) -> int:
        """All runs that are reported."""
        return sum(cell.runs for cell in self.cells)

    @property
    def paths(self) -> tuple[str, ...]:
        """What is varied."""
        return tuple(each.path for each in self.axes)

    @property
    def meeting(self) -> tuple[Mapping[str, str], ...]:
        """The values of the cells that are shown to meet the target, path by path."""
        return tuple(cell.values for cell in self.cells if cell.meets_target == "yes")

    @property
    def lowest(self) -> Mapping[str, str] | None:
        """The values of the cell whose wrong rate has the lowest upper end of its interval."""
        cell = self.lowest_cell
        return None if cell is None else cell.values

    @property
    def lowest_cell(self) -> CellTally | None:
        """The cell whose wrong rate has the lowest upper end of its interval."""
        known = [(cell.wrong_rate.high, cell) for cell in self.cells if cell.wrong_rate.high is not None]
        return min(known, key=lambda each: each[0])[1] if known else None

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        return {
            "cells": [cell.row() for cell in self.cells],
            "gestures": [{**cell.values, **flat(each)} for cell in self.cells for each in cell.by_gesture],
            "causes": [
                {**cell.values, "cause": cause, "steps": steps}
                for cell in self.cells
                for cause, steps in cell.causes.items()
            ],
            "windows": [flat(each) for each in self.window],
        }


def cells_fields(
    request: SweepRequest, cells: Sequence[CellTally], swept: SweepOutcome[Any], command: str
) -> dict[str, Any]:
    """The fields that the results of sweep and choose share."""
    scenario, axes = request.sweep.scenario, request.sweep.axes
    target, stop = request.target, request.options.stop
    ranged = with_ranges(scenario, axes)
    interim = stop.target is not None
    # Cells that do all their runs decide gestures as well as those that go on for them.
    each = stop.target.each if stop.target is not None else stop.precision is None
    return {
        "name": scenario.name,
        "title": scenario.title,
        "simulated": f"{design_words(ranged)}.",
        "command": command,
        "signal_path": signal_path(ranged),
        "scenario": scenario.resolved,
        "seed": request.options.seed,
        "runs_asked": stop.runs,
        "cells_asked": request.sweep.count,
        "complete": swept.complete,
        "axes": tuple(
            VariedKey(path=a.path, given=a.given, values=a.values, numbers=a.numbers, unit=a.unit)
            for a in axes
        ),
        "target": None if target is None else TargetRate(rate=target.rate, text=target.text),
        "ending": CellEnding(
            target=interim,
            each_gesture=stop.target is not None and stop.target.each,
            precision=stop.precision,
        ),
        "rule": ending_rule(stop, None if target is None else target.text),
        "cells": tuple(cells),
        "window": acceptable_ranges(axes, cells, None if target is None else target.rate),
        "window_rule": range_rule(None if target is None else target.text, each=each, interim=interim),
        "seconds": swept.seconds,
        "assumptions": (*MODEL_ASSUMPTIONS, *ASSUMPTIONS_OF_SWEEPS),
        "cautions": (*stop_cautions(scenario.stop), *scenario.cautions, *LASTING),
        "versions": versions(),
    }


class SweepResult(CellsResult):
    """What a scenario counts at every combination of the values varied; each of them is a cell."""

    cells: tuple[SweepCell, ...] = Field(description="The finished cells, in order.")

    @classmethod
    def of(cls, request: SweepRequest, swept: SweepOutcome[SweepCell]) -> SweepResult:
        return cls(**cells_fields(request, swept.cells, swept, sweep_command(request)))

    def document(self) -> Document:
        from reports.documents.sweep import document

        return document(self)


def sweep_command(request: SweepRequest) -> str:
    from scenarios.schema.document import PRECISION

    stop, words = request.options.stop, common_words("sweep", request)
    if stop.precision is not None:
        words += ["--precision", PRECISION.write(stop.precision)]
    elif stop.target is None:
        words.append("--all-runs")
    elif stop.target.each:
        words.append("--each-gesture")
    return shlex.join(words + set_words(request.named))


def common_words(verb: str, request: SweepRequest) -> list[str]:
    """The words of a command that sweep and choose share."""
    words = ["steptally", verb, request.named.scenario]
    words += [word for each in request.varied for word in ("--vary", each)]
    words += ["--runs", str(request.options.stop.runs), "--seed", str(request.options.seed)]
    return [*words, *(() if request.target_option is None else ("--target", request.target_option))]


def values_in_words(values: Sequence[str], *, numeric: bool) -> str:
    if numeric and len(values) > 1:
        return f"{values[0]} to {values[-1]}"
    if len(values) > FEW:
        return f"{', '.join(values[: FEW - 1])} and {len(values) - FEW + 1} others"
    return ", ".join(values)


def with_ranges(scenario: Scenario, axes: Sequence[Axis]) -> Scenario:
    """The scenario with the ranges of its varied values in place of the values."""
    resolved = copy.deepcopy(scenario.resolved)
    for axis in axes:
        table, key = _table_of(resolved, axis.path)
        text = values_in_words(axis.values, numeric=axis.numbers is not None)
        if key in ("part", "kind") and any(table is stage for stage in resolved.get("stage", [])):
            # The values of one kind or part are not those of the others: only what they share is kept.
            kept = {each: value for each, value in table.items() if each in ("name", "lines")}
            table.clear()
            table.update({**kept, "kind": text})
        elif key in table:
            table[key] = text
    return replace(scenario, resolved=resolved)


def _table_of(resolved: dict[str, Any], path: str) -> tuple[dict[str, Any], str]:
    """The table that a path leads into, and the key in it; an empty one where there is no such table."""
    first, *words = path.split(".")
    named = {stage["name"]: stage for stage in resolved.get("stage", [])}
    if first == "hand":
        named = {gesture["name"]: gesture for gesture in resolved["hand"]}
        first, *words = words
    table: Any = named.get(first, resolved.get(first))
    for word in words[:-1]:
        table = table.get(word) if isinstance(table, dict) else None
    return (table, words[-1]) if isinstance(table, dict) and words else ({}, "")


def ending_rule(stop: Stop, target: str | None) -> str:
    most = counted(stop.runs, "run")
    if stop.target is not None:
        missed = f"{100.0 * (1.0 - stop.target.confidence):.0f} %"
        each = ", of all steps and of each gesture," if stop.target.each else ""
        return (
            f"A cell ends as soon as its wrong rate{each} is shown to meet or to miss the target ({target}) "
            f"at one of a few interim analyses, each after twice the runs of the one before, and after "
            f"{most} at the latest; of cells just at the target at most {missed} are called better, and as "
            f"many worse; more are called better {RARE}."
        )
    judged = "" if target is None else f"; the target ({target}) is compared with that interval"
    if stop.precision is not None:
        return (
            f"A cell ends as soon as the {100.0 * LEVEL:.0f} % confidence interval of its wrong rate is "
            f"within {100.0 * stop.precision:g} % of the rate on either side and {FEWEST_ERRORS} wrong steps "
            f"were seen, and after {most} at the latest{judged}."
        )
    judged = "" if target is None else f", and the target ({target}) is compared with its interval"
    return f"Every cell does all its {most}{judged}."


def stop_cautions(stated: Stop) -> tuple[str, ...]:
    """That a scenario's own rules of ending do not hold for cells, if it states such rules."""
    rules = {"errors": stated.errors, "time": stated.seconds}
    given = " and ".join(name for name, value in rules.items() if value is not None)
    return (
        (f"What [stop] says of {given} does not hold here: a sweep ends its cells itself.",) if given else ()
    )


def range_rule(target: str | None, *, each: bool = False, interim: bool = True) -> str:
    """What acceptable ranges are compared with; ``each`` if cells went on for each gesture, ``interim`` if
    the target ended them at interim analyses.
    """
    if target is not None:
        by_all = " Cells end when all steps together are decided; see --each-gesture."
        by = (
            "intervals that allow for all interim analyses"
            if interim
            else f"its {100.0 * LEVEL:.0f} % confidence interval"
        )
        return (
            f"A value is in the acceptable range if it is shown to meet the target ({target}), outside if it "
            f"is shown to miss it, undecided otherwise. Each gesture is judged by itself, by {by}."
            f"{by_all if interim and not each else ''}"
        )
    times = "twice" if SLACK == 2.0 else f"{SLACK:g} times"
    return (
        f"No target is stated, so rates are compared with {times} the lowest upper bound found, for each "
        "gesture its own: a value is in the acceptable range if its whole interval is at or below that, "
        "outside if it is above, undecided otherwise. If that is 1,000 per 1,000 or more, all are undecided, "
        "because no rate could be above it."
    )
