"""What a replay says in sentences: the verdict, and what to mind about the trace."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from reports.numbers import whole
from reports.sentences import SAFETY

Export = dict[str, Any]

WRONG = ("missed", "doubled", "reversed")
FEW = 2.0
"""How much shorter or longer the settling time must be able to get without another grouping."""

AT_THE_CONTACT = (
    "The trace is taken as the make and break of the bare contacts. Behind a capacitor or an input it "
    "would be filtered twice."
)
MODELS = (
    "Stages and counter are models: they know no temperature and no coupling between the lines, "
    "and the loading of the recorder is not part of them."
)
MIDWAY = "With nominal parts a plain input turns over midway between its sure low and its sure high level."


def time_text(seconds: float, digits: int = 3) -> str:
    """A time with its unit, such as "412 us"."""
    from scenarios.quantities import TIME, write_quantity

    return write_quantity(seconds, TIME, digits)


def replay_verdict(export: Export) -> str:
    """What became of the bounce-free counts, in plain words."""
    verdicts, totals, clean = export["verdicts"], export["counted"], export["bounce_free"]
    due = clean["up"] + clean["down"]
    if not any(export["trace"]["changes"].values()):
        return "Neither line changes, so there is nothing to count."
    if not due and not totals["up"] + totals["down"]:
        return "There is nothing to count in this trace, and nothing was counted."
    parts = [_due_words(due, verdicts)]
    if verdicts["extra"]:
        parts.append(
            f"{_bursts(verdicts['extra'])} where nothing was to be counted gave counts, "
            f"{verdicts['extra_net']:+,d} in sum."
        )
    if totals["spurious"]:
        parts.append(f"{_counts(totals['spurious'])} came from no burst at all.")
    parts.append(_sum_words(totals, clean))
    return " ".join(parts)


def all_right(export: Export) -> bool:
    """Whether every bounce-free count was counted right and nothing else was."""
    verdicts = export["verdicts"]
    return not any(verdicts[name] for name in (*WRONG, "extra")) and not export["counted"]["spurious"]


def _due_words(due: int, verdicts: Export) -> str:
    wrong = {name: verdicts[name] for name in WRONG if verdicts[name]}
    right = verdicts["right"] + verdicts["flickered"]
    flicker = (
        f" ({whole(verdicts['flickered'])} with extra counts to and fro)" if verdicts["flickered"] else ""
    )
    if not due:
        return "A bounce-free reading has nothing to count."
    if not wrong:
        all_of = "The one" if due == 1 else f"All {whole(due)}"
        return f"{all_of} bounce-free {_noun(due)} counted right{flicker}."
    listed = ", ".join(f"{whole(count)} {name}" for name, count in wrong.items())
    came = whole(right) if right else "none"
    return f"Of {whole(due)} bounce-free counts {came} came out right{flicker}, {listed}."


def _noun(number: int) -> str:
    return "count was" if number == 1 else "counts were"


def _bursts(number: int) -> str:
    return "One burst" if number == 1 else f"{whole(number)} bursts"


def _counts(number: int) -> str:
    return "One count" if number == 1 else f"{whole(number)} counts"


def _sum_words(totals: Export, clean: Export) -> str:
    same = (
        "as it should"
        if totals["position"] == clean["position"]
        else f"bounce-free at {whole(clean['position'])}"
    )
    nets = f"Net {totals['net']:+,d}, bounce-free {clean['net']:+,d}"
    return f"{nets}; the counter ends at {whole(totals['position'])}, {same}."


def replay_cautions(export: Export, own: Sequence[str], midway: bool) -> list[str]:
    """What to mind: about this trace and its reading, the scenario's ``own``, then what always holds.

    ``midway``: a plain input was given a threshold by `simcore.tracing.replay.nominal`.
    """
    found = [*_about_rows(export["trace"]), *_about_lines(export["trace"]), *_about_reading(export)]
    return [*found, *([MIDWAY] if midway else []), *own, AT_THE_CONTACT, MODELS, SAFETY]


def _about_rows(trace: Export) -> Iterator[str]:
    if trace["unit_from"] == "assumed" and trace["whole_times"]:
        yield (
            "The times are whole numbers without a unit and were taken as seconds; if they are not, "
            "say --unit us, for example."
        )
    if trace["columns_from"] == "order" and trace["width"] > 3:
        yield (
            f"The rows have {trace['width']} columns and no names to go by; the first three were taken as "
            "time, A and B. --columns chooses others."
        )
    if trace["recorded"] != "on change":
        longest = time_text(trace["longest_interval_s"])
        yield f"The lines were sampled, up to {longest} apart; what is shorter than that is not in the trace."
    if trace["pauses"]:
        times = "once" if trace["pauses"] == 1 else f"{whole(trace['pauses'])} times"
        yield (
            f"The recording pauses {times} ($dumpoff), {time_text(trace['paused_s'])} in all. The lines were "
            "taken to stay as they were; what they did meanwhile is not in the trace."
        )
    if trace["together"]:
        at = time_text(trace["together_at_s"], 6)
        times = "once" if trace["together"] == 1 else f"{whole(trace['together'])} times"
        yield (
            f"A and B change at the same instant {times}, first {at} after the first row. Which came first "
            "is not in the trace; A is taken first, and the other order may count otherwise."
        )


def _about_lines(trace: Export) -> Iterator[str]:
    for name, changes in trace["changes"].items():
        if changes:
            continue
        volts = trace["volts"]
        span = (
            ""
            if volts is None
            else f": it stays between {volts[name]['low']:g} V and {volts[name]['high']:g} V"
        )
        yield f"Line {name} never changes{span}."


def _about_reading(export: Export) -> Iterator[str]:
    settle, bursts = export["settle_s"], export["bursts"]
    gap, pause = export["longest_gap_s"], export["shortest_pause_s"]
    if FEW * gap > settle or (pause is not None and pause < FEW * settle):
        between = "" if pause is None else f" and the shortest between two of one line {time_text(pause)}"
        yield (
            f"The bounce-free reading hangs on --settle {time_text(settle)}: the longest stillness inside "
            f"a burst is {time_text(gap)}{between}. Try another value and see whether the counts stay."
        )
    if bursts and bursts[0]["start_s"] < settle:
        yield "The first change comes before the line has settled; the trace may begin within a burst."
    if any(not burst["settled"] for burst in bursts):
        yield "The trace ends before every line has settled; its last burst may be cut short."
