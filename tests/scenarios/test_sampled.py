"""Sampled stages as a scenario states them: what is built, what is refused, what is computed."""

from __future__ import annotations

import pytest

from scenarios.loading.load import Scenario, load_scenario
from scenarios.loading.written import as_toml
from simcore.base.draws import Part
from simcore.stages.clock import Clock
from simcore.stages.sampled import Agree, Integrate, Majority, Sampled
from simcore.stages.synchroniser import LONGEST, Synchroniser
from simcore.statistics.exact import clopper_pearson
from tests.scenarios.samples import SMALL, changed, load_text, only_problem
from tests.scenarios.test_catalogue import tally, wrong

COUNTER = "[counter]\n"
FAILURES = (
    'settling = "80 ns"\nsettling_constant = "1.5 ns"\nfailure_window = "0.4 s"\nchange_every = "10 us"\n'
)


def with_stage(text: str) -> str:
    """The small sample with one more stage before its counter."""
    return changed(COUNTER, f"[[stage]]\n{text}{COUNTER}")


def staged(text: str) -> Scenario:
    """The same, loaded."""
    return load_text(with_stage(text))


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ('kind = "agree"\nperiod = "250 us"\nsamples = 3\n',
         Sampled(Clock(Part(250e-6, 0.0), 1), Agree(3))),
        ('kind = "integrate"\nperiod = "1 ms"\nsamples = 8\nshared_clock = false\n',
         Sampled(Clock(Part(1e-3, 0.0), 0), Integrate(8))),
        ('kind = "majority"\nperiod = "1 ms"\nsamples = 5\nneeded = 3\ntolerance = { period = "2 %" }\n',
         Sampled(Clock(Part(1e-3, 0.02), 1), Majority(5, 3))),
        ('kind = "synchroniser"\nperiod = "1 us"\n', Synchroniser(Clock(Part(1e-6, 0.0), 1), 2, 0.0)),
        ('kind = "synchroniser"\nperiod = "1 us"\nflip_flops = 3\nwindow = "5 ns"\n',
         Synchroniser(Clock(Part(1e-6, 0.0), 1), 3, 5e-9)),
    ],
)  # fmt: skip
def test_what_is_built(text: str, item: object) -> None:
    scenario = staged(text)
    assert scenario.design.stages[-1].item == item
    assert scenario.figures == ()
    assert load_text(as_toml(scenario.resolved)).design == scenario.design


MAJORITY = 'kind = "majority"\nperiod = "1 ms"\nsamples = 5\n'
FLOPS = 'kind = "synchroniser"\nperiod = "1 us"\n'


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ('kind = "agree"\nsamples = 3\n', "agree.period", ("missing", '"500 us"')),
        ('kind = "agree"\nperiod = "1 kHz"\nsamples = 3\n', "agree.period", ('got "1 kHz"', "a time")),
        ('kind = "agree"\nperiod = "0 s"\nsamples = 3\n', "agree.period", ("from 1 ns to 1 s",)),
        ('kind = "agree"\nperiod = "1 ms"\nsamples = 65\n', "agree.samples", ("from 1 to 64",)),
        ('kind = "integrate"\nperiod = "1 ms"\nsamples = 0\n', "integrate.samples", ("from 1 to 1000000",)),
        (MAJORITY + "needed = 2\n", "majority.needed", ("got 2", "majority of 5 samples, 3 to 5")),
        (MAJORITY + "needed = 6\n", "majority.needed", ("got 6", "3 to 5")),
        (FLOPS + 'window = "1 us"\n', "synchroniser.window", ("below the shortest period, 1 us",)),
        (FLOPS + 'window = "955 ns"\ntolerance = { period = "5 %" }\n', "synchroniser.window", ("950 ns",)),
        (FLOPS + FAILURES.replace("settling_", "#"), "synchroniser.settling",
         ("no settling_constant", "all of them or none")),
        (FLOPS + FAILURES.replace('"0.4 s"', '"0 s"'), "synchroniser.failure_window", ("above 0 s",)),
    ],
)  # fmt: skip
def test_one_mistake_gives_one_message(text: str, place: str, words: tuple[str, ...]) -> None:
    problem = only_problem(with_stage(text))
    assert problem.place.endswith(f", {place}")
    for word in words:
        assert word in str(problem)


def failure_seconds(text: str) -> float:
    """The one figure of a synchroniser."""
    ((stage, figure),) = staged(text).figures
    assert (stage, figure.unit) == ("synchroniser", "s")
    return figure.value


def test_time_between_failures() -> None:
    """Wakerly, Digital Design (from memory): 80 ns at 10 MHz, 100,000 changes a second: 3.6e11 s."""
    text = 'kind = "synchroniser"\nperiod = "100 ns"\n' + FAILURES
    assert failure_seconds(text) == pytest.approx(3.6334e11, rel=1e-4)
    assert failure_seconds(text + "flip_flops = 1\n") == failure_seconds(text)
    two_more = failure_seconds((text + "flip_flops = 4\n").replace('"80 ns"', '"10 ns"'))
    assert two_more == pytest.approx(failure_seconds(text.replace('"80 ns"', '"30 ns"')), rel=1e-12)


def test_a_time_between_failures_beyond_all_numbers_is_a_bound() -> None:
    text = 'kind = "synchroniser"\nperiod = "1 ms"\n' + FAILURES.replace('"80 ns"', '"1 ms"')
    ((_, figure),) = staged(text).figures
    assert figure.value == LONGEST
    assert figure.label.endswith("at least")


def test_a_network_needs_an_input_before_a_clock() -> None:
    kind = '[[stage]]\nname = "sampler"\nkind = "agree"\nperiod = "1 ms"\nsamples = 2\n'
    assert "put an input after it" in str(
        only_problem(changed('[[stage]]\nkind = "schmitt', kind + '[[stage]]\nkind = "schmitt'))
    )
    assert SMALL.count("[[stage]]") == 2


def test_ready_agreeing_samples_do_without_a_capacitor() -> None:
    """It meets its target, judged by runs with any error, as a run is one unit in one hand."""
    scenario, found = load_scenario("sampled-agree"), tally("sampled-agree", runs=1000)
    assert scenario.target is not None
    upper = clopper_pearson(found.runs - found.exact_runs, found.runs, 0.95).high
    assert upper * found.runs / found.steps < scenario.target.rate
    slow = tally("sampled-agree", "sampler.period=1.5 ms")
    assert next(iter(slow.causes)) == "swallowed"
    assert wrong(slow) > 0.01


def test_ready_majority_beats_agreement_and_the_barest_majority_on_tired_contacts() -> None:
    vote = wrong(tally("sampled-majority"))
    assert wrong(tally("sampled-majority", "vote.needed=15")) > 10 * vote
    assert wrong(tally("sampled-majority", "vote.needed=8")) > 5 * vote
    assert 0.0 < vote < 0.01


def test_ready_synchroniser_is_no_filter() -> None:
    alone = tally("synchroniser-alone")
    assert wrong(alone) == pytest.approx(wrong(tally("no-filter")), rel=0.03)
    assert next(iter(alone.causes)) == "chatter"
    ((stage, figure),) = load_scenario("synchroniser-alone").figures
    assert stage == "flip-flops"
    assert figure.value == pytest.approx(3.154 * 100e3 / 500.0, rel=1e-3)
