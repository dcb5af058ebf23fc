"""What the checks of time filters and sampled stages share: limits from the contacts' chatter and from the
hand, and a time that would have to meet both.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from simcore.base.check import (
    AT_LEAST,
    AT_MOST,
    FAIL,
    HAND,
    SECOND,
    STILL,
    Check,
    Number,
    Shortest,
    Surroundings,
    judged,
    not_applicable,
)
from simcore.base.draws import Part

CHATTER = (
    "the contacts of the scenario: longer in one burst of a thousand, at the median pace of the slowest "
    "gesture"
)
UNKNOWN = "the contacts come from another package"


def against_chatter(check: Check, around: Surroundings, result: float, limit: float | None) -> Check:
    """The check with its result (s) against a limit from the chatter; None where that is not known."""
    check = replace(check, subject=around.subject, result=result, unit=SECOND, source=CHATTER)
    return not_applicable(check, UNKNOWN) if limit is None else judged(replace(check, limit=limit))


def against_hand(check: Check, around: Surroundings, result: float, shortest: Shortest) -> Check:
    """The check with its result (s) against the hand."""
    check = replace(check, subject=around.subject, result=result, unit=SECOND, source=HAND)
    if not shortest.gesture:
        return not_applicable(check, STILL)
    return judged(replace(check, limit=shortest.seconds, why=f"shortest in {shortest.gesture}"))


def with_window(
    around: Surroundings, least: Check, most: Check, time: float, burst: float, span: str = "level"
) -> tuple[Check, Check]:
    """The lower and the upper check of a time (s, at its most); where no time at all passes both, what
    fails says so, with both numbers.  ``burst`` (s) is the burst that it has to outlast, the shortest
    ``span`` what it has to end within.
    """
    if around.chatter is None or least.limit is None or most.limit is None or most.result is None:
        return least, most
    room = most.limit - (most.result - time)  # what the burst leaves for the time
    if least.limit <= room:
        return least, most
    words = f"no safe setting: it would have to be {_ms(least.limit)} at least and {_ms(room)} at most"
    if burst > most.limit:
        words = (
            f"no safe setting: the longest burst, {_ms(burst)}, outlasts the shortest {span}, "
            f"{_ms(most.limit)}"
        )
    advice = "contacts with shorter bursts, or a slower hand: no setting helps"
    first, second = (
        replace(check, why=words, advice=advice) if check.verdict == FAIL else check
        for check in (least, most)
    )
    return first, second


def _ms(seconds: float) -> str:
    return f"{seconds * 1e3:.3g} ms"


def time_ends(time: Part) -> tuple[float, float]:
    return time.nominal * (1.0 - time.tolerance), time.nominal * (1.0 + time.tolerance)


def sample_checks(period: Part, count: int, around: Surroundings, holds_back: bool = True) -> Iterator[Check]:
    """Both checks of a stage that takes ``count`` samples of a settled level to turn over, ``period`` (s)
    apart; ``holds_back`` False for one that is not meant to hold chatter back.
    """
    least, most = (period.nominal * (1.0 + sign * period.tolerance) for sign in (-1.0, 1.0))
    check = Check(
        "samples against the hand", around.subject,
        f"Every level lasts for {count} sample{'' if count == 1 else 's'}, wherever the samples fall.",
        "samples x period <= shortest level of the line",
        numbers=(Number("samples needed", count, ""), Number("period", most, SECOND)),
        corner="the period at its most", relation=AT_MOST, advice="a shorter period or fewer samples",
    )  # fmt: skip
    yield against_hand(check, around, count * most, around.shortest_level)
    check = Check(
        "samples against chatter", around.subject,
        "A return to the old state that is shorter than all but one of the periods needed cannot pass.",
        "(samples - 1) x period >= longest return to the old state",
        numbers=(Number("samples needed", count, ""), Number("period", least, SECOND)),
        relation=AT_LEAST, source=CHATTER, corner="the period at its least",
        advice="a longer period or more samples",
    )  # fmt: skip
    if holds_back:
        limit = None if around.chatter is None else around.chatter.back
        yield against_chatter(check, around, (count - 1) * least, limit)
    else:
        yield not_applicable(check, "a synchroniser is not meant to hold chatter back")
