"""[counter]: every kind, the prescaler, the tapped resistance, and the cautions about them."""

from __future__ import annotations

import pytest

from scenarios.loading.validation import tables_in
from scenarios.schema.kinds import COUNTERS
from scenarios.schema.tables import SchemaTable, fields_of
from simcore.base.draws import Part
from simcore.counters.clocked import ClockedQuadrature
from simcore.counters.driven import Driven
from simcore.counters.prescaled import Prescaled
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.counters.two_clock import TwoClock
from simcore.counters.whole_cycle import WholeCycle
from simcore.design import without_tolerances
from tests.scenarios.samples import changed, load_text, only_problem

OLD = '[counter]\nkind = "step-direction"\n'


def with_counter(text: str) -> str:
    """The small scenario with another counter."""
    return changed(OLD, f"[counter]\n{text}\n")


KINDS = {
    'kind = "two-clock"': TwoClock(0, 0, 1, 5_000_000, 0),
    'kind = "two-clock"\nclock = "B rising"\nup_when = "low"\npulse = "2 us"\nminimum = "500 ns"': TwoClock(
        1, 1, 0, 2_000_000, 500_000
    ),
    'kind = "clocked quadrature"\nperiod = "1 ms"': ClockedQuadrature(4, 1, Part(1e-3, 0.0), 0),
    'kind = "clocked quadrature"\nperiod = "1 ms"\ntolerance = { period = "5 %" }\ndecoding = "x1"\n'
    'up_when = "B leads"\ndouble_change = "repeat"': ClockedQuadrature(1, -1, Part(1e-3, 0.05), 2),
    'kind = "whole-cycle"': WholeCycle(1, 1),
    'kind = "whole-cycle"\nrest = "low"\nup_when = "B leads"': WholeCycle(0, -1),
    'kind = "quadrature"\nprescale = 4\nprescale_phase = 2': Prescaled(Quadrature(4, 1), 4, 2),
    'kind = "step-direction"\nprescale = 64': Prescaled(StepDirection(0, 0, 1, 0, 0, 0, 0, 0, 0), 64, 0),
    'kind = "whole-cycle"\nprescale = 1': WholeCycle(1, 1),
}


@pytest.mark.parametrize("text", KINDS)
def test_kinds_of_counters(text: str) -> None:
    assert load_text(with_counter(text)).design.counter == KINDS[text]


MISTAKES = [
    ('kind = "quadrature"\nprescale = 4\nprescale_phase = 4', "counter.prescale_phase", "0 to 3"),
    ('kind = "quadrature"\nprescale = 65', "counter.prescale", "from 1 to 64"),
    ('kind = "quadrature"\nprescale = 0', "counter.prescale", "from 1 to 64"),
    ('kind = "two-clock"\npulse = "1 us"\nminimum = "2 us"', "counter.minimum", "at most the pulse"),
    ('kind = "two-clock"\npulse = "0 s"', "counter.pulse", "from 1 ns"),
    ('kind = "clocked quadrature"', "counter.period", '"period" is missing'),
    ('kind = "whole-cycle"\nrest = "open"', "counter.rest", '"high" or "low"'),
    ('kind = "quadrature"\nresistance = { end_to_end = "10k" }', "counter.resistance", "2 positions or more"),
    (
        'kind = "quadrature"\npositions = 8\nends = "wrap"\nresistance = { end_to_end = "10k" }',
        "counter.resistance", 'ends = "stop"',
    ),
    ('kind = "quadrature"\npositions = 8\nresistance = { wiper = "100 ohm" }', "end_to_end", "missing"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "place", "message"), MISTAKES)
def test_mistakes(text: str, place: str, message: str) -> None:
    problem = only_problem(with_counter(text))
    assert place in problem.place
    assert message in str(problem)


def test_a_tapped_resistance() -> None:
    text = (
        'kind = "step-direction"\npositions = 100\n[counter.resistance]\nend_to_end = "10k"\n'
        'wiper = "100 ohm"\nstep_error = "20 %"\ntolerance = { end_to_end = "20 %" }'
    )
    scenario = load_text(with_counter(text))
    assert scenario.design.driven == Driven(Part(10e3, 0.2), Part(100.0, 0.0), Part(1.0, 0.2))
    assert scenario.resolved["counter"]["resistance"]["end_to_end"] == "10 kohm"
    assert "counter.resistance.tolerance.wiper" in scenario.paths
    plain = without_tolerances(scenario.design).driven
    assert plain == Driven(Part(10e3, 0.0), Part(100.0, 0.0), Part(1.0, 0.0))
    heavier = load_text(with_counter(text), ["counter.resistance.end_to_end=47k"])
    assert heavier.design.driven.end_to_end == Part(47e3, 0.2)
    assert load_text(with_counter('kind = "quadrature"')).design.driven is None


@pytest.mark.parametrize(
    ("encoder", "text", "wanted"),
    [
        ((20, 80), 'kind = "quadrature"\nprescale = 16', 1),
        ((20, 20), 'kind = "quadrature"\nprescale = 2', 2),
        ((24, 12), 'kind = "quadrature"\nprescale = 2', 1),
        ((20, 60), 'kind = "whole-cycle"\nprescale = 3', 1),
        ((20, 20), 'kind = "quadrature"\nprescale = 8', 1),
    ],
)
def test_a_fraction_of_a_count_per_cycle(encoder: tuple[int, int], text: str, wanted: int) -> None:
    detents, cycles = encoder
    sets = [f"encoder.detents={detents}", f"encoder.cycles={cycles}"]
    scenario = load_text(with_counter(text), sets)
    assert scenario.design.counts_per_step == wanted
    assert bool(scenario.cautions) == ("= 8" in text)


CURES = [
    ((20, 80), 'kind = "quadrature"\ncounts_per_step = 1', "this counter with prescale = 16 would fit"),
    (
        (20, 20), 'kind = "quadrature"\nprescale = 8',
        "one count per cycle (step-direction, two-clock, whole-cycle or x1) without a prescaler or this "
        "counter with prescale = 4 would fit",
    ),
    ((24, 12), 'kind = "whole-cycle"\ncounts_per_step = 1', "x2 decoding would fit"),
    ((24, 6), 'kind = "two-clock"\ncounts_per_step = 1', "x4 decoding would fit"),
    ((20, 30), 'kind = "two-clock"\ncounts_per_step = 1', "no decoder fits (x1 gives 1.5, x2 gives 3"),
]  # fmt: skip


@pytest.mark.parametrize(("encoder", "text", "cure"), CURES)
def test_the_caution_names_what_would_fit(encoder: tuple[int, int], text: str, cure: str) -> None:
    sets = [f"encoder.detents={encoder[0]}", f"encoder.cycles={encoder[1]}"]
    (caution,) = load_text(with_counter(text), sets).cautions
    assert cure in caution


@pytest.mark.parametrize(
    ("rest", "sees", "cure"),
    [
        (180, "both lines low", 'rest = "low" would fit'),
        (90, "A low and B high", "no rest state fits"),
        (-90, "A high and B low", "no rest state fits"),
    ],
)
def test_a_whole_cycle_counter_at_another_rest(rest: int, sees: str, cure: str) -> None:
    (caution,) = load_text(with_counter('kind = "whole-cycle"'), [f"encoder.rest={rest} deg"]).cautions
    assert sees in caution
    assert cure in caution


def tables() -> list[type[SchemaTable]]:
    """Every table of the section, the ones within others too."""
    found: list[type[SchemaTable]] = []
    waiting: list[type[SchemaTable]] = list(COUNTERS)
    while waiting:
        table = waiting.pop()
        if table not in found:
            found.append(table)
            for info in table.model_fields.values():
                waiting += tables_in(info.annotation)
    return found


@pytest.mark.parametrize("table", tables(), ids=lambda table: table.__name__)
def test_every_field_says_what_it_means(table: type[SchemaTable]) -> None:
    for key, info in fields_of(table).items():
        if key != "kind":
            assert info.description, f"{table.__name__}.{key}"
            assert len(info.description) < 90
