"""All checks of a scenario: those of simcore.checks, and those that need the scenario's words."""

from __future__ import annotations

from dataclasses import replace

from scenarios.loading.cautions import clearance, cure, undecided
from scenarios.loading.load import Scenario
from simcore.base.check import AT_LEAST, EQUAL, FAIL, PRACTICE, Check, Number, judged, not_applicable
from simcore.base.description import FormulaValue
from simcore.checks.checking import check_design
from simcore.counters.facts import clocking
from simcore.design import Design, fits, geometric_counts

YEARS = 3.156e7
LEAST_INTERVAL = 10.0 * YEARS
"""Mean time (s) between failures of a synchroniser that is taken as enough: common practice, no source."""


def check_scenario(scenario: Scenario, suggest: bool = True) -> tuple[Check, ...]:
    """Every check, in the order in which they are shown; with ``suggest`` also what would help."""
    design = scenario.design
    detents = scenario.resolved["encoder"]["detents"] > 0
    return (
        counts_per_step(design),
        clock_line(design, detents),
        *check_design(design, suggest),
        *(synchroniser(stage, figure) for stage, figure in scenario.figures),
    )


def counts_per_step(design: Design) -> Check:
    given = geometric_counts(design)
    check = judged(
        Check(
            "counts per detent", "encoder and counter",
            "One step of the encoder gives just the counts that are wanted of it, by geometry alone.",
            "counts per cycle of the decoder x cycles per step = counts wanted, a whole number",
            numbers=(
                Number("cycles per step", design.geometry.cycles_per_step, ""),
                Number("counts wanted", design.counts_per_step, ""),
            ),
            corner="nominal angles", result=given, relation=EQUAL, limit=float(design.counts_per_step),
            source="counts per cycle: the kind of counter",
        )
    )  # fmt: skip
    if check.verdict == FAIL:
        return replace(check, advice=cure(design))
    if not fits(design):
        why = "the counter counts from another rest state than the encoder's"
        return replace(
            check, verdict=FAIL, why=why, advice="another rest level of the counter or the encoder"
        )
    return check


def clock_line(design: Design, detents: bool) -> Check:
    """Whether the clock's contact is surely at rest at a detent."""
    spec = clocking(design.counter)
    check = Check(
        "line to clock from", "encoder and counter",
        "The contact that clocks the counter has no boundary so near the rest position that it may chatter, "
        "or stand either way, at rest.",
        "distance of its nearest boundary from the rest position >= tolerances + vibration",
        relation=AT_LEAST, unit="deg", source=PRACTICE,
        corner="tolerances of rest, phase and span added up; electrical degrees",
    )  # fmt: skip
    if spec is None:
        return not_applicable(check, "the counter has no clock line")
    if not detents:
        return not_applicable(check, "an encoder without detents rests anywhere")
    away, reach = clearance(design)
    clock, other = "AB"[spec.clock], "BA"[spec.clock]
    check = judged(
        replace(
            check, subject=f"contact {clock}", result=360.0 * away[spec.clock], limit=360.0 * reach,
            numbers=(
                Number("distance", 360.0 * away[spec.clock], "deg"), Number("reach", 360.0 * reach, "deg"),
            ),
        )
    )  # fmt: skip
    if clock not in undecided(design):
        return check
    advice = f"clock from line {other}" if other not in undecided(design) else "no line is safe to clock from"
    return replace(check, verdict=FAIL, advice=advice)


def synchroniser(stage: str, figure: FormulaValue) -> Check:
    """A computed time between failures."""
    return judged(
        Check(
            "time between failures", stage,
            "A flip-flop caught by a change may stay undecided beyond its time; that is rare enough.",
            figure.source,
            corner="as stated", result=figure.value, relation=AT_LEAST, limit=LEAST_INTERVAL,
            unit=figure.unit, source=f"ten years: {PRACTICE}",
            advice="more settling time, or one more flip-flop",
        )
    )  # fmt: skip
