"""What a replay says in sentences: the verdict, and the limitations of the recording and of its reading."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from reports.stories.teller import time_text
from reports.words.numbers import counted as counting
from reports.words.numbers import whole
from reports.words.sentences import SAFETY, WRONG_VERDICTS

if TYPE_CHECKING:
    from reports.results.replay import CountTotals, RecordingRead, ReplayResult, ReplayVerdicts

FEW = 2.0
"""The factor by which the settling time must be able to change without another grouping."""

AT_THE_CONTACT = (
    "The recording is taken as the make and break of the bare contacts. Behind a capacitor or an input it "
    "would be filtered twice."
)
MODELS = (
    "Stages and counter are models: they include neither temperature, nor coupling between the lines, nor "
    "the loading by the recorder."
)
MIDPOINT = (
    "With nominal parts a plain input switches halfway between its guaranteed low level and its guaranteed "
    "high level."
)


def replay_verdict(
    read: RecordingRead, verdicts: ReplayVerdicts, counted: CountTotals, bounce_free: CountTotals
) -> str:
    """What became of the bounce-free counts, in plain words."""
    expected = bounce_free.up + bounce_free.down
    if not read.changes.A and not read.changes.B:
        return "Neither line changes, so there is nothing to count."
    if not expected and not counted.up + counted.down:
        return "There is nothing to count in this recording, and nothing was counted."
    parts = [_expected_words(expected, verdicts)]
    if verdicts.extra:
        bursts = "One burst" if verdicts.extra == 1 else f"{whole(verdicts.extra)} bursts"
        parts.append(f"{bursts} where no count was expected gave counts, {verdicts.extra_net:+,d} in sum.")
    if counted.spurious:
        counts = "One count" if counted.spurious == 1 else f"{whole(counted.spurious)} counts"
        parts.append(f"{counts} came from no burst at all.")
    return " ".join([*parts, _sum_words(counted, bounce_free)])


def _expected_words(expected: int, verdicts: ReplayVerdicts) -> str:
    wrong = {name: getattr(verdicts, name) for name in WRONG_VERDICTS if getattr(verdicts, name)}
    right = verdicts.right + verdicts.flickered
    flickered = verdicts.flickered
    flicker = f" ({whole(flickered)} with extra counts to and fro)" if flickered else ""
    if not expected:
        return "A bounce-free reading has nothing to count."
    if not wrong:
        all_of = "The one" if expected == 1 else f"All {whole(expected)}"
        noun = "count was" if expected == 1 else "counts were"
        return f"{all_of} bounce-free {noun} counted right{flicker}."
    listed = ", ".join(f"{whole(count)} {name}" for name, count in wrong.items())
    came = whole(right) if right else "none"
    return f"Of {counting(expected, 'bounce-free count')} {came} came out right{flicker}, {listed}."


def _sum_words(counted: CountTotals, bounce_free: CountTotals) -> str:
    same = counted.position == bounce_free.position
    end = "as expected" if same else f"bounce-free at {whole(bounce_free.position)}"
    nets = f"Net {counted.net:+,d}, bounce-free {bounce_free.net:+,d}"
    return f"{nets}; the counter ends at {whole(counted.position)}, {end}."


def replay_cautions(result: ReplayResult, own: Sequence[str], midpoint: bool) -> list[str]:
    """Limitations of this recording and of its reading, the scenario's ``own``, then what always holds.

    ``midpoint``: a plain input was given a threshold by `simcore.tracing.replay.nominal`.
    """
    read = result.trace
    found = [*_about_rows(read), *_about_lines(read), *_about_reading(result)]
    return [*found, *([MIDPOINT] if midpoint else []), *own, AT_THE_CONTACT, MODELS, SAFETY]


def _times(number: int) -> str:
    return "once" if number == 1 else f"{whole(number)} times"


def _about_rows(read: RecordingRead) -> Iterator[str]:
    if read.unit_from == "assumed" and read.whole_times:
        yield (
            "The times are whole numbers without a unit and were taken as seconds; if they are not, "
            "give --unit, such as --unit us."
        )
    if read.columns_from == "order" and read.width > 3:
        yield (
            f"The rows have {read.width} columns and no names to go by; the first three were taken as "
            "time, A and B. --columns chooses others."
        )
    if read.recorded != "on change":
        longest = time_text(read.longest_interval_s)
        yield f"The lines were sampled, up to {longest} apart; shorter changes are not in the recording."
    if read.pauses:
        yield (
            f"The recording pauses {_times(read.pauses)} ($dumpoff), {time_text(read.paused_s)} in all. The "
            "lines were taken to stay as they were; what they did meanwhile is not in the recording."
        )
    if read.together and read.together_at_s is not None:
        at = time_text(read.together_at_s, 6)
        yield (
            f"A and B change at the same instant {_times(read.together)}, first {at} after the first row. "
            "Which came first is not in the recording; A is taken first, and the other order may count "
            "differently."
        )


def _about_lines(read: RecordingRead) -> Iterator[str]:
    for name, changes in read.changes:
        if not changes:
            volts = None if read.volts is None else getattr(read.volts, name)
            span = "" if volts is None else f": it stays between {volts.low:g} V and {volts.high:g} V"
            yield f"Line {name} never changes{span}."


def _about_reading(result: ReplayResult) -> Iterator[str]:
    settle, bursts = result.settle_s, result.bursts
    gap, pause = result.longest_gap_s, result.shortest_pause_s
    if FEW * gap > settle or (pause is not None and pause < FEW * settle):
        between = "" if pause is None else f" and the shortest between two of one line {time_text(pause)}"
        yield (
            f"The bounce-free reading depends on --settle {time_text(settle)}: the longest time without a "
            f"change inside a burst is {time_text(gap)}{between}. Try another value and see whether the "
            "counts stay."
        )
    if bursts and bursts[0].start_s < settle:
        yield "The first change comes before the line has settled; the recording may begin within a burst."
    if any(not burst.settled for burst in bursts):
        yield "The recording ends before every line has settled; its last burst may be cut short."
