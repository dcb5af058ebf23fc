"""Time filters, interlock and pick-up in scenarios: their records, their messages, their ready scenarios."""

from __future__ import annotations

import math

import pytest

from scenarios.loading.load import load_scenario
from simcore.base.draws import Part
from simcore.campaigns.campaign import run_campaign
from simcore.judging.sums import REVERSED
from simcore.judging.tally import Tally
from simcore.stages.interlock import Interlock
from simcore.stages.lockout import Lockout
from simcore.stages.one_shot import OneShot
from simcore.stages.pickup import LOW, PickUp
from simcore.stages.quiet_time import QuietTime
from tests.scenarios.samples import SMALL, changed, load_text, only_problem

COUNTER = "[counter]\n"


def with_stage(keys: str) -> str:
    """The small scenario with one more stage behind its input."""
    return changed(COUNTER, f'[[stage]]\nname = "more"\n{keys}\n\n{COUNTER}', SMALL)


def numbers(item: object) -> list[float]:
    """The numbers of a record and of the parts in it."""
    return [x for each in item for x in numbers(each)] if isinstance(item, tuple) else [float(str(item))]


@pytest.mark.parametrize(
    ("keys", "item"),
    [
        ('kind = "quiet time"\ntime = "1 ms"\ntolerance = "10 %"', QuietTime(Part(1e-3, 0.1))),
        ('kind = "lockout"\ntime = "0 s"', Lockout(Part(0.0, 0.0))),
        (
            'kind = "one-shot"\nresistor = "10k"\ncapacitor = "100 nF"',
            OneShot(Part(10e3, 0.0), Part(100e-9, 0.0), math.log(3.0), 0, 0, 0),
        ),
        (
            'kind = "one-shot"\nresistor = "10k"\ncapacitor = "100 nF"\nfactor = 0.55\ntrigger = "rising"\n'
            'output = "high"\nretriggerable = true\ntolerance = { resistor = "1 %", capacitor = "5 %" }',
            OneShot(Part(10e3, 0.01), Part(100e-9, 0.05), 0.55, 1, 1, 1),
        ),
        ('kind = "interlock"', Interlock(20e-9)),
        ('kind = "interlock"\nlines = ["B", "a"]\ndelay = "1 us"', Interlock(1e-6)),
        (
            'kind = "pick-up"\nrate = 20\nwidth = "20 us"\nspread = 0.5\npolarity = "low"',
            PickUp(20.0, 20e-6, 0.5, LOW),
        ),
    ],
)
def test_each_kind_arrives_in_its_record(keys: str, item: object) -> None:
    built = load_text(with_stage(keys)).design.stages[-1]
    assert numbers(built.item) == pytest.approx(numbers(item))
    assert type(built.item) is type(item)
    assert built.lines == (0, 1)


@pytest.mark.parametrize(
    ("keys", "place", "words"),
    [
        ('kind = "quiet time"', "more.time", ['"time" is missing']),
        ('kind = "quiet time"\ntime = 5', "more.time", ["unit"]),
        ('kind = "lockout"\ntime = "2 s"', "more.time", ["to 1 s"]),
        ('kind = "lockout"\ntime = "2 V"', "more.time", ["2 V"]),
        ('kind = "one-shot"\nresistor = "0R"\ncapacitor = "1 nF"', "more.resistor", ["above"]),
        (
            'kind = "one-shot"\nresistor = "1k"\ncapacitor = "1 nF"\nfactor = "2"',
            "more.factor",
            ["plain number"],
        ),
        (
            'kind = "one-shot"\nresistor = "1k"\ncapacitor = "1 nF"\ntrigger = "fall"',
            "more.trigger",
            ["falling"],
        ),
        ('kind = "interlock"\nlines = ["A"]', "more.lines", ['["A"]', "both lines together", '["A", "B"]']),
        ('kind = "interlock"\nlines = "A"', "more.lines", ["expected"]),
        ('kind = "pick-up"\nrate = -1\nwidth = "1 us"', "more.rate", ["from 0 to"]),
        (
            'kind = "pick-up"\nrate = 1\nwidth = "1 us"\npolarity = "up"',
            "more.polarity",
            ['"either"', '"low"'],
        ),
        ('kind = "pick-up"\nrate = 1e6\nwidth = "1 us"', "hand", ["changes by pick-up", "shorten the hand"]),
        ('kind = "lock-out"\ntime = "1 ms"', "more.kind", ['mean "lockout"']),
    ],
)
def test_mistakes_give_one_message(keys: str, place: str, words: list[str]) -> None:
    problem = only_problem(with_stage(keys))
    told = str(problem)
    assert place in told
    for word in words:
        assert word in told


def test_pick_up_ahead_of_a_network_is_told_where_to_stand() -> None:
    text = changed("[[stage]]\n", '[[stage]]\nkind = "pick-up"\nrate = 1\nwidth = "1 us"\n\n[[stage]]\n')
    assert "must be the first thing after contact" in str(only_problem(text))


@pytest.mark.parametrize(
    ("trigger", "output", "flips"), [("falling", "low", 1), ("falling", "high", 0), ("rising", "low", 0)]
)
def test_the_level_of_a_one_shot_at_rest_is_known(trigger: str, output: str, flips: int) -> None:
    """A pulse stands for the level that its trigger leads to, whatever the pulse's own level."""
    keys = (
        f'kind = "one-shot"\nresistor = "1k"\ncapacitor = "1 nF"\ntrigger = "{trigger}"\noutput = "{output}"'
    )
    assert load_text(with_stage(keys)).design.chain.flips == (flips, flips)


def ready(name: str, runs: int) -> Tally:
    """What becomes of a ready scenario."""
    return run_campaign(load_scenario(name).design, seed=1, runs=runs).tally


def wrong_by_gesture(tally: Tally) -> dict[str, float]:
    """Share of wrong steps of each gesture."""
    steps = tally.sums.steps.sum(axis=(1, 2, 4))
    return {
        name: float(row[2:].sum() / row.sum()) if row.sum() else 0.0
        for name, row in zip(tally.gestures, steps, strict=True)
    }


def test_long_leads_count_by_themselves_until_a_quiet_time_stops_them() -> None:
    loud, quiet = ready("long-leads", 50), ready("long-leads-quiet", 50)
    assert int(loud.sums.spurious[0]) > 20 * 50
    assert int(quiet.sums.spurious[0]) == 0
    assert quiet.wrong == 0


def test_the_interlock_is_right_one_way_and_wrong_at_reversals() -> None:
    tally = ready("interlock", 100)
    wrong = wrong_by_gesture(tally)
    assert wrong["one way"] < 0.01 < 0.05 < wrong["to and fro"]
    assert wrong["half turns"] > 0.9
    reversed_ones = tally.sums.steps[1, :, :, REVERSED, :].sum()
    assert reversed_ones > 0.9 * tally.sums.steps[1, :, :, 2:, :].sum()


def test_a_quiet_time_does_better_than_a_lockout_or_a_one_shot() -> None:
    assert ready("quiet-time", 100).wrong < ready("lockout", 100).wrong / 3
    wrong = wrong_by_gesture(ready("one-shot", 100))
    assert wrong["clicks"] < 0.02 < 0.3 < wrong["twists"]
