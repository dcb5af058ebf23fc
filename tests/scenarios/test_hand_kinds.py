"""Vibration, paths, reversals and mixes: what a scenario says of them, and mistakes in it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from scenarios.loading.load import load_scenario
from simcore.base.records import empty_transitions
from simcore.engines.truth import columns_of, steps_per_run, transitions_per_run
from simcore.hand import base
from simcore.hand.base import Gesture
from simcore.hand.gestures import Member, Reversing, Vibration
from simcore.hand.paths import Path, path_of
from tests.scenarios.samples import SMALL, changed, load_text, only_problem
from tests.scenarios.test_mistakes import Mistake, after, instead

CLICK = 'gesture = "click"'
PATH = 'gesture = "path"\ntimes = ["0 s", "20 ms", "50 ms"]\nangles = ["3 deg", "12 deg", "3 deg"]\n'
MIX = """\
name = "mix"
gesture = "mix"
turns = 10
[hand.of.clicks]
gesture = "click"
weight = 3
[hand.of.wait]
gesture = "rest"
vibration = "1 deg"
duration = "0.2 s"
frequency = "10 Hz"
"""


def hand_of(text: str) -> tuple[Any, int, str]:
    """The one gesture of a hand, its rows and its kind."""
    (entry,) = load_text(changed(CLICK, text)).design.hand
    return entry.gesture, entry.moves, entry.kind


def test_vibration() -> None:
    """Degrees become steps; 25 swings to and fro a second for 0.4 s are 20 ways."""
    text = 'gesture = "rest"\nduration = "0.4 s"\nvibration = "0.9 deg"\nfrequency = "25 Hz"\n'
    assert hand_of(text + "vibration_spread = 0.2") == (Vibration(20, 0.05, 0.2, 0.4, 0.0), 20, "rest")


def test_a_path_counts_from_where_the_shaft_is() -> None:
    made = path_of([0.0, 0.02, 0.05], [0.0, 0.5, 0.0], True, base.DOWN, 0.1, 0.3, 0.0)
    assert hand_of(PATH + 'direction = "down"\npace_spread = "10 %"\nrepeats = 3') == (made, 6, "path")
    straight = path_of([0.0, 0.02, 0.05], [0.0, 0.5, 0.0], False, base.UP, 0.0, 0.3, 0.0)
    assert hand_of(PATH + 'interpolation = "linear"') == (straight, 2, "path")
    assert straight != made
    assert hash(straight) == hash(hand_of(PATH + 'interpolation = "linear"')[0])


@pytest.mark.parametrize("kind", ["click", "twist", "creep"])
def test_reversals(kind: str) -> None:
    plain, rows, word = hand_of(f'gesture = "{kind}"')
    assert isinstance(plain, Gesture)
    text = f'gesture = "{kind}"\nreversal = {{ chance = "20 %", low = 0.2, high = 0.4 }}'
    assert hand_of(text) == (Reversing(plain, 0.2, 0.2, 0.4), 3 * rows, word)
    assert hand_of(f'gesture = "{kind}"\nreversal = {{ low = 0.2 }}') == (plain, rows, word)


def test_a_mix() -> None:
    hand = load_text(changed(CLICK, MIX)).design.hand
    assert [entry.name for entry in hand] == ["mix: clicks", "mix: wait"]
    assert [entry.kind for entry in hand] == ["click", "rest"]
    clicks, wait = (entry.gesture for entry in hand)
    assert (clicks.low, clicks.high, clicks.rows, hand[0].moves) == (0.0, 0.75, 1, 10)
    assert (wait.low, wait.high, wait.rows, hand[1].moves) == (0.75, 2.0, 4, 40)
    assert clicks.gesture.moves == 1
    first, second = columns_of(hand)
    assert list(first[:3]) == [0, 5, 10]
    assert list(second[:5]) == [1, 2, 3, 4, 6]
    assert sorted([*first, *second]) == list(range(50))


def test_a_mix_behind_another_gesture_draws_on_its_own() -> None:
    more = MIX.replace('"mix"', '"more"', 1)
    hand = load_text(changed(CLICK, f"{CLICK}\n[[hand]]\n{MIX}[[hand]]\n{more}")).design.hand
    places = [entry.gesture.mix for entry in hand if isinstance(entry.gesture, Member)]
    assert places == [1, 1, 3, 3]
    assert sorted(np.concatenate(columns_of(hand))) == list(range(108))


def test_the_room_of_a_run_is_that_of_its_average() -> None:
    """Nine turns of ten are clicks of one step: the rest of the room is not for all turns of both."""
    design = load_text(changed(CLICK, MIX.replace("weight = 3", "weight = 9"))).design
    assert 9.0 + 1.0 < steps_per_run(design) < 10.0 + 2 * 50 + 2
    assert transitions_per_run(design) < 4 * (9 + 4) + 2 * 50 + 9
    assert len(empty_transitions(1, 1)) == len(empty_transitions(2, 1))


def test_paths_lead_into_a_mix() -> None:
    text = changed(CLICK, MIX)
    scenario = load_text(text, ["hand.mix.of.clicks.weight=1", "hand.mix.of.wait.duration=1 s"])
    assert scenario.design.hand[0].gesture.high == 0.5
    assert scenario.design.hand[1].gesture.rows == 20
    assert "hand.mix.of.clicks.duration" in scenario.paths
    more = load_text(text, ["hand.mix.of.twists.gesture=twist"]).design.hand
    assert [entry.name for entry in more] == ["mix: clicks", "mix: wait", "mix: twists"]


def test_ready_scenarios_show_them() -> None:
    assert isinstance(load_scenario("hesitant-turn").design.hand[0].gesture, Path)
    mixed = load_scenario("mixed-hand").design.hand
    assert isinstance(mixed[0].gesture.gesture, Reversing)
    assert mixed[0].words == "67 % of 16 turns, each 1 x 1"
    assert mixed[2].words == "11 % of 16 turns, each 1 x there and back"


MISTAKES = (
    instead(CLICK, 'gesture = "rest"\nvibration = "9 deg"', "line 12, hand.rest.vibration", "18 deg apart"),
    instead(CLICK, 'gesture = "rest"\nfrequency = "25"', "line 12, hand.rest.frequency", "unit is missing"),
    instead(CLICK, 'gesture = "rest"\nfrequency = "0 Hz"', "line 12, hand.rest.frequency", "from 0.1 Hz"),
    after(CLICK + "\n", "reversal = { chance = 0.1, low = 0.5, high = 0.2 }",
          "line 12, hand.click.reversal.high", "at least low, which is 50 %"),
    after(CLICK + "\n", "reversal = { chance = 2 }", "line 12, hand.click.reversal.chance", "from 0 to 1"),
    instead(CLICK, PATH.replace('"0 s"', '"1 s"'), "line 12, hand.path.times", "got 1 s", "begins with 0 s"),
    instead(CLICK, PATH.replace('"50 ms"', '"20 ms"'), "line 12, hand.path.times", "number 3",
            "more than 20 ms, the one before"),
    instead(CLICK, PATH.replace('"50 ms"', "50"), "line 12, hand.path.times", "got 50",
            "number 3", "no unit"),
    instead(CLICK, PATH.replace('"12 deg", ', ""), "line 13, hand.path.angles", "2 angles", "of the 3 times"),
    instead(CLICK, PATH.replace('"12 deg"', '"3 deg"'), "line 13, hand.path.angles", "angles that turn"),
    instead(CLICK, 'gesture = "path"\ntimes = "0 s"\nangles = ["0 deg", "1 deg"]', "line 12, hand.path.times",
            'got "0 s"', "a list of 2 to 1000 times"),
    instead(CLICK, PATH.replace('["0 s", "20 ms", "50 ms"]', '["0 s"]'), "line 12, hand.path.times",
            "got a list of 1"),
    instead(CLICK, 'gesture = "mix"', "line 10, hand.mix.of", '"of" is missing'),
    instead(CLICK, 'gesture = "mix"\nof = {}', "line 12, hand.mix.of", "got 0 gestures", "[hand.of.NAME]"),
    instead(CLICK, MIX.replace("weight = 3", "weight = 0").replace('"rest"', '"rest"\nweight = 0'),
            "line 14, hand.mix.of", "weights that are all 0"),
    instead(CLICK, MIX.replace("weight = 3", "weight = -1"), "line 16, hand.mix.of.clicks.weight", "from 0"),
    instead(CLICK, MIX.replace('"click"', '"clack"'), "line 15, hand.mix.of.clicks.gesture", 'mean "click"'),
    instead(CLICK, MIX.replace('"click"', '"mix"'), "line 15, hand.mix.of.clicks.gesture", 'got "mix"'),
    instead(CLICK, MIX.replace('"click"', '"click"\nclicsk = 2'), "line 16, hand.mix.of.clicks.clicsk",
            'mean "clicks"'),
    instead(CLICK, MIX.replace("of.clicks", "of.twist").replace('"click"', '"click"\nclicks = 0'),
            "line 16, hand.mix.of.twist.clicks", "from 1"),
    instead(CLICK, MIX.replace('"click"', '"click"\nname = "x"'), "line 16, hand.mix.of.clicks.name",
            "has its name from its table"),
    instead(CLICK, MIX.replace("of.clicks", 'of."a.b"'), "line 14, hand.mix.of.a.b.name", 'without "."'),
    instead(CLICK, MIX.replace('"1 deg"', '"20 deg"'), "line 19, hand.mix.of.wait.vibration", "18 deg apart"),
    instead(CLICK, MIX.replace('"rest"\nvibration = "1 deg"', '"spin"\nturns = 0.33').replace(
        'duration = "0.2 s"\nfrequency = "10 Hz"\n', ""), "line 19, hand.mix.of.wait.turns", "6.6 steps"),
    instead(CLICK, MIX.replace("turns = 10", "turns = 3000"), "line 10, hand", "15000 movements"),
)  # fmt: skip


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda each: f"{each.place} {each.words[0][:20]}")
def test_one_mistake_gives_one_message(mistake: Mistake) -> None:
    problem = only_problem(changed(mistake.old, mistake.new))
    assert problem.place == mistake.place
    for word in mistake.words:
        assert word in str(problem)


@pytest.mark.parametrize("option", ["hand.path.times.x=1 s", "hand.path.times.0=1 s"])
def test_an_option_does_not_reach_into_a_list(option: str) -> None:
    problem = only_problem(changed(CLICK, PATH), [option])
    assert "nothing below it" in str(problem)


def test_an_option_does_not_reach_into_the_lines_of_a_stage() -> None:
    text = changed('kind = "rc"\n', 'kind = "rc"\nlines = ["A", "B"]\n', SMALL)
    assert "nothing below it" in str(only_problem(text, ["filter.lines.x=1"]))
