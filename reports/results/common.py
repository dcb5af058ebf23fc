"""What every result is made of, and the pieces that several verbs share.

Field descriptions are those of the JSON schema: they give meaning and unit.  Times are in seconds, voltages
in volt, resistances in ohm, rates and shares fractions of one (0.008 is 8 in 1,000), unless they say
otherwise.  None (null) stands where there is no value; keys are never left out.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, Any, Literal, NoReturn, Self, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PrivateAttr
from pydantic.json_schema import GenerateJsonSchema

if TYPE_CHECKING:
    import pandas
    from rich.console import Console, ConsoleOptions, RenderResult

    from reports.documents.document import Document

Row = Mapping[str, Any]
"""A row of a plain table: nothing nested."""
Rows = tuple[Row, ...]


class FrozenDict(dict[Any, Any]):
    """A dictionary that raises TypeError when it is to be changed; `dict` makes a plain copy."""

    def _refuse(self, *_: Any, **__: Any) -> NoReturn:
        raise TypeError("a result cannot be changed; dict() gives a copy that can")

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse

    def __reduce__(self) -> tuple[Any, ...]:
        return FrozenDict, (dict(self),)


def frozen(value: Any) -> Any:
    """A copy of nested dictionaries and lists that cannot be changed; lists become tuples."""
    if isinstance(value, Mapping):
        return FrozenDict({key: frozen(each) for key, each in value.items()})
    if isinstance(value, (list, tuple)):
        return tuple(frozen(each) for each in value)
    return value


K = TypeVar("K")
V = TypeVar("V")
Frozen = Annotated[Mapping[K, V], AfterValidator(FrozenDict)]

# Strict, so that no 1 becomes 1.0 or true, and none of these an integer.
Integer = Annotated[int, Field(strict=True)]
Count = Annotated[int, Field(strict=True, ge=0)]
Positive = Annotated[int, Field(strict=True, ge=1)]
Flag = Annotated[bool, Field(strict=True)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Amount = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.0)]
Share = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.0, le=1.0)]
Level = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0.0, lt=1.0)]
Texts = tuple[str, ...]
Pair = tuple[Number, Number]
ResolvedScenario = Annotated[Mapping[str, Any], AfterValidator(frozen)]
"""A scenario as nested tables."""

LineName = Literal["A", "B"]
LINES: tuple[LineName, LineName] = ("A", "B")
TICK = 1.0e-12
"""Seconds in a tick."""
Direction = Literal["up", "down"]
DirectionOrRest = Literal["up", "down", ""]
Verdict = Literal["right", "flickered", "missed", "doubled", "reversed"]
Decision = Literal["yes", "no", "undecided"]
EngineName = Literal["batch", "events"]
RootCause = Literal[
    "chatter", "swallowed", "late direction", "early direction", "swapped order", "misfit", "short pulse",
    "sliding", "end stop", "skipped state", "slow edge", "pick-up", "power-up", "supply dip", "unexplained",
]  # fmt: skip
RunEnding = Literal["all runs done", "enough wrong steps seen", "precise enough", "time is up", "interrupted"]

PulseDoubt = Literal[
    "direction changed within the set-up time",
    "direction changed within the hold time",
    "clock pulse shorter than the counter takes",
    "held by an end stop",
    "both lines changed at once",
]

WRONG = "Steps that are missed, doubled or reversed."
WRONG_RATE = "Wrong steps over steps."
SPURIOUS = "Counts that no movement caused."
EXACT_RUNS = "Runs that end on the expected position."
CAUSES = "Wrong steps by root cause, most frequent first; they add up to wrong."
SCENARIO = "The scenario with every value filled in, each quantity as text with its unit."
NAME = "Name of the ready scenario, or of the file."
TITLE = "The scenario's title."
SECONDS = "Time taken (s), compiling included."
ASSUMPTIONS = "What the figures rest on, in sentences."
CAUTIONS = "Limitations, in sentences."
SEED = "Seed of all draws."
SIGNAL_PATH = "Hand, encoder, contacts, stages and counter in the order of the signal, then the supply."


class UntitledSchema(GenerateJsonSchema):
    """Writes JSON schemas without titles that only repeat the keys."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


class Record(BaseModel):
    """A record that cannot be changed, with exactly the keys that it declares."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    @property
    def export(self) -> dict[str, Any]:
        """The record as a plain dictionary, with the keys of the JSON; sequences are tuples."""
        return self.model_dump(by_alias=True)


class Result(Record):
    """The result of a verb."""

    def json(self) -> str:  # type: ignore[override]
        """The text that the verb's ``--json`` writes.  Raises ValueError for a NaN or an infinity."""
        return json.dumps(self.export, indent=2, allow_nan=False) + "\n"

    def tables(self) -> Mapping[str, Rows]:
        """Plain tables by name, all rows of a table with the same keys: those of the JSON, joined by dots."""
        return FrozenDict({name: even([*rows]) for name, rows in self._tables().items()})

    def table(self, name: str) -> Rows:
        """One of `tables`.  Raises BadInput with the nearest name for one that does not exist."""
        tables = self._tables()
        if name not in tables:
            from reports.errors import BadInput
            from scenarios.loading.messages import hint, listed, shown

            known = hint(str(name), tables)
            raise BadInput(f"table: expected {listed(list(tables))}, got {shown(name)}{known}")
        return even([*tables[name]])

    def frame(self, name: str) -> pandas.DataFrame:
        """One of `tables` as a pandas data frame; it needs the extra ``frames``.

        Raises BadInput as `table` does, and ImportError without pandas.
        """
        import pandas

        return pandas.DataFrame.from_records([dict(row) for row in self.table(name)])

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        """The rows of each table, from the result's own fields."""
        raise NotImplementedError

    def document(self) -> Document:
        """The report, for any renderer."""
        raise NotImplementedError

    def with_gallery(self) -> Self:
        """The same result with what only a page shows, if there is any."""
        return self

    def page(self) -> str:
        """The page that the verb's ``--html`` writes."""
        from reports.render.html import page

        return page(self.with_gallery().document())

    def save_page(self, file: str | os.PathLike[str]) -> None:
        """Write the page, whole or not at all.  Raises BadInput if it cannot be written."""
        from reports.output import require_places, write_file

        place = os.fspath(file)
        require_places({"a page": place}, self._read)
        write_file(place, self.page())

    _read: tuple[str, ...] = PrivateAttr(default=())
    """The files that the result was made of, which no page may overwrite."""
    _kept: int | None = PrivateAttr(default=None)

    def made_from(self, files: Sequence[str], kept: int | None = None) -> None:
        """Note the ``files`` that were read, and how many runs a ledger had (None: there was none)."""
        self._read, self._kept = tuple(files), kept

    _troubles: tuple[str, ...] = PrivateAttr(default=())

    @property
    def troubles(self) -> tuple[str, ...]:
        """Why not every run was kept in a ledger; empty if all were."""
        return self._troubles

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """The verb's own report, as wide as there is room."""
        from rich.text import Text

        from reports.output import layout
        from reports.render.terminal import renderables

        room = layout(options.max_width, options.encoding)
        for number, block in enumerate(renderables(self.document(), room)):
            if number:
                yield Text("")
            yield block

    def _repr_html_(self) -> str:
        """A part of a page for a notebook: it loads nothing, and takes the colours of what is around it."""
        from reports.render.html import fragment

        return fragment(self.document())

    def __str__(self) -> str:
        return repr(self)

    def __repr__(self) -> str:
        named = getattr(self, "name", None) or getattr(self, "title", "")
        return f"<{' '.join(filter(None, [type(self).__name__, named]))}>"


def even(rows: Sequence[Row]) -> Rows:
    """The rows with the same keys in all: what a row lacks is None.  A key under which other rows have keys
    of their own ("below" beside "below.cause") is left out.
    """
    keys = dict.fromkeys(key for row in rows for key in row)
    parents = {key[:at] for key in keys for at, letter in enumerate(key) if letter == "."}
    kept = [key for key in keys if key not in parents or any(row.get(key) is not None for row in rows)]
    return tuple(FrozenDict({key: row.get(key) for key in kept}) for row in rows)


def flat(record: Record | Mapping[str, Any], *, without: Sequence[str] = (), **first: Any) -> dict[str, Any]:
    """A nested record as one row: keys joined by dots, a list of plain values as text; lists of tables and
    the keys ``without`` are left out.  ``first`` are columns in front.
    """
    row = dict(first)
    for key, value in (record.export if isinstance(record, Record) else record).items():
        if key in without:
            continue
        if isinstance(value, Mapping):
            row |= {f"{key}.{inner}": each for inner, each in flat(value).items()}
        elif not isinstance(value, (list, tuple)):
            row[key] = value
        elif not any(isinstance(each, (Mapping, list, tuple)) for each in value):
            row[key] = ", ".join(str(each) for each in value)
    return row


class Rate(Record):
    """A rate, or a difference of two rates, as a fraction with its confidence interval."""

    estimate: Number | None = Field(
        description="Hits over trials (0.001 is one in a thousand), or as the result's estimate_method says; "
        "null where there is no data."
    )
    low: Number | None = Field(description="Lower end of the interval; null where there is no data.")
    high: Number | None = Field(
        description="Upper end of the interval, above 0 even for no hits; null where there is no data."
    )
    level: Level = Field(description="Confidence level of the interval.")
    method: str = Field(description="How the interval was computed.")


class Versions(Record):
    """What the result was made with."""

    steptally: str = Field(description="Version of the program.")
    model: str = Field(description="Version of the model; equal versions give equal integers.")
    python: str = Field(description="Version of Python.")
    numpy: str = Field(description="Version of numpy.")
    numba: str = Field(description="Version of numba.")
    scipy: str = Field(description="Version of scipy.")
    machine: str = Field(description="Kind of processor.")
    processor_features: Texts = Field(description="Vector extensions of the processor.")


class VerdictCounts(Record):
    """Steps by verdict."""

    right: Count = Field(description="Steps counted right.")
    flickered: Count = Field(description="Steps counted right in the end, with extra counts to and fro.")
    missed: Count = Field(description="Steps with too few counts.")
    doubled: Count = Field(description="Steps with too many counts.")
    reversed: Count = Field(description="Steps counted the wrong way.")


class VerdictRates(Record):
    """The share of all steps that each verdict has."""

    right: Rate = Field(description="Right steps over steps.")
    flickered: Rate = Field(description="Flickered steps over steps.")
    missed: Rate = Field(description="Missed steps over steps.")
    doubled: Rate = Field(description="Doubled steps over steps.")
    reversed: Rate = Field(description="Reversed steps over steps.")


class TargetRate(Record):
    """A highest rate of wrong steps."""

    rate: Share = Field(description="Highest acceptable rate of wrong steps, as a fraction.")
    text: str = Field(description="The target as it was written.")


class GestureSteps(Record):
    """The steps of one gesture of the hand."""

    name: str = Field(description="The gesture's name.")
    kind: str = Field(description="Kind of gesture: click, twist, spin, creep, rock, path or rest.")
    steps: Count = Field(description="Steps of this gesture.")


class GestureTally(GestureSteps):
    """The steps of one gesture by verdict."""

    verdicts: VerdictCounts = Field(description="The gesture's steps by verdict.")
    wrong: Count = Field(description=WRONG)
    wrong_rate: Rate = Field(description="Wrong steps of the gesture over its steps.")


class SignalValue(Record):
    """One value of a box of the block diagram."""

    name: str = Field(description="What the value is.")
    value: str = Field(description="The value with its unit.")
    tolerance: str = Field(description='Its tolerance, plus and minus; "" for none.')


class SignalBox(Record):
    """One box of the block diagram."""

    role: Literal["hand", "encoder", "contacts", "stage", "counter", "supply"] = Field(
        description="What it is in the chain."
    )
    name: str = Field(description="Its name in the scenario.")
    kind: str = Field(description='Its kind; "" where there is only one.')
    lines: tuple[LineName, ...] = Field(description="The lines that it serves.")
    joint: Flag = Field(description="Whether one unit sees both lines; false for one on each line.")
    values: tuple[SignalValue, ...] = Field(description="Its plain values that are not zero.")


class CheckNumber(Record):
    """A number that a check computes with."""

    name: str = Field(description="What the number is.")
    value: Number | None = Field(description="Its value in unit; null where it is infinite.")
    unit: str = Field(description="Its unit, empty for a plain number.")


class SuggestedChange(Record):
    """Another value of one part, with which a check passes."""

    stage: str = Field(description="Name of the stage.")
    key: str = Field(description="Key of the part.")
    value: Number = Field(description="The value in unit.")
    unit: str = Field(description="Its unit.")
    text: str = Field(description="The value as text with its unit.")
    series: str = Field(description="The E series of IEC 60063 that it is from.")
    result: Number = Field(description="Result of the check with it, in the check's unit.")
    costs: Texts = Field(description="Checks that would fail with it and do not now.")
    sets: Texts = Field(description="What --set takes to try it.")


CheckVerdict = Literal["fail", "tight", "pass", "does not apply"]


class DesignCheck(Record):
    """One electrical check at the worst corner of the stated tolerances."""

    name: str = Field(description="What is checked.")
    subject: str = Field(description="On what: a stage with its lines, a contact, the counter.")
    verdict: CheckVerdict = Field(
        description="Tight is nearer to the limit than a tenth of it; why tells what makes a check not apply."
    )
    rule: str = Field(description="The rule in words.")
    formula: str = Field(description="The rule as a formula.")
    numbers: tuple[CheckNumber, ...] = Field(description="The numbers put in, at the worst corner.")
    corner: str = Field(description="Which ends of which tolerances are the worst.")
    result: Number | None = Field(
        description="The result in unit; null where there is none, or where it is infinite, which why tells."
    )
    relation: Literal["at most", "at least", "equal to"] = Field(
        description="How the result must compare with the limit."
    )
    limit: Number | None = Field(description="The limit in unit; null where there is none.")
    unit: str = Field(description="The unit of result and limit, empty for plain numbers.")
    source: str = Field(description="Source of the limit.")
    why: str = Field(description="Why the check does not apply, or a remark; empty for nothing.")
    advice: str = Field(description="A remedy for a check that fails or is tight; empty for the others.")
    change: SuggestedChange | None = Field(
        description="A preferred value with which the check passes, computed again with it; null where none "
        "was found or looked for."
    )

    def row(self) -> Row:
        """The check as a plain row, without the numbers put in."""
        suggested = None if self.change is None else ", ".join(self.change.sets)
        return {**flat(self, without=("numbers", "change")), "suggested": suggested}
