"""The charts of a sweep show what the result says."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.figures.causes import CAUSE_LOOKS, cause_chart, causes_of, is_drawn
from reports.figures.heat import RateClasses, classes_for, heat_chart, level_of, maps
from reports.figures.ranges import MOST_GROUPS, panels, range_chart
from reports.render.palette import HEAT, LIGHT
from reports.words.numbers import interval_text
from reports.words.sentences import CAUSES
from tests.reports.page_reading import read_page, words
from tests.reports.sweeps import one_key, three_keys, two_keys


def test_range_chart_shows_rates_intervals_and_ranges() -> None:
    result = one_key()
    chart, shown = range_chart(result), panels(result)
    assert [panel.name for panel in shown] == ["all steps", "clicks", "twists"]
    for panel, found in zip(shown, result.window, strict=True):
        low, high, seen, bound = [each for each in chart["data"] if each.get("yaxis", "y") == panel.axis]
        rates = [rate for rate in panel.rates if rate is not None]
        floor = min(low["y"])
        assert high["y"] == pytest.approx([1000 * (rate.high or 0.0) for rate in rates])
        assert low["y"] == pytest.approx([max(1000 * (rate.low or 0.0), floor) for rate in rates])
        assert seen["y"] == pytest.approx([1000 * (rates[i].estimate or 0.0) for i in seen["x"]])
        assert bound["y"] == pytest.approx([1000 * (rates[i].high or 0.0) for i in bound["x"]])
        assert sorted([*seen["x"], *bound["x"]]) == list(range(7))
        fields = [
            each
            for each in chart["layout"]["shapes"]
            if each["type"] == "rect" and each["yref"].startswith(panel.axis + " ")
        ]
        ends = [(each["x0"] + 0.5, each["x1"] - 0.5) for each in fields]
        assert ends == ([] if found.ends is None else [found.ends])
    lines = [shape for shape in chart["layout"]["shapes"] if shape["type"] == "line"]
    assert [line["y0"] for line in lines] == pytest.approx([1000 / 300] * 3)


def test_no_more_panels_than_a_page_takes() -> None:
    result = one_key()
    cells = [cell.model_copy(update={"by_gesture": cell.by_gesture * 10}) for cell in result.cells]
    many = result.model_copy(update={"cells": tuple(cells), "window": result.window * 10})
    assert len(panels(many)) == MOST_GROUPS
    assert "13 further gestures" in words(read_page(many.page()))


def test_heat_map_has_each_cell_in_its_place() -> None:
    result = two_keys()
    chart = heat_chart(result, result.cells)
    fields = chart["data"][0]
    up, across = result.axes
    marks = {"yes": "*", "undecided": "?", "no": ""}
    labels = {
        (x, y): text
        for trace in chart["data"]
        if trace.get("mode") == "text"
        for x, y, text in zip(trace["x"], trace["y"], trace["text"], strict=True)
    }
    assert len(labels) == len(result.cells)
    for cell in result.cells:
        row, column = cell.values.values()
        y, x = up.values.index(row), across.values.index(column)
        assert (fields["z"][y][x] is None) == (level_of(cell) is None)
        if fields["z"][y][x] is not None:
            assert 10 ** fields["z"][y][x] == pytest.approx(1000 * (cell.wrong_rate.estimate or 0.0))
        assert interval_text(cell.wrong_rate) in fields["text"][y][x]
        text = labels[x, y]
        assert (text[-1] if text[-1] in "*?" else "") == marks[str(cell.meets_target)]
    decades, target = (trace["contours"] for trace in chart["data"] if trace["type"] == "contour")
    assert result.target is not None
    assert target["start"] == pytest.approx(math.log10(1000 * result.target.rate))
    assert decades["size"] == 1


def test_three_keys_have_a_map_for_each_value_of_the_third() -> None:
    result = three_keys()
    assert [(name, len(cells)) for name, cells in maps(result)] == [
        ("supply.voltage 3.3 V", 4), ("supply.voltage 5 V", 4),
    ]  # fmt: skip
    assert not is_drawn(result)


@settings(deadline=None)
@given(st.lists(st.floats(-4.0, 3.0), min_size=1, max_size=30))
def test_classes_hold_all_rates_and_decades_are_borders(levels: list[float]) -> None:
    classes = classes_for(levels)
    assert 1 <= classes.count <= len(HEAT)
    assert classes.low <= min(levels) + 1e-6
    assert classes.high >= max(levels) - 1e-6
    assert len(set(classes.colours)) == classes.count
    for decade in range(math.ceil(classes.low), math.floor(classes.high) + 1):
        steps = (decade - classes.low) / classes.width
        assert steps == pytest.approx(round(steps), abs=1e-6)
    ranked = sorted(levels)
    assert [classes.colour(level) for level in ranked] == sorted(classes.colour(level) for level in ranked)


def test_classes_by_hand() -> None:
    assert classes_for([-0.2, 2.9]) == RateClasses(-0.5, 0.5, 7)
    assert classes_for([0.1]) == RateClasses(0.0, 1.0 / 3.0, 1)


def test_shares_of_causes_add_up_in_each_column() -> None:
    for result in (one_key(), two_keys()):
        chart = cause_chart(result)
        heights: dict[tuple[str, int], float] = {}
        for trace in chart["data"]:
            for x, y in zip(trace["x"], trace["y"], strict=True):
                place = (trace.get("yaxis", "y"), x)
                heights[place] = heights.get(place, 0.0) + y
        assert len(heights) == sum(cell.wrong > 0 for cell in result.cells)
        assert list(heights.values()) == pytest.approx([100.0] * len(heights))
        assert len({trace["name"] for trace in chart["data"]}) == len(causes_of(result.cells))


def test_every_root_cause_has_a_look_of_its_own_in_every_chart() -> None:
    """The chart library draws no colour under a hatch unless it is told to lay the hatch over it."""
    assert list(CAUSE_LOOKS) == list(CAUSES)
    assert len(set(CAUSE_LOOKS.values())) == len(CAUSE_LOOKS)
    for result in (one_key(), two_keys()):
        for trace in cause_chart(result)["data"]:
            colour, hatch = CAUSE_LOOKS[trace["name"]]
            assert (trace["marker"]["color"], trace["marker"]["pattern"]["shape"]) == (LIGHT[colour], hatch)
            assert trace["marker"]["pattern"]["fillmode"] == "overlay"
