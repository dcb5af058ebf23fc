"""The report of ``steptally replay``: what was read, the verdict, every pulse, every burst."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from reports.documents.document import (
    Block,
    Column,
    Document,
    Group,
    Items,
    Section,
    Sentence,
    Table,
    sentences,
)
from reports.stories.teller import time_text
from reports.words.numbers import share_text, signed, whole

if TYPE_CHECKING:
    from reports.results.common import LineName
    from reports.results.replay import (
        BurstCount,
        RecordedBurst,
        RecordingRead,
        ReplayPulse,
        ReplayResult,
    )

TableRow = TypeVar("TableRow")
OWN_CLOCK = 1000.0
"""A recorder's clock further from 0 (s) than this is not shown; times count from the first row then."""
VIOLATIONS = {
    "direction changed within the set-up time": "set-up",
    "direction changed within the hold time": "hold",
    "clock pulse shorter than the counter takes": "short pulse",
    "held by an end stop": "end stop",
    "both lines changed at once": "both lines",
}
TOTALS = (
    ("up", "counts up", True),
    ("down", "counts down", True),
    ("net", "net", True),
    ("ignored", "ignored or undecided", False),
    ("doubtful", "uncertain", False),
    ("held", "held by an end stop", False),
    ("spurious", "from no burst", False),
    ("position", "position at the end", True),
)
"""Sums in the order of the table; whether one is shown even if it is 0."""


def document(result: ReplayResult, limit: int) -> Document:
    """The report; tables show ``limit`` rows at most, all of them for 0."""
    verdict = Sentence(result.verdict, "good" if result.right else "bad")
    job = (Sentence(read_line(result.trace)), Sentence(taken_line(result)))
    sections = [Section("result", "", (verdict,)), *_sections(result, limit)]
    cautions = Items(tuple(map(Sentence, result.cautions)))
    sections.append(Section("limitations", "Limitations", (cautions,), folded=True))
    return Document(result.title or result.name, "replayed", job, tuple(sections), brief=(verdict,))


def _sections(result: ReplayResult, limit: int) -> Iterator[Section]:
    if not result.bursts:
        return
    edges = Group("Edges left", tuple(sentences([edges_line(result, "A"), edges_line(result, "B")])))
    yield Section("totals", "Counted, and bounce-free", (_totals_table(result), edges))
    if result.pulses or result.counts:
        yield Section("pulses", "Pulse by pulse", tuple(_pulse_blocks(result, limit)), folded=True)
    if result.causes:
        yield Section("causes", "Why counts went wrong", (_cause_table(result),))
    yield Section("bursts", "Bursts", tuple(_burst_blocks(result, limit)), folded=True)


def read_line(read: RecordingRead) -> str:
    noun = "rows" if read.format == "CSV" else "times"
    rows = f"{whole(read.rows)} {noun} over {time_text(read.duration_s)} ({_recorded(read)})"
    changes = f"A {whole(read.changes.A)}, B {whole(read.changes.B)}"
    return f"{_printable(read.file)}: {rows}; changes: {changes}."


def _recorded(read: RecordingRead) -> str:
    if read.recorded == "on change":
        return "recorded on change"
    shortest, longest = time_text(read.shortest_interval_s), time_text(read.longest_interval_s)
    return f"{read.recorded}, every {shortest if shortest == longest else f'{shortest} to {longest}'}"


def taken_line(result: ReplayResult) -> str:
    read, cut = result.trace, result.trace.threshold
    columns = []
    for column in read.columns:
        name = _printable(column.name)
        columns.append(
            f"{column.role} {column.number}" + (f" ({name})" if name not in ("", column.role) else "")
        )
    what = "Columns" if read.format == "CSV" else "Variables"
    sliced = ""
    if cut is not None:
        both = f"{cut.rising:g} V rising and {cut.falling:g} V falling"
        sliced = f", read at {f'{cut.rising:g} V' if cut.rising == cut.falling else both}"
    unit = time_text(read.unit_s).removeprefix("1 ")
    parts = "every part nominal"
    if result.run is not None:
        parts = f"the parts of unit {result.run}, seed {result.seed}"
    return (
        f"{what}: {', '.join(columns)}; time in {unit} ({read.unit_from}){sliced}; {read.closed} is closed; "
        f"settled after {time_text(result.settle_s)}; {parts}."
    )


def edges_line(result: ReplayResult, line: LineName) -> str:
    places = result.lines.A if line == "A" else result.lines.B
    after = ["at the contact" if each.after == "contact" else f"after {each.after}" for each in places]
    counts = [f"{whole(each.edges)} {words}" for each, words in zip(places, after, strict=True)]
    return f"Edges on {line}: {', '.join(counts)}."


def _printable(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text)


def _totals_table(result: ReplayResult) -> Table:
    counted, free = dict(result.counted), dict(result.bounce_free)
    rows = [(key, words) for key, words, always in TOTALS if always or counted[key] or free[key]]
    return Table(
        "Sums of what was counted, beside those of the bounce-free reading",
        (
            Column("sum", [words for _, words in rows], sort="name"),
            Column("counted", [whole(counted[key]) for key, _ in rows]),
            Column("bounce-free", [whole(free[key]) for key, _ in rows]),
            Column("difference", [signed(counted[key] - free[key]) for key, _ in rows], tone="strong"),
        ),
    )


def _cause_table(result: ReplayResult) -> Table:
    total = sum(result.causes.values())
    return Table(
        "Wrong counts by root cause",
        (
            Column("root cause", list(result.causes), sort="name"),
            Column("counts", [whole(count) for count in result.causes.values()]),
            Column("share", [share_text(count, total) for count in result.causes.values()], rank=1),
            Column("meaning", [result.cause_sentences[cause] for cause in result.causes], sort="text"),
        ),
    )


@dataclass(frozen=True)
class PulseRow:
    """One row of the table of pulses: what was counted, and with the first pulse of a burst what the
    bounce-free reading counts; ``plain`` when the burst was counted right.
    """

    time: float
    counted: str
    position: str
    bounce_free: str
    burst: int | None
    verdict: str
    violations: str
    plain: bool


def pulse_rows(result: ReplayResult) -> list[PulseRow]:
    """All pulses, and a row for every bounce-free count that gave none, in order of time."""
    counts = {count.burst: count for count in result.counts}
    rows = []
    seen = set()
    for pulse in result.pulses:
        count = None if pulse.burst is None else counts.get(pulse.burst)
        rows.append(_pulse_row(pulse, count, first=pulse.burst not in seen))
        seen.add(pulse.burst)
    for burst, count in counts.items():
        if burst not in seen:
            free = signed(count.bounce_free)
            rows.append(PulseRow(count.time_s, "none", "", free, burst, count.verdict, "", False))
    return sorted(rows, key=lambda row: row.time)


def _pulse_row(pulse: ReplayPulse, count: BurstCount | None, *, first: bool) -> PulseRow:
    """``count`` is what is known of the pulse's burst, shown with the ``first`` pulse of it."""
    violations = ", ".join(VIOLATIONS.get(each, each) for each in pulse.doubts)
    free, verdict = (signed(count.bounce_free), count.verdict) if first and count is not None else ("", "")
    plain = count is not None and count.verdict == "right" and not violations
    counted = signed(pulse.count) if pulse.count else "ignored"
    return PulseRow(pulse.time_s, counted, str(pulse.position), free, pulse.burst, verdict, violations, plain)


def chosen(
    rows: Sequence[TableRow], limit: int, routine: Callable[[TableRow], bool], what: str
) -> tuple[list[TableRow], str]:
    """At most ``limit`` rows (0: all) and a line on those left out; routine ones are left out first."""
    if limit == 0 or len(rows) <= limit:
        return list(rows), ""
    kept = [row for row in rows if not routine(row)] or list(rows)
    parts = [f"{whole(len(rows) - len(kept))} {what} left out"] if len(kept) < len(rows) else []
    if len(kept) > limit:
        parts.append(f"... {whole(len(kept) - limit)} more rows")
    return kept[:limit], f"{'; '.join(parts)} (--limit 0 shows all)"


def _pulse_blocks(result: ReplayResult, limit: int) -> Iterator[Block]:
    rows, left_out = chosen(pulse_rows(result), limit, lambda row: row.plain, "pulses counted right are")
    does = {burst.number: burst.does for burst in result.bursts}
    places = {pulse.burst: str(pulse.position) for pulse in result.bounce_free_pulses}
    bare = [places.get(row.burst, "") if row.bounce_free else "" for row in rows]
    head, show = _clock(result.trace)
    columns = [
        Column(head, [show(row.time) for row in rows]),
        Column("counted", [row.counted for row in rows], tone="strong"),
        Column("position", [row.position for row in rows]),
        Column("bounce-\nfree", [row.bounce_free for row in rows]),
        Column("bounce-free\nposition", bare, rank=2),
        Column("burst", ["" if row.burst is None else str(row.burst) for row in rows]),
        Column("movement", ["" if row.burst is None else does[row.burst] for row in rows], 1, "short"),
        Column("verdict", [row.verdict for row in rows], sort="short"),
        Column("violations", [row.violations for row in rows], sort="text"),
    ]
    yield Table(
        "Pulses, the first of a burst beside its bounce-free count",
        tuple(column for column in columns if any(column.cells)),
    )
    yield from sentences([left_out], "quiet")
    named = {each for row in rows for each in row.violations.split(", ") if each}
    if named:
        meant = [f"{short}: {long}" for long, short in VIOLATIONS.items() if short in named]
        yield Sentence(f"Violations: {'; '.join(meant)}.", "quiet")


def _burst_blocks(result: ReplayResult, limit: int) -> Iterator[Block]:
    rows, left_out = chosen(
        result.bursts, limit, lambda burst: burst.changes == 1, "clean transitions without bounce are"
    )

    def does(burst: RecordedBurst) -> str:
        words = burst.does.split(" ", 1)[1]
        return words if burst.settled else f"{words}, unsettled"

    head, show = _clock(result.trace)
    yield Table(
        "Bursts of changes, in the order of their first change",
        (
            Column("burst", [str(burst.number) for burst in rows]),
            Column("line", [burst.line for burst in rows], sort="short"),
            Column("movement", [does(burst) for burst in rows], sort="short"),
            Column(head, [show(burst.start_s) for burst in rows]),
            Column("length", [time_text(burst.length_s) if burst.length_s else "0" for burst in rows]),
            Column("changes", [whole(burst.changes) for burst in rows]),
        ),
    )
    yield from sentences([left_out], "quiet")


def _clock(read: RecordingRead) -> tuple[str, Callable[[float], str]]:
    """A head for a column of times, and how to write one: the recorder's own time where it is short."""
    start, duration = read.starts_at_s, read.duration_s
    name, scale, places = ("us", 1.0e6, 3) if duration < 1.0e-3 else ("ms", 1.0e3, 3)
    if duration >= 100.0:
        name, scale, places = "s", 1.0, 6
    if abs(start) > OWN_CLOCK:
        return f"{name} after the\nfirst row", lambda time: f"{time * scale:.{places}f}"
    return f"time\n({name})", lambda time: f"{(start + time) * scale:.{places}f}"
