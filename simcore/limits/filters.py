"""Time filters and sampled stages against the contacts' chatter and the hand.

A *quiet time* passes chatter only if the line stays put for it twice: once in the new state, then back in
the old one.  So it need be longer than the longest return to the old state, or than half the longest
burst, whichever is less.  With both lines filtered a change comes out that long after its burst has ended;
where a burst outlasts the way to the other line's edge, the order of the two is lost whatever the time.
A straggler, long after the others and short, is no part of these bursts: by then the change is out.
A *lockout* must last as long as the longest burst.  Both must be over before the line's next edge.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from simcore.counters.clocked import ClockedQuadrature
from simcore.design import StageEntry
from simcore.limits.bench import SECOND, Bench
from simcore.limits.delays import decoder_of, samples_needed
from simcore.limits.hand import NONE, Shortest
from simcore.limits.records import AT_LEAST, AT_MOST, FAIL, Check, Number, judged, spared
from simcore.limits.sections import lines_words
from simcore.limits.timing import HAND
from simcore.stages.lockout import Lockout
from simcore.stages.one_shot import OneShot
from simcore.stages.quiet_time import QuietTime
from simcore.stages.sampled import Sampled
from simcore.stages.synchroniser import Synchroniser

CHATTER = (
    "the contacts of the scenario: longer in one burst of a thousand, at the median pace of the slowest "
    "gesture"
)
UNKNOWN = "the contacts come from another package"
STILL = "the hand turns nothing whose times are known"


def filter_checks(bench: Bench) -> Iterator[Check]:
    """All checks of time filters, sampled stages and a clocked counter."""
    for entry in bench.design.stages:
        item = entry.item
        if isinstance(item, QuietTime):
            yield from _windowed(bench, entry, _quiet_least(bench, entry), _quiet_most(bench, entry))
            yield burst_order(bench, entry)
        elif isinstance(item, Lockout):
            yield from _windowed(bench, entry, _lockout_least(bench, entry), _lockout_most(bench, entry))
        elif isinstance(item, OneShot):
            yield from _windowed(bench, entry, _shot_least(bench, entry), _shot_most(bench, entry))
        elif isinstance(item, (Sampled, Synchroniser)):
            yield from _sampled(bench, entry)
    yield counter_period(bench)


def _names(entry: StageEntry) -> str:
    return f"{entry.name}, {lines_words(entry.lines)}"


def _dwell(bench: Bench, entry: StageEntry) -> Shortest:
    return bench.hand.shortest_level(entry.lines)


def _limited(check: Check, bench: Bench, entry: StageEntry, result: float, limit: float | None) -> Check:
    """The check with its result against a limit; None where the contacts are not known."""
    check = replace(check, subject=_names(entry), result=result, unit=SECOND)
    return spared(check, UNKNOWN) if limit is None else judged(replace(check, limit=limit))


def _from_hand(check: Check, bench: Bench, entry: StageEntry, result: float, shortest: Shortest) -> Check:
    """The check with its result against the hand."""
    check = replace(check, subject=_names(entry), result=result, unit=SECOND, source=HAND)
    if not shortest.gesture:
        return spared(check, STILL)
    return judged(replace(check, limit=shortest.seconds, why=f"shortest in {shortest.gesture}"))


def _ends(bench: Bench, entry: StageEntry) -> tuple[float, float]:
    """Shortest and longest time (s) of a filter."""
    item = entry.item
    if isinstance(item, OneShot):
        middle = item.factor * item.resistor.nominal * item.capacitor.nominal
        low = (1.0 - item.resistor.tolerance) * (1.0 - item.capacitor.tolerance)
        return middle * low, middle * (1.0 + item.resistor.tolerance) * (1.0 + item.capacitor.tolerance)
    return item.time.nominal * (1.0 - item.time.tolerance), item.time.nominal * (1.0 + item.time.tolerance)


def _quiet_least(bench: Bench, entry: StageEntry) -> Check:
    chatter = bench.chatter
    check = Check(
        "quiet time against chatter", "",
        "Chatter passes only if the line stays put for the quiet time twice, in the new state and back in "
        "the old one; so the time exceeds the longest return, or half the longest burst.",
        "T >= min(longest return to the old state, longest burst / 2)",
        relation=AT_LEAST, source=CHATTER, corner="the time at its least", advice="a longer quiet time",
    )  # fmt: skip
    limit = None
    if chatter is not None:
        limit = min(chatter.back, 0.5 * chatter.burst)
        check = replace(check, numbers=_chatter_numbers(bench))
    return _limited(check, bench, entry, _ends(bench, entry)[0], limit)


def _chatter_numbers(bench: Bench) -> tuple[Number, ...]:
    assert bench.chatter is not None  # noqa: S101 - narrows the type
    return (
        Number("longest return to the old state", bench.chatter.back, SECOND),
        Number("longest burst", bench.chatter.burst, SECOND),
    )


def _quiet_most(bench: Bench, entry: StageEntry) -> Check:
    dwell, burst = _dwell(bench, entry), 0.0 if bench.chatter is None else bench.chatter.dense
    check = Check(
        "quiet time against the hand", "",
        "The line stays put for the quiet time once its chatter is over and before its next edge.",
        "longest burst + T <= shortest level of the line",
        numbers=(
            Number("longest burst", burst, SECOND),
            Number("quiet time at its most", _ends(bench, entry)[1], SECOND),
        ),
        relation=AT_MOST, corner="the time at its most", advice="a shorter quiet time",
    )  # fmt: skip
    return _from_hand(check, bench, entry, burst + _ends(bench, entry)[1], dwell)


def burst_order(bench: Bench, entry: StageEntry) -> Check:
    """Whether a burst is over before the other line's edge, where both lines wait for quiet."""
    spacing = bench.hand.closest()
    check = Check(
        "bursts against the other line's edge", "",
        "A quiet time begins anew with each change, so an edge comes out by as much later as its burst "
        "lasts; a burst that outlasts the way to the other line's edge loses the order of the two, whatever "
        "the time.",
        "longest burst <= closest edges of A and B", relation=AT_MOST, corner="",
        advice="contacts with shorter bursts, or a slower hand: no other time helps",
    )  # fmt: skip
    if bench.chatter is None:
        return spared(replace(check, subject=_names(entry)), UNKNOWN)
    if len(entry.lines) < 2:
        return spared(replace(check, subject=_names(entry)), "only one line is filtered")
    return _from_hand(check, bench, entry, bench.chatter.dense, spacing)


def _lockout_least(bench: Bench, entry: StageEntry) -> Check:
    check = Check(
        "lockout against chatter", "",
        "What chatter comes after the lockout has ended is taken for another edge, so it outlasts the burst.",
        "T >= longest burst", relation=AT_LEAST, source=CHATTER, corner="the time at its least",
        advice="a longer lockout",
    )  # fmt: skip
    limit = None if bench.chatter is None else bench.chatter.burst
    return _limited(check, bench, entry, _ends(bench, entry)[0], limit)


def _lockout_most(bench: Bench, entry: StageEntry) -> Check:
    check = Check(
        "lockout against the hand", "",
        "The lockout is over before the same line's next edge, which would else come out late or not at all.",
        "T <= shortest level of the line", relation=AT_MOST, corner="the time at its most",
        advice="a shorter lockout",
    )  # fmt: skip
    return _from_hand(check, bench, entry, _ends(bench, entry)[1], _dwell(bench, entry))


def _shot_least(bench: Bench, entry: StageEntry) -> Check:
    check = Check(
        "pulse against chatter", "",
        "Chatter that goes on after the pulse starts another one, so the pulse outlasts the burst.",
        "factor x R x C >= longest burst", relation=AT_LEAST, source=CHATTER,
        corner="resistor and capacitor at their least", advice="a larger capacitor or resistor",
    )  # fmt: skip
    limit = None if bench.chatter is None else bench.chatter.burst
    return _limited(check, bench, entry, _ends(bench, entry)[0], limit)


def _shot_most(bench: Bench, entry: StageEntry) -> Check:
    cycles = [found for edge, found in bench.hand.cycle.items() if edge[0] in entry.lines]
    check = Check(
        "pulse against the hand", "",
        "The pulse is over before the line's next edge of the kind that triggers it.",
        "factor x R x C <= shortest time from one edge to the next like it", relation=AT_MOST,
        corner="resistor and capacitor at their most", advice="a smaller capacitor or resistor",
    )  # fmt: skip
    return _from_hand(check, bench, entry, _ends(bench, entry)[1], min(cycles, default=NONE))


def _windowed(bench: Bench, entry: StageEntry, least: Check, most: Check) -> tuple[Check, Check]:
    """Both checks of a time; where no time at all passes both, what fails says so, with both numbers."""
    if bench.chatter is None or least.limit is None or most.limit is None or most.result is None:
        return least, most
    room = most.limit - (most.result - _ends(bench, entry)[1])  # what the burst leaves for the time
    if least.limit <= room:
        return least, most
    words = f"no safe setting: it would have to be {_ms(least.limit)} at least and {_ms(room)} at most"
    burst = bench.chatter.dense if isinstance(entry.item, QuietTime) else bench.chatter.burst
    if burst > most.limit:
        words = (
            f"no safe setting: the longest burst, {_ms(burst)}, outlasts {_span(entry)}, {_ms(most.limit)}"
        )
    advice = "contacts with shorter bursts, or a slower hand: no setting helps"
    first, second = (
        replace(check, why=words, advice=advice) if check.verdict == FAIL else check
        for check in (least, most)
    )
    return first, second


def _span(entry: StageEntry) -> str:
    return "the shortest cycle" if isinstance(entry.item, OneShot) else "the shortest level"


def _ms(seconds: float) -> str:
    return f"{seconds * 1e3:.3g} ms"


def _sampled(bench: Bench, entry: StageEntry) -> Iterator[Check]:
    """A sampled filter, or a synchroniser, which is one of a single sample."""
    item = entry.item
    count = 1 if isinstance(item, Synchroniser) else samples_needed(item.rule)
    if count is None:
        return
    period = item.clock.period
    least, most = (period.nominal * (1.0 + sign * period.tolerance) for sign in (-1.0, 1.0))
    check = Check(
        "samples against the hand", "",
        f"Every level lasts for {count} sample{'' if count == 1 else 's'}, wherever the samples fall.",
        "samples x period <= shortest level of the line",
        numbers=(Number("samples needed", count, ""), Number("period", most, SECOND)),
        corner="the period at its most", relation=AT_MOST, advice="a shorter period or fewer samples",
    )  # fmt: skip
    yield _from_hand(check, bench, entry, count * most, _dwell(bench, entry))
    check = Check(
        "samples against chatter", "",
        "A return to the old state that is shorter than all but one of the periods needed cannot pass.",
        "(samples - 1) x period >= longest return to the old state",
        numbers=(Number("samples needed", count, ""), Number("period", least, SECOND)),
        relation=AT_LEAST, source=CHATTER, corner="the period at its least",
        advice="a longer period or more samples",
    )  # fmt: skip
    if isinstance(item, Synchroniser):
        yield spared(
            replace(check, subject=_names(entry)), "a synchroniser is not meant to hold chatter back"
        )
        return
    yield _limited(
        check, bench, entry, (count - 1) * least, None if bench.chatter is None else bench.chatter.back
    )


def counter_period(bench: Bench) -> Check:
    """The period of a clocked counter against the closest edges."""
    spec = decoder_of(bench.design.counter)
    check = Check(
        "counter's samples against the hand", "counter",
        "At most one edge falls between two samples: of two at once the direction is lost, and three look "
        "like one the other way.",
        "period <= closest edges", relation=AT_MOST, unit=SECOND, corner="the period at its most",
        advice="a shorter period", source=HAND,
    )  # fmt: skip
    if not isinstance(spec, ClockedQuadrature):
        return spared(check, "the counter looks at its lines all the time")
    spacing = bench.hand.closest()
    check = replace(check, result=spec.period.nominal * (1.0 + spec.period.tolerance))
    if not spacing.gesture:
        return spared(check, STILL)
    return judged(replace(check, limit=spacing.seconds, why=f"closest in {spacing.gesture}"))
