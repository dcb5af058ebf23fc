"""The page of a sweep: complete, harmless, the same twice; its charts show what the export says."""

from __future__ import annotations

import copy
import itertools
import json
import math
import pathlib
import re
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.numbers import interval_text
from reports.page import palette
from reports.page.cause_figure import cause_figure, causes_of, is_drawn
from reports.page.figures import error_figure
from reports.page.heat import Classes, classes_for, heat_figure, level_of, maps
from reports.page.sweep import page
from reports.page.sweep_tables import MOST_ROWS
from reports.page.window_figure import MOST_GROUPS, panels, window_figure
from scenarios.loading.sweeps import MOST_CELLS
from tests.reports.page_reading import Node, read_page
from tests.reports.samples import export_of
from tests.reports.sweeps import KNOB, one_key, told, two_keys
from tests.reports.test_page import MOST_BYTES, data_of, words

Export = dict[str, Any]
MADE: dict[str, Callable[[], Export]] = {
    "one key": one_key,
    "one key without target": lambda: one_key(""),
    "two keys": two_keys,
    "two keys without target": lambda: two_keys(""),
    "three keys": lambda: told(
        KNOB, "--vary", "filter.capacitor=47n, 220n", "--vary", "filter.series=1k, 2k2",
        "--vary", "supply.voltage=3V3, 5 V", "--runs", "60",
    ),
    "words": lambda: told(KNOB, "--vary", "contacts.part=crisp, ordinary, tired", "--runs", "60"),
}  # fmt: skip


@pytest.fixture(scope="module", params=sorted(MADE))
def export(request: pytest.FixtureRequest) -> Export:
    found: Export = MADE[request.param]()
    return found


@pytest.fixture(scope="module")
def tree(export: Export) -> Node:
    return read_page(page(export))


def rows_of(tree: Node, name: str) -> list[list[str]]:
    table = next(node for node in tree.all("table") if node.attributes["id"] == name)
    return [[words(cell) for cell in row.all("th", "td")] for row in table.one("tbody").all("tr")]


def test_it_is_small_and_loads_nothing(export: Export, tree: Node) -> None:
    assert len(page(export).encode()) < MOST_BYTES
    for node in tree.all():
        assert node.tag not in ("link", "img", "iframe", "object", "embed", "base"), node.tag
        for name in ("src", "href", "srcset", "action", "data", "poster"):
            assert node.attributes.get(name, "#").startswith("#"), node.attributes
        assert not [name for name in node.attributes if name.startswith("on")]


def test_it_says_what_the_export_says(export: Export, tree: Node) -> None:
    said = words(tree)
    for sentence in (export["rule"], export["simulated"], *export["assumptions"], *export["cautions"]):
        assert sentence in said
    assert f"{export['command']} --html report.html" in said
    rows = rows_of(tree, "table-cells")
    assert len(rows) == len(export["cells"])
    for row, cell in zip(rows, export["cells"], strict=True):
        assert row[: len(export["axes"])] == list(cell["values"].values())
        assert interval_text(cell["wrong_rate"]) in row
        assert (cell["meets_target"] in row) == (export["target"] is not None)
    if export["window"]:
        assert [row[1] for row in rows_of(tree, "table-windows")] == [
            w["from"] or "-" for w in export["window"]
        ]


def test_the_same_export_gives_the_same_bytes_however_long_it_took(export: Export) -> None:
    assert page({**export, "seconds": 1234.5}) == page(copy.deepcopy(export))


def test_every_chart_has_its_place_its_words_and_the_pages_colours(export: Export, tree: Node) -> None:
    charts, dark = data_of(tree, "chart-data"), data_of(tree, "dark-colours")
    placed = [node.attributes["id"] for node in tree.all("div") if node.attributes.get("class") == "chart"]
    assert sorted(charts) == sorted(placed)
    assert charts
    for chart in charts.values():
        assert set(re.findall(r"#[0-9a-f]{6}\b", json.dumps(chart))) <= set(dark) == set(palette.swaps())


def test_an_interrupted_sweep_without_a_cell_has_its_page() -> None:
    nothing = one_key() | {"cells": [], "window": [], "complete": False}
    assert "No cell was finished" in words(read_page(page(nothing)))


def test_strings_of_a_scenario_stay_text(folder: pathlib.Path) -> None:
    """A stage, a gesture and a title that hold markup, a quote and the end of a script."""
    hostile = "<script>alert('1')</script><!-- & x"
    text = (folder / "knob.toml").read_text(encoding="utf-8")
    text = (
        text.replace('"single clicks"', f'"{hostile}"')
        .replace("Volume knob", hostile)
        .replace('"filter"', f'"{hostile}"')
    )
    (folder / "hostile.toml").write_text(text, encoding="utf-8")
    for more in ([], ["--vary", "supply.voltage=3V3, 5 V"]):
        made = told(
            str(folder / "hostile.toml"), "--vary", f"{hostile}.capacitor=47n, 220n", "--runs", "30", *more
        )
        tree = read_page(page(made))
        assert len(tree.all("script")) == 4
        assert words(tree).count("<script>alert('1')</script>") > 4
        charts = json.dumps(data_of(tree, "chart-data"))
        assert "<script>" not in charts
        assert "&lt;script&gt;alert" in charts


def enlarged(export: Export, sizes: tuple[int, ...]) -> Export:
    """The same with so many values of each key, its cells over and over again."""
    grown = copy.deepcopy(export)
    for axis, size in zip(grown["axes"], sizes, strict=True):
        axis["values"] = [f"{i + 1} of {size}" for i in range(size)]
        axis["numbers"] = [float(i) for i in range(size)]
    paths = [axis["path"] for axis in grown["axes"]]
    grown["cells"] = [
        {
            **export["cells"][number % len(export["cells"])],
            "number": number,
            "values": dict(zip(paths, values, strict=True)),
        }
        for number, values in enumerate(itertools.product(*(axis["values"] for axis in grown["axes"])))
    ]
    for window in grown["window"]:
        window["standings"] = ["open"] * sizes[0]
        window |= {"ends": None, "from": None, "to": None, "below": None, "above": None}
    return grown


@pytest.mark.parametrize("sizes", [(MOST_CELLS,), (50, 40), (MOST_CELLS // 8, 8)])
def test_as_many_cells_as_are_allowed_stay_within_the_size(sizes: tuple[int, ...]) -> None:
    text = page(enlarged(one_key() if len(sizes) == 1 else two_keys(), sizes))
    assert len(text.encode()) < MOST_BYTES
    tree = read_page(text)
    assert len(rows_of(tree, "table-cells")) == MOST_ROWS
    assert f"the first {MOST_ROWS} of 2,000 cells" in words(tree)


def test_the_window_chart_shows_rates_bands_and_window() -> None:
    made = one_key()
    figure = window_figure(made)
    shown = panels(made)
    assert [panel.name for panel in shown] == ["all steps", "clicks", "twists"]
    for panel, window in zip(shown, made["window"], strict=True):
        low, high, seen, bound = [trace for trace in figure["data"] if trace.get("yaxis", "y") == panel.axis]
        rates = panel.rates
        floor = min(y for y in low["y"])
        for i, rate in enumerate(rates):
            assert high["y"][i] == pytest.approx(1000 * rate["high"])
            assert low["y"][i] == pytest.approx(max(1000 * rate["low"], floor))
        assert [seen["y"][k] for k, _ in enumerate(seen["x"])] == pytest.approx(
            [1000 * rates[i]["estimate"] for i in seen["x"]]
        )
        assert [*seen["x"], *bound["x"]] == sorted(seen["x"]) + sorted(bound["x"])
        assert sorted([*seen["x"], *bound["x"]]) == list(range(7))
        assert [bound["y"][k] for k, _ in enumerate(bound["x"])] == pytest.approx(
            [1000 * rates[i]["high"] for i in bound["x"]]
        )
        fields = [
            s
            for s in figure["layout"]["shapes"]
            if s["type"] == "rect" and s["yref"].startswith(panel.axis + " ")
        ]
        ends = [(s["x0"] + 0.5, s["x1"] - 0.5) for s in fields]
        assert ends == ([] if window["ends"] is None else [tuple(window["ends"])])
    lines = [shape for shape in figure["layout"]["shapes"] if shape["type"] == "line"]
    assert [line["y0"] for line in lines] == pytest.approx([1000 / 300] * 3)


def test_no_more_panels_than_a_page_takes() -> None:
    made = one_key()
    for cell in made["cells"]:
        cell["by_gesture"] = cell["by_gesture"] * 10
    made["window"] = made["window"] * 10
    assert len(panels(made)) == MOST_GROUPS
    assert "13 further gestures" in words(read_page(page(made)))


def test_the_heat_map_has_each_cell_in_its_place() -> None:
    made = two_keys()
    figure = heat_figure(made, made["cells"])
    fields = figure["data"][0]
    up, across = made["axes"]
    for y, row in enumerate(up["values"]):
        for x, column in enumerate(across["values"]):
            cell = next(c for c in made["cells"] if list(c["values"].values()) == [row, column])
            level = level_of(cell)
            assert (fields["z"][y][x] is None) == (level is None)
            if level is not None:
                assert 10 ** fields["z"][y][x] == pytest.approx(1000 * cell["wrong_rate"]["estimate"])
            assert interval_text(cell["wrong_rate"]) in fields["text"][y][x]
    labels = [trace for trace in figure["data"] if trace.get("mode") == "text"]
    at = {
        (x, y): text
        for trace in labels
        for x, y, text in zip(trace["x"], trace["y"], trace["text"], strict=True)
    }
    assert len(at) == len(made["cells"])
    marks = {"yes": "*", "undecided": "?", "no": ""}
    for cell in made["cells"]:
        row, column = cell["values"].values()
        text = at[across["values"].index(column), up["values"].index(row)]
        assert (text[-1] if text[-1] in "*?" else "") == marks[cell["meets_target"]]
    contours = [trace for trace in figure["data"] if trace["type"] == "contour"]
    assert contours[1]["contours"]["start"] == pytest.approx(math.log10(1000 * made["target"]["rate"]))
    assert contours[0]["contours"]["size"] == 1


def test_three_keys_have_a_map_for_each_value_of_the_third() -> None:
    made = MADE["three keys"]()
    assert [name for name, _ in maps(made)] == ["supply.voltage 3.3 V", "supply.voltage 5 V"]
    assert [len(cells) for _, cells in maps(made)] == [4, 4]
    assert not is_drawn(made)


@settings(deadline=None)
@given(st.lists(st.floats(-4.0, 3.0), min_size=1, max_size=30))
def test_classes_hold_all_rates_and_decades_are_borders(levels: list[float]) -> None:
    classes = classes_for(levels)
    assert 1 <= classes.count <= len(palette.HEAT)
    assert classes.low <= min(levels) + 1e-6
    assert classes.high >= max(levels) - 1e-6
    assert len(set(classes.colours)) == classes.count
    for decade in range(math.ceil(classes.low), math.floor(classes.high) + 1):
        steps = (decade - classes.low) / classes.width
        assert steps == pytest.approx(round(steps), abs=1e-6)
    ranked = sorted(levels)
    assert [classes.colour(level) for level in ranked] == sorted(classes.colour(level) for level in ranked)


def test_classes_by_hand() -> None:
    assert classes_for([-0.2, 2.9]) == Classes(-0.5, 0.5, 7)
    assert classes_for([0.1]) == Classes(0.0, 1.0 / 3.0, 1)


def test_shares_of_causes_add_up_in_each_column() -> None:
    for made in (one_key(), two_keys()):
        figure = cause_figure(made)
        heights: dict[tuple[str, int], float] = {}
        for trace in figure["data"]:
            for x, y in zip(trace["x"], trace["y"], strict=True):
                place = (trace.get("yaxis", "y"), x)
                heights[place] = heights.get(place, 0.0) + y
        assert len(heights) == sum(cell["wrong"] > 0 for cell in made["cells"])
        assert list(heights.values()) == pytest.approx([100.0] * len(heights))
        assert len({trace["name"] for trace in figure["data"]}) == len(causes_of(made["cells"]))


def test_hatched_bars_keep_their_colour() -> None:
    """The chart library draws no colour under a hatch unless it is told to lay the hatch over it."""
    for figure in (error_figure(export_of(KNOB, 400)), cause_figure(one_key())):
        hatched = [trace for trace in figure["data"] if "pattern" in trace["marker"]]
        assert hatched
        assert {trace["marker"]["pattern"]["fillmode"] for trace in hatched} == {"overlay"}
