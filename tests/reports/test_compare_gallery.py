"""The steps that a comparison shows: found again in both designs, and drawn as they went."""

from __future__ import annotations

import pytest

from reports.compare_gallery import MOST_STEPS
from scenarios.loading.comparison import load_compared
from simcore.tracing.tracing import trace_run
from tests.reports.comparisons import KNOB, LARGER, SMALLER, Export, made

WRONG = {"missed", "doubled", "reversed"}


@pytest.fixture(scope="module")
def export() -> Export:
    return made(LARGER, SMALLER)


def test_each_step_went_wrong_in_one_design_only_as_the_runs_themselves_tell(export: Export) -> None:
    designs = load_compared([KNOB], [LARGER, SMALLER])
    steps = export["gallery"]["steps"]
    assert {tuple(item["numbers"]) for item in steps} == {(1, 2), (1, 3)}
    for item in steps:
        assert sum(side["verdict"] in WRONG for side in item["sides"]) == 1
        for number, side in zip(item["numbers"], item["sides"], strict=True):
            step = trace_run(designs[number - 1].scenario.design, 1, item["run"]).step(item["step"])
            assert (side["verdict"], side["wanted"], side["counted"]) == (
                step.verdict, step.expected, step.received,
            )  # fmt: skip
            assert bool(side["why"]) == bool(side["sentence"]) == (side["verdict"] in WRONG)


def test_both_sides_are_shown_where_each_is_better_somewhere(export: Export) -> None:
    wrong = {
        item["numbers"][[side["verdict"] in WRONG for side in item["sides"]].index(True)]
        for item in export["gallery"]["steps"]
        if item["numbers"] == [1, 3]
    }
    assert wrong == {1, 3}


def test_the_contacts_are_drawn_once_and_all_else_for_each_design(export: Export) -> None:
    for item in export["gallery"]["steps"]:
        names = [(track["design"], track["sort"]) for track in item["tracks"]]
        own = ["voltage", "voltage", "level", "level", "count"]
        other = str(item["numbers"][1])
        assert names == [
            ("", "contact"), ("", "contact"),
            *(("1", sort) for sort in own), *((other, sort) for sort in own),
        ]  # fmt: skip
        for track in item["tracks"]:
            assert track["times_us"][0] == pytest.approx(item["window_us"][0], abs=1e-6)
            assert track["times_us"][-1] == pytest.approx(item["window_us"][1], abs=1e-6)
        low, high = item["moment_us"]
        assert item["window_us"][0] <= low < high <= item["window_us"][1]


def test_events_of_both_designs_are_told_once_and_in_order(export: Export) -> None:
    for item in export["gallery"]["steps"]:
        times = [event["time_us"] for event in item["events"]]
        assert times == sorted(times)
        for event in item["events"]:
            if event["what"].startswith("contact "):
                assert event["in"] == "both"
        assert {event["in"] for event in item["events"]} <= {"both", "1", str(item["numbers"][1])}


def test_counts_on_the_way_end_apart(export: Export) -> None:
    """The two counts move on by what each design counted."""
    for item in export["gallery"]["steps"]:
        counts = [track["values"] for track in item["tracks"] if track["sort"] == "count"]
        moved = [values[-1] - values[0] for values in counts]
        assert moved[0] - moved[1] == item["sides"][0]["counted"] - item["sides"][1]["counted"]


def test_there_is_room_for_a_few_steps_only() -> None:
    groups = [f"filter.capacitor={value} nF" for value in range(30, 80, 5)]
    export = made(*groups, runs=60)
    shown = export["gallery"]["steps"]
    assert len(shown) == MOST_STEPS
    assert export["gallery"]["left_out"] == 2
    assert [item["numbers"][1] for item in shown] == list(range(2, 2 + MOST_STEPS))


def test_designs_that_do_not_part_have_nothing_to_show() -> None:
    assert made("counter.positions=100")["gallery"] == {"steps": [], "left_out": 0}
