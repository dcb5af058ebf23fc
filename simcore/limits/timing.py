"""Whether the network is quick enough for the hand and slow enough for the chatter."""

from __future__ import annotations

import math
from dataclasses import replace

from simcore.limits.bench import SECOND, Bench, numbers_at
from simcore.limits.chatter import Chatter
from simcore.limits.hand import NONE, Shortest
from simcore.limits.records import AT_LEAST, AT_MOST, CIRCUITS, Check, Number, judged, spared
from simcore.limits.sections import Section, lines_words, parts_of, turning, worst
from simcore.stages.interlock import Interlock
from simcore.stages.lockout import Lockout
from simcore.stages.one_shot import OneShot
from simcore.stages.quiet_time import QuietTime
from simcore.stages.sampled import Sampled

FILTERS = (QuietTime, Lockout, OneShot, Sampled, Interlock)
"""What holds chatter back as a logic level."""
TO_THRESHOLD = "tau ln((V_end - V_start) / (V_end - V_threshold))"
HAND = (
    "the hand of the scenario: each time as short as one in a thousand, angles at the ends of their "
    "tolerances"
)


def charge(bench: Bench, section: Section) -> Check:
    """Charge time to the rising threshold."""
    check = Check(
        "charge time", section.subject,
        f"The voltage rises past the threshold before the contact, {_state(section.charging)}, "
        "changes again: else an edge is lost. Chatter takes its part of that time.",
        f"{TO_THRESHOLD} <= shortest time that the contact stays {_state(section.charging)}",
        advice="a smaller capacitor",
    )  # fmt: skip
    return _against_dwell(check, bench, section, section.charging)


def discharge(bench: Bench, section: Section) -> Check:
    """Discharge time to the falling threshold."""
    closed = 1 - section.charging
    check = Check(
        "discharge time", section.subject,
        f"The voltage falls past the threshold before the contact, {_state(closed)}, changes again: "
        "else an edge is lost. Chatter takes its part of that time.",
        f"{TO_THRESHOLD} <= shortest time that the contact stays {_state(closed)}",
        advice="a smaller capacitor",
    )  # fmt: skip
    return _against_dwell(check, bench, section, closed)


def _state(closed: int) -> str:
    return "closed" if closed else "open"


def _dwell(bench: Bench, section: Section, closed: int) -> Shortest:
    """The shortest time that a contact of the section stays open or closed."""
    return min((bench.hand.dwell.get((line, closed), NONE) for line in section.lines), default=NONE)


def _against_dwell(check: Check, bench: Bench, section: Section, closed: int) -> Check:
    found = worst(bench.design, section, lambda corner: turning(section, corner, closed), True)
    logic = found.corner.logic
    threshold = logic.rising if closed == section.charging else logic.falling
    dwell = _dwell(bench, section, closed)
    check = replace(
        check, corner=found.words, result=found.value, relation=AT_MOST, limit=dwell.seconds, unit=SECOND,
        numbers=(*numbers_at(bench.design, section, found.corner), Number("threshold", threshold, "V")),
        source=f"{HAND}; the formula: {CIRCUITS}",
    )  # fmt: skip
    if math.isinf(dwell.seconds):
        return spared(replace(check, limit=None), "the hand turns nothing whose times are known")
    why = f"shortest in {dwell.gesture}"
    if math.isinf(found.value):
        return judged(replace(check, why=f"the voltage never gets to the threshold; {why}"))
    return judged(replace(check, why=why))


GAP = Check(
    "open gap ridden through", "",
    "Chatter after a make opens the contact for moments; an opening too short for the voltage to get "
    "from its rest to the threshold goes unnoticed.",
    f"{TO_THRESHOLD} >= longest opening in a make's chatter",
    relation=AT_LEAST, unit=SECOND,
    source="the contacts of the scenario: one burst in a thousand holds a longer opening, at the median "
    f"pace of the slowest gesture; the formula: {CIRCUITS}",
    advice="a larger capacitor",
)  # fmt: skip


def ride_through(bench: Bench, section: Section) -> Check:
    """The longest open gap that the network bridges against that of the contacts."""
    found = worst(bench.design, section, lambda corner: turning(section, corner, 0), False)
    logic = found.corner.logic
    threshold = logic.falling if section.charging else logic.rising
    check = replace(
        GAP, subject=section.subject, corner=found.words, result=found.value, advice=_bridge(section),
        numbers=(*numbers_at(bench.design, section, found.corner), Number("threshold", threshold, "V")),
    )  # fmt: skip
    return _against_chatter(check, bench, section.lines)


def _bridge(section: Section) -> str:
    """What would help a network, with a capacitor or without."""
    if any("capacitor" in key for key, _ in parts_of(section.network)):
        return GAP.advice
    return "a capacitor, a filter, or a counter that chatter cannot mislead"


def unbridged(bench: Bench) -> Check | None:
    """The same for lines that are read as logic at once; None if there are none."""
    lines = tuple(n for n in (0, 1) if not any(n in section.lines for section in bench.sections))
    if not lines:
        return None
    check = replace(
        GAP, subject=f"{lines_words(lines)}, read as logic", result=0.0,
        corner="there is no network", advice="a network, a filter, or a counter that chatter cannot mislead",
    )  # fmt: skip
    return _against_chatter(check, bench, lines)


def _against_chatter(check: Check, bench: Bench, lines: tuple[int, ...]) -> Check:
    chatter = bench.chatter
    if chatter is None:
        return spared(check, "the contacts come from another package")
    if chatter.back_make == 0.0:
        return spared(check, "the contacts do not open once they have closed")
    if check.result == 0.0 and _filtered(bench, lines):
        return spared(check, "there is no capacitor, and a stage behind it does the filtering")
    return judged(replace(check, limit=chatter.back_make, why=_pace(chatter)))


def _filtered(bench: Bench, lines: tuple[int, ...]) -> bool:
    """Whether every line passes a filter of logic levels."""
    filters = [entry for entry in bench.design.stages if isinstance(entry.item, FILTERS)]
    return all(any(line in entry.lines for entry in filters) for line in lines)


def _pace(chatter: Chatter) -> str:
    return (
        f"the slowest crossing takes {chatter.slow * 1e3:.3g} ms for a degree of shaft"
        if chatter.slow
        else ""
    )
