"""The object that ``steptally replay --json`` writes; the terminal's tables are drawn from it as well.

Its keys are described, one by one, in ``schemas/replay.schema.json``.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from reports.replay_words import replay_cautions, replay_verdict
from reports.sentences import cause_sentence
from reports.versions import versions
from scenarios.traces.rows import DUMP

if TYPE_CHECKING:
    from scenarios.loading.load import Scenario
    from scenarios.traces.reading import Trace
    from scenarios.traces.rows import Threshold
    from simcore.base.records import Ints, Pulses
    from simcore.design import Design
    from simcore.tracing.replay import Burst, Judged, Replay, Totals

Export = dict[str, Any]

LINES = ("A", "B")
SECOND = 1_000_000_000_000


@dataclass(frozen=True)
class Asked:
    """What the command line asks for: the recorded level of a closed contact (0 or 1), the
    settling time (ticks), the thresholds of a trace in volts, the seed, and the run whose parts
    are drawn, None for nominal parts.
    """

    closed: int
    settle: int
    threshold: Threshold | None
    seed: int
    run: int | None


def replay_export(scenario: Scenario, trace: Trace, replay: Replay, asked: Asked) -> Export:
    """Everything that is known about a replayed trace."""
    reading = replay.reading
    export: Export = {
        "name": scenario.name,
        "title": scenario.title,
        "scenario": scenario.resolved,
        "trace": _trace(trace, asked),
        "settle_s": seconds(asked.settle),
        "parts": "nominal" if asked.run is None else "drawn",
        "seed": asked.seed,
        "run": asked.run,
        "lines": {name: _line(replay, number) for number, name in enumerate(LINES)},
        "pulses": _pulses(replay.pulses, replay.positions),
        "bounce_free_pulses": _pulses(replay.clean, replay.clean_positions),
        "counted": _totals(replay.totals),
        "bounce_free": _totals(replay.clean_totals),
        "counts": [_count(judged, reading.bursts[judged.burst]) for judged in replay.judged],
        "verdicts": _verdicts(replay.judged),
        "bursts": [_burst(number, burst) for number, burst in enumerate(reading.bursts, start=1)],
        "longest_gap_s": seconds(reading.longest_gap),
        "shortest_pause_s": _shortest_pause(replay),
    }
    export["causes"] = _causes(replay.judged)
    export["cause_sentences"] = {cause: cause_sentence(cause) for cause in export["causes"]}
    export["verdict"] = replay_verdict(export)
    midway = asked.run is None and _has_plain_input(scenario.design)
    export["cautions"] = replay_cautions(export, scenario.cautions, midway)
    export["versions"] = versions()
    return export


def _has_plain_input(design: Design) -> bool:
    from simcore.stages.inputs import PlainInput

    return any(isinstance(entry.item, PlainInput) for entry in design.stages)


def seconds(ticks: int | Fraction) -> float:
    """Ticks in seconds."""
    return float(ticks / SECOND)


def _trace(trace: Trace, asked: Asked) -> Export:
    notes = trace.notes
    columns = notes.form.columns
    roles = ("time", *LINES)
    together = notes.together_at
    return {
        "file": trace.path,
        "rows": notes.rows,
        "comments": notes.comments,
        "format": "value change dump" if notes.form.layout == DUMP else "CSV",
        "separated_by": notes.form.layout.words,
        "columns": [
            {"role": role, "number": index + 1, "name": name}
            for role, index, name in zip(roles, columns.indices, columns.names, strict=True)
            if index >= 0
        ],
        "columns_from": columns.found,
        "width": notes.form.width,
        "unit_s": seconds(notes.form.unit),
        "unit_from": notes.form.unit_from,
        "whole_times": notes.whole_times,
        "starts_at_s": seconds(notes.start),
        "duration_s": seconds(notes.duration),
        "recorded": notes.kind,
        "shortest_interval_s": seconds(notes.shortest),
        "longest_interval_s": seconds(notes.longest),
        "changes": {name: int(trace.times[number].size) for number, name in enumerate(LINES)},
        "pauses": notes.pauses.number,
        "paused_s": seconds(notes.pauses.ticks),
        "together": notes.together,
        "together_at_s": None if together is None else seconds(together),
        "volts": None
        if notes.volts is None
        else {name: notes.volts[number]._asdict() for number, name in enumerate(LINES)},
        "threshold": None if asked.threshold is None else asked.threshold._asdict(),
        "closed": "high" if asked.closed else "low",
    }


def _line(replay: Replay, line: int) -> list[Export]:
    """How many edges leave the contact and each stage of a line."""
    names = ("contact", *replay.stages[line])
    return [
        {"after": name, "edges": int(edges.offsets[-1])}
        for name, edges in zip(names, replay.edges[line], strict=True)
    ]


def _pulses(pulses: Pulses, positions: Ints) -> list[Export]:
    from simcore.counters.base import FLAG_NAMES

    columns = (pulses.times, pulses.asked, pulses.moved, positions, pulses.causes, pulses.flags)
    return [
        {
            "time_s": seconds(time),
            "count": asked,
            "moved": moved,
            "position": position,
            "burst": None if cause < 0 else (cause >> 4) + 1,
            "doubts": [name for flag, name in FLAG_NAMES.items() if flags & flag],
        }
        for time, asked, moved, position, cause, flags in zip(
            *(column.tolist() for column in columns), strict=True
        )
    ]


def _totals(totals: Totals) -> Export:
    return dict(totals._asdict())


def _count(judged: Judged, burst: Burst) -> Export:
    return {
        "burst": judged.burst + 1,
        "time_s": seconds(burst.start),
        "bounce_free": judged.expected,
        "counted": judged.received,
        "pulses": judged.pulses,
        "verdict": judged.verdict_name,
        "cause": judged.cause_name if judged.wrong else None,
    }


def _verdicts(judged: tuple[Judged, ...]) -> Export:
    """Bursts by verdict: those that were to be counted, and the extra ones that were not."""
    from simcore.judging.sums import VERDICTS

    due = [each for each in judged if each.expected]
    extra = [each for each in judged if not each.expected and each.pulses]
    return {
        **{name: sum(1 for each in due if each.verdict_name == name) for name in VERDICTS},
        "extra": len(extra),
        "extra_net": sum(each.received for each in extra),
    }


def _causes(judged: tuple[Judged, ...]) -> dict[str, int]:
    """How many wrong bursts each root cause explains, the most frequent first."""
    names = [each.cause_name for each in judged if each.wrong]
    return {
        name: names.count(name) for name in sorted(set(names), key=lambda name: (-names.count(name), name))
    }


def _burst(number: int, burst: Burst) -> Export:
    return {
        "number": number,
        "line": LINES[burst.line],
        "does": burst.words,
        "start_s": seconds(burst.start),
        "length_s": seconds(burst.length),
        "changes": burst.changes,
        "transition": bool(burst.moved),
        "settled": bool(burst.settled),
    }


def _shortest_pause(replay: Replay) -> float | None:
    from simcore.base.ticks import NEVER

    pause = replay.reading.shortest_pause
    return None if pause == NEVER else seconds(pause)
