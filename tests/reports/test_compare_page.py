"""The page of ``compare --html``: well formed, complete, harmless, the same twice; in a browser as well."""

from __future__ import annotations

import base64
import hashlib
import json
import pathlib
import re
from collections.abc import Iterator
from typing import Any

import pytest

from reports.compare_words import difference_interval_text, difference_text
from reports.numbers import whole
from reports.page import palette
from reports.page.comparison import page
from reports.page.forest import difference_figure, difference_summary
from scenarios.loading.comparison import MOST_DESIGNS
from tests.reports.browsers import Visit, browser
from tests.reports.comparisons import LARGER, RUNS, SMALLER, made, page_of, with_hostile_strings
from tests.reports.page_reading import Node, read_page
from tests.reports.pages import HOSTILE
from tests.reports.test_page import MOST_BYTES, MOST_POINTS, data_of, words

STEP = "chart-step-1"


@pytest.fixture(scope="module")
def text() -> str:
    return page_of(LARGER, SMALLER)


@pytest.fixture(scope="module")
def tree(text: str) -> Node:
    return read_page(text)


def rows_of(tree: Node, place: str) -> dict[str, list[str]]:
    """A table's cells by the name of the row."""
    table = next(node for node in tree.all("table") if node.attributes["id"] == place)
    return {
        row.one("th").text: [words(cell) for cell in row.all("td")] for row in table.one("tbody").all("tr")
    }


def test_it_is_well_formed_and_says_what_the_export_says(tree: Node) -> None:
    export = made(LARGER, SMALLER)
    assert tree.one("h1").text == export["title"]
    for sentence in (
        export["headline"], export["together"], export["met"], *export["assumptions"], *export["cautions"],
        *(each["sentence"] for each in export["comparisons"]),
    ):  # fmt: skip
        assert sentence in words(tree)
    for number, each in enumerate(export["comparisons"], start=2):
        rows = rows_of(tree, f"table-verdicts-{number}")
        for name, row in each["by_verdict"].items():
            assert rows[name] == [
                whole(row["only_first"]), whole(row["only_other"]),
                rows[name][2], difference_interval_text(row["difference"]),
            ]  # fmt: skip
            assert rows[name][2].strip() == difference_text(row["difference"])
        for row in each["by_gesture"]:
            assert rows_of(tree, f"table-gestures-{number}")[row["name"]][0] == whole(row["steps"])
        table = each["runs_table"]
        assert rows_of(tree, f"table-runs-{number}") == {
            "1 all right": [whole(table["both_right"]), whole(table["only_first_right"])],
            "1 some wrong": [whole(table["only_other_right"]), whole(table["both_wrong"])],
        }
    assert rows_of(tree, "table-what") == {row["path"]: row["values"] for row in export["differences"]}


def test_every_step_to_look_at_has_its_diagram_its_story_and_its_commands(tree: Node) -> None:
    items = made(LARGER, SMALLER)["gallery"]["steps"]
    assert len(items) > 3
    charts = data_of(tree, "chart-data")
    assert sorted(charts) == sorted(
        ["chart-differences", *(f"chart-step-{n + 1}" for n in range(len(items)))]
    )
    for number, item in enumerate(items, start=1):
        chart = charts[f"chart-step-{number}"]
        assert chart["ranges"] == {"moment": item["moment_us"], "window": item["window_us"]}
        lanes = {trace["yaxis"] for trace in chart["data"]}
        assert len(lanes) == len(item["tracks"])
        named = [trace["name"] for trace in chart["data"] if trace.get("name")]
        assert named[:2] == ["contact A", "contact B"]
        assert [name.partition(":")[0] for name in named[2:]] == ["1"] * 5 + [str(item["numbers"][1])] * 5
        for side in item["sides"]:
            assert side["command"] in words(tree)
            assert all(said in words(tree) for said in side["why"])


def test_diagrams_are_small_and_wear_the_pages_colours(tree: Node) -> None:
    charts, dark = data_of(tree, "chart-data"), data_of(tree, "dark-colours")
    assert dark == palette.swaps()
    for chart in charts.values():
        assert sum(len(trace["x"]) for trace in chart["data"]) < MOST_POINTS
        assert set(re.findall(r"#[0-9a-f]{6}\b", json.dumps(chart))) <= set(dark)


def test_the_chart_of_differences_shows_each_with_its_interval() -> None:
    for groups in ((LARGER,), (LARGER, SMALLER)):
        export = made(*groups)
        chart = difference_figure(export)
        drawn = {}
        for trace in chart["data"]:
            for x, y, high, low in zip(
                trace["x"], trace["y"], trace["error_x"]["array"], trace["error_x"]["arrayminus"], strict=True
            ):
                drawn[y] = (x - low, x, x + high, trace["name"])
        labels = [note["text"] for note in chart["layout"]["annotations"]]
        assert sorted(drawn) == list(range(len(labels)))
        for row, label in enumerate(labels):
            lead, _, rest = label.rpartition(": ")
            each = export["comparisons"][int(lead) - 2 if lead else 0]
            name, _, gesture = rest.partition(", ")
            rate = (
                each["by_verdict"][name]["difference"]
                if gesture == "all gestures"
                else next(g["difference"] for g in each["by_gesture"] if g["name"] == gesture)
            )
            assert drawn[row][:3] == pytest.approx(
                [1000.0 * rate[key] for key in ("low", "estimate", "high")]
            )
            side = "more" if rate["low"] > 0 else "fewer" if rate["high"] < 0 else "not settled"
            assert drawn[row][3] == side
        counts = [
            sum(found[3] == side for found in drawn.values()) for side in ("fewer", "more", "not settled")
        ]
        assert [int(n) for n in re.findall(r": (\d+)", difference_summary(export))] == counts


def test_nothing_is_loaded_and_only_its_scripts_are_admitted(tree: Node) -> None:
    for node in tree.all():
        assert node.tag not in ("link", "img", "iframe", "object", "embed", "base"), node.tag
        for name in ("src", "href", "srcset", "action", "data", "poster"):
            assert node.attributes.get(name, "#").startswith("#"), node.attributes
        assert not [name for name in node.attributes if name.startswith("on")]
    policy = next(node.attributes["content"] for node in tree.all("meta") if "http-equiv" in node.attributes)
    assert policy.startswith("default-src 'none';")
    for node in tree.all("script"):
        if "type" not in node.attributes:
            told = "".join(str(part) for part in node.order)
            assert base64.b64encode(hashlib.sha256(told.encode()).digest()).decode() in policy


def test_strings_of_scenarios_and_users_stay_text() -> None:
    hostile = with_hostile_strings(made(LARGER, SMALLER))
    tree = read_page(page(hostile))
    assert len(tree.all("script")) == 4
    assert tree.one("h1").text == " ".join(HOSTILE.split())
    assert words(tree).count("<script>alert(1)</script>") > 20
    assert HOSTILE in json.dumps(data_of(tree, "chart-data"), ensure_ascii=False).replace('\\"', '"')


def test_the_same_export_gives_the_same_bytes_however_long_it_took(text: str) -> None:
    assert page({**made(LARGER, SMALLER), "seconds": 1234.5}) == text


def test_a_page_of_the_most_designs_is_still_small() -> None:
    groups = [f"filter.capacitor={30 + 5 * number} nF" for number in range(MOST_DESIGNS - 1)]
    told = page(made(*groups, runs=60))
    assert len(told.encode()) < MOST_BYTES
    tree = read_page(told)
    assert "more are left out" in words(tree)
    assert len(data_of(tree, "chart-data")["chart-differences"]["layout"]["annotations"]) == MOST_DESIGNS - 1


@pytest.mark.parametrize("steps", [0, RUNS * 18])
def test_a_page_without_steps_or_without_a_difference(steps: int) -> None:
    export = made("counter.positions=100")
    if not steps:
        export |= {"steps": 0, "runs": 0, "headline": "no data"}
    tree = read_page(page(export))
    assert "Nothing differs: the designs are the same." in words(tree)
    assert sorted(data_of(tree, "chart-data")) == (["chart-differences"] if steps else [])
    assert ("no step was wrong in one design and right in the other" in words(tree)) == bool(steps)


@pytest.fixture(scope="module")
def launched() -> Iterator[Any]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory, text: str) -> pathlib.Path:
    place = tmp_path_factory.mktemp("page") / "compare.html"
    place.write_text(text, encoding="utf-8")
    return place


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 800, 1280])
def test_in_a_browser_it_loads_alone_and_fits(
    launched: Any, file: pathlib.Path, width: int, scheme: str
) -> None:
    visit = Visit(launched, file, width, scheme)
    assert visit.complaints == []
    assert visit.asked == [file.as_uri()]
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    columns = visit.page.evaluate(
        "new Set([...document.querySelectorAll('.sides > div')].map(each => each.offsetLeft)).size"
    )
    assert columns == {360: 1, 800: 2, 1280: 3}[width]
    visit.context.close()


def test_in_a_browser_buttons_steer_both_designs_on_one_axis(launched: Any, file: pathlib.Path) -> None:
    item = made(LARGER, SMALLER)["gallery"]["steps"][0]
    visit = Visit(launched, file, 800, "light")
    assert visit.range(STEP) == pytest.approx(tuple(item["moment_us"]))
    visit.page.locator(f"[data-chart={STEP}]").get_by_text("Whole step").press("Enter")
    assert visit.range(STEP) == pytest.approx(tuple(item["window_us"]))
    keys = visit.page.evaluate(f"Object.keys(document.getElementById('{STEP}')._fullLayout)")
    assert [key for key in keys if key.startswith("xaxis")] == ["xaxis"]
    assert visit.complaints == []
    visit.context.close()
