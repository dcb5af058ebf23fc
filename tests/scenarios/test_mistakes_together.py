"""Mistakes in how values go together, and all mistakes of a file at once."""

from __future__ import annotations

import pytest

from scenarios.loading.messages import ScenarioError
from tests.scenarios.samples import SMALL, changed, only_problem, problems_of
from tests.scenarios.test_mistakes import CLEAN, COUNTER, CYCLES, Mistake, after, instead

INPUT = 'kind = "schmitt input"\nrising = "1.9 V"\nfalling = "1.2 V"\n'

GEOMETRY = (
    after(CYCLES, 'phase = "0 deg"', "line 6, encoder.phase", "B would not follow A"),
    after(CYCLES, 'tolerance = { closed = "50 deg", phase = "40 deg" }', "line 3, encoder.phase",
          "phase 90 deg +- 40 deg", "closed 180 deg +- 50 deg"),
    after(CYCLES, 'closed = "90 deg"', "line 3, encoder.phase", "never closed at once"),
    after(CYCLES, 'closed = "270 deg"', "line 6, encoder.closed", "never open at once"),
)  # fmt: skip

STAGES = (
    instead('"1.2 V"', '"70 %"', "line 23, schmitt input.falling", "2.31 V", "at most rising", "1.9 V"),
    instead(INPUT, 'kind = "plain input"\nlow = "2 V"\nhigh = "0.8 V"\n', "line 22, plain input.low",
            "at most high, which is 0.8 V"),
    instead(INPUT, 'kind = "pull-up"\npull_up = "1k"\n', "line 20, pull-up",
            'got "filter (rc) -> pull-up (pull-up)"', "one to a line"),
    instead(f"[[stage]]\n{INPUT}", "", "line 13, filter", "nothing reads", "put an input after it"),
    instead(INPUT, f"{INPUT}[[stage]]\n{INPUT}", "line 24, schmitt input 2", "one input to a line"),
)  # fmt: skip

COUNTERS = (
    after(COUNTER, 'direction = "A"', "line 27, counter.direction", 'the clock is "A falling"', '"B"'),
    after(COUNTER, "positions = 10\nstart = 10", "line 28, counter.start", "got 10", "from 0 to 9"),
    after(COUNTER, "positions = 10\nstart = -1", "line 28, counter.start", "from 0 to 9"),
)  # fmt: skip

CONTACTS = (
    instead(CLEAN, 'kind = "wiping"\nmake = { gap_low = "700 us" }\n', "line 9, contacts.make.gap_high",
            "expected at least gap_low, which is 700 us"),
    instead(CLEAN, 'kind = "wiping"\nbreak = { straggler_high = "1 ms" }\n',
            "line 9, contacts.break.straggler_high", "got 1 ms", "straggler_low, which is 2 ms"),
)  # fmt: skip

HANDS = (
    instead('"click"\n', '"spin"\nturns = 0.33\n', "line 12, hand.spin.turns", "6.6 steps", "whole step"),
    instead('"click"\n', '"spin"\nturns = 0\n', "line 12, hand.spin.turns", "0 steps", "at least one"),
    instead('"click"\n', '"rock"\nextent = { low = 0.5, high = "20 %" }\n',
            "line 12, hand.rock.extent.high", "expected at least low, which is 50 %"),
    instead('"click"\n', '"rock"\nextent = { high = 1.0 }\n', "line 12, hand.rock.extent.high", "to 0.999"),
    instead('"click"\n', '"click"\nclicks = 6000\n[[hand]]\ngesture = "rock"\nrocks = 3000\n',
            "line 10, hand", "12000 movements", "expected at most 10000"),
    instead('"click"\n', '"twist"\ntwists = 100\ndetents = 300\n', "line 10, hand",
            "30000 steps", "expected at most 20000"),
    instead('"click"\n', '"rest"\nduration = "1 h"\n' + '[[hand]]\ngesture = "rest"\nduration = "1 h"\n' * 30,
            "line 10, hand", "111600 seconds", "expected at most 100000"),
)  # fmt: skip


@pytest.mark.parametrize(
    "mistake", [*GEOMETRY, *STAGES, *COUNTERS, *CONTACTS, *HANDS], ids=lambda each: each.new[:40]
)
def test_values_that_do_not_go_together(mistake: Mistake) -> None:
    problem = only_problem(changed(mistake.old, mistake.new))
    assert problem.place == mistake.place
    for word in mistake.words:
        assert word in str(problem)


def test_a_run_of_too_many_changes_or_boundaries_is_refused() -> None:
    text = changed('"click"\n', '"twist"\ntwists = 40\ndetents = 200\n')
    assert problems_of(text) == ()
    noisy = ["contacts.kind=telegraph", "contacts.make.pairs=200", "contacts.wear=1"]
    assert "changes of the contacts" in only_problem(text, noisy).read
    assert "boundaries" in only_problem(text, ["encoder.cycles=1000"]).read


@pytest.mark.parametrize(
    "text",
    [
        changed('falling = "1.2 V"', 'falling = "1.9 V"'),
        changed('rising = "1.9 V"', 'rising = "9 V"'),
        changed('capacitor = "100 nF"', 'capacitor = "0 F"'),
        changed(COUNTER, COUNTER + "positions = 10\nstart = 9\n"),
        changed(COUNTER, COUNTER + "start = -1000\n"),
        changed(CYCLES, CYCLES + 'tolerance = { closed = "50 deg", phase = "39 deg", rest = "180 deg" }\n'),
    ],
)
def test_what_is_odd_but_possible_is_taken(text: str) -> None:
    assert problems_of(text) == ()


def test_all_mistakes_of_a_file_at_once_in_its_order() -> None:
    text = SMALL
    for old, new in (
        ('title = "small"', "seed = -1\nrnus = 3"),
        ("cycles = 20", 'cycles = "20"'),
        ('kind = "clean"', 'part = "ordinry"\nwear = "x"'),
        ('gesture = "click"', 'gesture = "clik"\n\n[[hand]]\ngesture = "twist"\nduration = "10 V"\nfoo = 1'),
        ('pull_up = "4k7"', 'pullup = "4k7"'),
        ('falling = "1.2 V"', 'falling = "2 V"\n\n[[stage]]\nkind = "plain input"\nlow = 1\nhigh = "x"'),
        (COUNTER, COUNTER + 'setup = "1 V"\npositions = -1\n\n[target]\nwrong = "never"\n'),
    ):
        text = changed(old, new, text)
    places = [problem.place for problem in problems_of(text, ["filter.capacitor=1 nX", "foo.bar=1"])]
    assert places == [
        "line 1, seed", "line 2, rnus", "line 6, encoder.cycles", "line 9, contacts.part",
        "line 13, hand.clik.gesture", "line 17, hand.twist.duration", "line 18, hand.twist.foo",
        "line 20, filter.pull_up", "line 23, filter.pullup", "line 30, schmitt input.falling",
        "line 34, plain input.low", "line 35, plain input.high", "line 39, counter.setup",
        "line 40, counter.positions", "line 43, target.wrong",
        "--set filter.capacitor=1 nX", "--set foo.bar=1",
    ]  # fmt: skip


def test_the_message_of_the_exception_lists_all() -> None:
    with pytest.raises(ScenarioError, match=r"(?s)line 4.*\n.*line 5"):
        raise ScenarioError(problems_of(SMALL.replace("= 20", '= "20"')))


def test_a_flood_of_mistakes_is_cut_off() -> None:
    found = problems_of("".join(f"k{i} = 1\n" for i in range(1500)) + SMALL)
    assert len(found) == 1001
    assert found[-1].message == "and 500 more mistakes"


@pytest.mark.parametrize("table", ['[[stage]]\nkind = "rc"\n', '[[hand]]\ngesture = "click"\n'])
def test_a_flood_of_tables_is_refused(table: str) -> None:
    (problem, *_) = problems_of(SMALL + table * 501)
    assert f"expected at most 500 tables {table[:7].strip()}" in problem.message
