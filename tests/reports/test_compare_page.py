"""The page of ``compare --html``: complete, harmless, the same twice; in a browser as well."""

from __future__ import annotations

import json
import pathlib
import re
from collections.abc import Iterator
from typing import Any

import pytest

from reports.documents.compare_words import difference_interval_text, difference_text, side
from reports.figures.forest import difference_figure, difference_summary
from reports.render.palette import swaps
from reports.results.compare import ComparisonResult
from reports.words.numbers import whole
from scenarios.loading.comparison import MOST_DESIGNS
from tests.reports.browsers import Visit, browser
from tests.reports.comparisons import LARGER, SMALLER, made, with_hostile_strings
from tests.reports.page_reading import HOSTILE, MOST_BYTES, MOST_POINTS, Node, data_of, read_page, words

STEP = "chart-step-1"


@pytest.fixture(scope="module")
def result() -> ComparisonResult:
    return made(LARGER, SMALLER)


@pytest.fixture(scope="module")
def text(result: ComparisonResult) -> str:
    return result.page()


@pytest.fixture(scope="module")
def tree(text: str) -> Node:
    return read_page(text)


def rows_of(tree: Node, caption: str) -> dict[str, list[str]]:
    """The cells of the table with this caption, by the name of the row."""
    table = next(node for node in tree.all("table") if words(node.one("caption")).startswith(caption))
    return {
        row.one("th").text: [words(cell) for cell in row.all("td")] for row in table.one("tbody").all("tr")
    }


def test_it_says_what_the_result_says(result: ComparisonResult, tree: Node) -> None:
    assert tree.one("h1").text == result.title
    page = words(tree)
    for sentence in (
        result.headline, result.together, result.met, *result.assumptions, *result.cautions,
        *(each.sentence for each in result.comparisons), f"{result.command} --html report.html",
    ):  # fmt: skip
        assert sentence in page
    for number, each in enumerate(result.comparisons, start=2):
        rows = rows_of(tree, f"All steps, {number} compared with 1")
        for name, row in each.by_verdict:
            assert [cell.strip() for cell in rows[name]] == [
                whole(row.only_first), whole(row.only_other), difference_text(row.difference),
                difference_interval_text(row.difference),
            ]  # fmt: skip
        gestures = rows_of(tree, f"Wrong steps by gesture of the hand, {number} compared with 1")
        assert {name: cells[0] for name, cells in gestures.items()} == {
            row.name: whole(row.steps) for row in each.by_gesture
        }
        table = each.runs_table
        assert rows_of(tree, f"Runs with and without a wrong step, {number} compared with 1") == {
            "1: none wrong": [whole(table.both_right), whole(table.only_first_right)],
            "1: some wrong": [whole(table.only_other_right), whole(table.both_wrong)],
        }
    differs = {row.path: list(row.values) for row in result.differences}
    assert rows_of(tree, "Values that are not the same") == differs


def test_every_step_to_look_at_has_its_diagram_its_story_and_its_commands(
    result: ComparisonResult, tree: Node
) -> None:
    assert result.gallery is not None
    items = result.gallery.steps
    assert len(items) > 3
    charts = data_of(tree, "chart-data")
    assert set(charts) == {"chart-differences", *(f"chart-step-{n + 1}" for n in range(len(items)))}
    for number, item in enumerate(items, start=1):
        chart = charts[f"chart-step-{number}"]
        assert chart["ranges"] == {"moment": [*item.moment_us], "window": [*item.window_us]}
        assert len({trace["yaxis"] for trace in chart["data"]}) == len(item.tracks)
        named = [trace["name"] for trace in chart["data"] if trace.get("name")]
        assert named[:2] == ["contact A", "contact B"]
        assert [name.partition(":")[0] for name in named[2:]] == ["1"] * 5 + [str(item.numbers[1])] * 5
        for each in item.sides:
            assert each.command in words(tree)
            assert all(sentence in words(tree) for sentence in each.why)


def test_diagrams_are_small_and_wear_the_pages_colours(tree: Node) -> None:
    charts = data_of(tree, "chart-data")
    for chart in charts.values():
        assert sum(len(trace["x"]) for trace in chart["data"]) < MOST_POINTS
        assert set(re.findall(r"#[0-9a-f]{6}\b", json.dumps(chart))) <= set(swaps())


@pytest.mark.parametrize("groups", [(LARGER,), (LARGER, SMALLER)])
def test_the_chart_of_differences_shows_each_with_its_interval(groups: tuple[str, ...]) -> None:
    result = made(*groups)
    chart = difference_figure(result)
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
        each = result.comparisons[int(lead) - 2 if lead else 0]
        name, _, gesture = rest.partition(", ")
        paired = [told for told in each.by_gesture if told.name == gesture]
        rate = (getattr(each.by_verdict, name) if gesture == "all gestures" else paired[0]).difference
        ends = rate.low, rate.estimate, rate.high
        assert drawn[row][:3] == pytest.approx([1000.0 * (end or 0.0) for end in ends])
        assert drawn[row][3] == {1: "more", -1: "fewer", 0: "undecided"}[side(rate)]
    counts = [sum(found[3] == word for found in drawn.values()) for word in ("fewer", "more", "undecided")]
    assert [int(n) for n in re.findall(r": (\d+)", difference_summary(result))] == counts


def test_strings_of_scenarios_and_users_stay_text(result: ComparisonResult) -> None:
    tree = read_page(with_hostile_strings(result).page())
    assert len(tree.all("script")) == 4
    assert tree.one("h1").text == " ".join(HOSTILE.split())
    assert words(tree).count("<script>alert(1)</script>") > 20
    assert HOSTILE in json.dumps(data_of(tree, "chart-data"), ensure_ascii=False).replace('\\"', '"')


def test_the_same_result_gives_the_same_bytes_however_long_it_took(
    result: ComparisonResult, text: str
) -> None:
    assert result.model_copy(update={"seconds": 1234.5}).page() == text


def test_a_page_of_the_most_designs_is_still_small() -> None:
    groups = [f"filter.capacitor={30 + 5 * number} nF" for number in range(MOST_DESIGNS - 1)]
    page = made(*groups, runs=60).page()
    assert len(page.encode()) < MOST_BYTES
    tree = read_page(page)
    assert "more are left out" in words(tree)
    assert len(data_of(tree, "chart-data")["chart-differences"]["layout"]["annotations"]) == MOST_DESIGNS - 1


def test_a_page_without_a_difference_or_without_steps() -> None:
    same = made("counter.positions=100")
    tree = read_page(same.page())
    assert "Nothing differs: the designs are the same." in words(tree)
    assert list(data_of(tree, "chart-data")) == ["chart-differences"]
    assert "no step was wrong in one design and right in the other" in words(tree)
    nothing = same.model_copy(update={"steps": 0, "runs": 0, "headline": "no data"}).page()
    assert "no data" in words(read_page(nothing))
    assert '<div class="chart"' not in nothing


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


def test_in_a_browser_buttons_steer_both_designs_on_one_axis(
    launched: Any, file: pathlib.Path, result: ComparisonResult
) -> None:
    assert result.gallery is not None
    item = result.gallery.steps[0]
    visit = Visit(launched, file, 800, "light")
    assert visit.range(STEP) == pytest.approx(item.moment_us)
    visit.page.locator(f"[data-chart={STEP}]").get_by_text("Whole step").press("Enter")
    assert visit.range(STEP) == pytest.approx(item.window_us)
    keys = visit.page.evaluate(f"Object.keys(document.getElementById('{STEP}')._fullLayout)")
    assert [key for key in keys if key.startswith("xaxis")] == ["xaxis"]
    assert visit.complaints == []
    visit.context.close()
