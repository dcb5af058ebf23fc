"""What a sweep says in sentences, from objects made by hand and from short sweeps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from reports.sentences import CAUSES
from reports.sweep_words import (
    BRIEF,
    axes_line,
    axis_text,
    ending_rule,
    headline,
    lowest_sentence,
    own_cautions,
    tells_window,
    window_rule,
    window_sentence,
)
from reports.window_export import windows_of
from scenarios.loading.ranges import Axis
from simcore.judging import sums
from simcore.statistics.stopping import Stop, Target
from tests.reports.sweeps import one_key, two_keys

Export = dict[str, Any]
PATH = "filter.capacitor"


def rate(low: float, estimate: float, high: float) -> Export:
    return {"low": low, "estimate": estimate, "high": high, "level": 0.95, "method": "by hand"}


def cell(number: int, value: str, meets: str | None, causes: Export, seen: Export) -> Export:
    group = {"wrong": sum(causes.values()), "wrong_rate": seen, "causes": causes, "meets_target": meets}
    return {"number": number, "values": {PATH: value}, **group, "by_gesture": [{"name": "clicks", **group}]}


def swept(rows: Sequence[tuple[str, str | None, Export, Export]], *, target: bool = True) -> Export:
    """A sweep of one key with the given cells, and its window."""
    values = tuple(value for value, *_ in rows)
    cells = [cell(number, *row) for number, row in enumerate(rows)]
    axis = Axis(PATH, "by hand", values, tuple(map(float, range(len(rows)))), "F")
    return {
        "axes": [{"path": PATH, "values": list(values), "numbers": list(axis.numbers or ())}],
        "cells": cells,
        "cells_asked": len(cells),
        "target": {"rate": 0.001, "text": "1 in 1000 steps"} if target else None,
        "window": windows_of([axis], cells, 0.001 if target else None),
    }


BAD, GOOD = rate(0.01, 0.02, 0.03), rate(0.0001, 0.0002, 0.0004)
CHATTER, SLOW = {"chatter": 90, "swallowed": 10}, {"swallowed": 40}
ROW = [
    ("10 nF", "no", CHATTER, BAD),
    ("22 nF", "undecided", CHATTER, rate(0.0005, 0.001, 0.002)),
    ("47 nF", "yes", {}, GOOD),
    ("100 nF", "yes", {"chatter": 1}, GOOD),
    ("220 nF", "no", SLOW, BAD),
]


def test_a_window_with_both_borders() -> None:
    export = swept(ROW)
    assert headline(export) == (
        "filter.capacitor meets the target from 47 nF to 100 nF. Below, 10 nF is outside: chatter passes "
        "(90.0 % of the wrong steps); 22 nF is open. Above, 220 nF is outside: edges swallowed (100 % of the "
        "wrong steps)."
    )


def test_a_window_of_one_value_and_open_ends() -> None:
    export = swept([ROW[1], ROW[2], ROW[1]])
    assert headline(export) == (
        "filter.capacitor meets the target at 47 nF. Below, no value tried is outside; 22 nF is open. Above, "
        "no value tried is outside; 22 nF is open."
    )


def test_no_window() -> None:
    export = swept([ROW[0], ROW[4]])
    assert headline(export) == (
        "No value of filter.capacitor is shown to meet the target. The lowest wrong rate that is well known "
        "is at 10 nF: 20 per 1,000 (95 % interval 10 to 30); main cause: chatter passes."
    )


def test_gaps_and_what_lies_apart() -> None:
    export = swept([ROW[2], ROW[0], ROW[2], ROW[1], ROW[3]])
    text = window_sentence(export, export["window"][0])
    assert "In between 22 nF is open." in text
    assert text.endswith("Apart from these: 47 nF.")


def test_without_a_target_the_window_is_near_the_lowest_rate() -> None:
    """Twice the upper bound 0.4 per 1,000 is the measure: the second is neither below nor above 0.8."""
    rows = [ROW[0], ("22 nF", None, CHATTER, rate(0.0005, 0.001, 0.002)), *ROW[2:]]
    export = swept([(value, None, causes, seen) for value, _, causes, seen in rows], target=False)
    window = export["window"][0]
    assert window["rate"] == pytest.approx(0.0008)
    assert window["standings"] == ["outside", "open", "within", "within", "outside"]
    assert headline(export).startswith("filter.capacitor gives rates near the lowest from 47 nF to 100 nF.")


def test_without_a_target_rates_of_which_twice_is_everything_make_no_window() -> None:
    """Twice 0.6 is above every rate there is, so a cell below it is not thereby a good one."""
    rows = [("10 nF", None, CHATTER, rate(0.9, 0.95, 0.97)), ("22 nF", None, CHATTER, rate(0.4, 0.5, 0.6))]
    export = swept(rows, target=False)
    assert export["window"][0]["standings"] == ["open", "open"]
    assert headline(export).startswith("No value of filter.capacitor could be judged. The lowest wrong rate")
    assert not tells_window(export)
    assert tells_window(swept(ROW))
    assert not tells_window({"window": []})


def test_a_cell_that_was_not_finished_is_open() -> None:
    export = swept(ROW)
    axis = Axis(PATH, "", tuple(value for value, *_ in ROW), (1.0, 2.0, 3.0, 4.0, 5.0))
    window = windows_of([axis], [each for each in export["cells"] if each["number"] != 2], 0.001)[0]
    assert window["standings"] == ["outside", "open", "open", "within", "outside"]
    assert (window["from"], window["below"]["open"]) == ("100 nF", ["47 nF", "22 nF"])


def test_each_gesture_of_several_has_its_window() -> None:
    export = one_key()
    assert [window["gesture"] for window in export["window"]] == [None, "clicks", "twists"]
    for window in export["window"][1:]:
        number = ["clicks", "twists"].index(window["gesture"])
        words = {"within": "yes", "outside": "no", "open": "undecided"}
        told_so = [each["by_gesture"][number]["meets_target"] for each in export["cells"]]
        assert [words[standing] for standing in window["standings"]] == told_so
    assert two_keys()["window"] == []


def test_every_root_cause_has_few_words() -> None:
    assert set(BRIEF) == set(CAUSES) == set(sums.CAUSES[1:])
    assert max(map(len, BRIEF.values())) <= 20


def test_rules_are_one_sentence_and_say_what_ends_a_cell() -> None:
    aim = Target(0.001)
    rules = [
        ending_rule(Stop(5000, target=aim), "1 in 1000 steps"),
        ending_rule(Stop(5000, target=Target(0.001, each=True)), "1 in 1000 steps"),
        ending_rule(Stop(5000, precision=0.1), None),
        ending_rule(Stop(5000), None),
    ]
    assert all("5,000 runs" in rule and rule.count(". ") == 0 for rule in rules)
    assert ending_rule(Stop(1, precision=0.1), None).endswith("after 1 run at the latest.")
    assert "at most 5 % are called better" in rules[0]
    assert "each gesture" in rules[1]
    assert "10 % of the rate" in rules[2]
    assert "0.5 %" in ending_rule(Stop(5000, precision=0.005), None)
    assert "1 in 1000 steps" in ending_rule(Stop(9), "1 in 1000 steps")
    assert "twice the lowest wrong rate" in window_rule(None)
    assert "--each-gesture" in window_rule("1 in 10")
    assert "--each-gesture" not in window_rule("1 in 10", each=True)
    assert "allow for all looks" in window_rule("1 in 10")
    by_interval = window_rule("1 in 10", looks=False)
    assert "by its 95 % interval." in by_interval
    assert "--each-gesture" not in by_interval


def test_axes_in_words() -> None:
    assert axis_text(["10 nF", "22 nF", "47 nF"], numeric=True) == "10 nF to 47 nF"
    assert axis_text(["10 nF"], numeric=True) == "10 nF"
    assert axis_text(["x1", "x2"], numeric=False) == "x1, x2"
    assert axis_text(list("abcdefgh"), numeric=False) == "a, b, c, d, e and 3 others"
    assert axes_line(two_keys()) == (
        "21 cells of up to 400 runs; filter.capacitor: 47 nF to 470 nF (7 values); filter.series: 470 ohm to "
        "2.2 kohm (3 values)."
    )


def test_of_two_keys_cells_are_counted_and_the_lowest_is_named() -> None:
    export = two_keys()
    count = {word: sum(each["meets_target"] == word for each in export["cells"]) for word in ("yes", "no")}
    text = headline(export)
    assert f"{count['yes']} {'is' if count['yes'] == 1 else 'are'} shown to meet" in text
    assert f"and {count['no']} to miss it" in text
    best = min(export["cells"], key=lambda each: each["wrong_rate"]["high"])
    assert ", ".join(f"{path} {value}" for path, value in best["values"].items()) in lowest_sentence(export)


def test_cautions_of_cells_are_told_once_with_where_they_hold() -> None:
    cells = [{"values": {"a.b": str(i)}, "cautions": ["Beware."] if i else []} for i in range(6)]
    assert own_cautions(cells) == ["At a.b 1; a.b 2; a.b 3 and 2 other cells: Beware."]
