"""The result of ``steptally sweep``, and what that of ``choose`` shares with it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from pydantic import Field

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

CELL_CAUTIONS = "Limitations of this cell that do not hold for the scenario as it stands."
CELL_COMMAND = "The command that gives this cell's numbers alone, for a POSIX shell."


class VariedKey(Record):
    """One key that is varied, with its values."""

    path: str = Field(description="The key, as --set takes it.")
    given: str = Field(description="The values as --vary gave them.")
    values: Texts = Field(min_length=1, description="All values, as --set takes them.")
    numbers: tuple[Number, ...] | None = Field(
        description="The values as numbers in unit, rising; null where they are words. A share is a fraction."
    )
    unit: str = Field(description='The unit of numbers; "" where there is none.')


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
        known = [(cell.wrong_rate.high, cell) for cell in self.cells if cell.wrong_rate.high is not None]
        return min(known, key=lambda each: each[0])[1].values if known else None

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


class SweepResult(CellsResult):
    """What a scenario counts at every combination of the values varied; each of them is a cell."""

    cells: tuple[SweepCell, ...] = Field(description="The finished cells, in order.")
