"""The page of ``run --html``: well formed, complete, harmless, the same twice; its charts show the result."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from typing import Any

import pytest

from reports.documents.shared import CHECK_WORDS
from reports.render.html import page
from reports.render.palette import swaps
from reports.results.common import Rate
from reports.results.run import RunResult
from reports.words.numbers import interval_text, whole
from tests.reports.page_reading import HOSTILE, MOST_BYTES, MOST_POINTS, Node, data_of, read_page, words
from tests.reports.samples import NO_DATA, PANEL, changed, paged, with_hostile_strings


def page_of(result: RunResult) -> str:
    return page(result.document())


@pytest.fixture(scope="module")
def result() -> RunResult:
    return paged()


@pytest.fixture(scope="module")
def text() -> str:
    return page_of(paged())


@pytest.fixture(scope="module")
def tree(text: str) -> Node:
    return read_page(text)


def section(tree: Node, name: str) -> Node:
    return next(node for node in tree.all("section") if node.attributes["id"] == name)


def rows(table: Node) -> list[list[str]]:
    return [[words(cell) for cell in row.all("th", "td")] for row in table.one("tbody").all("tr")]


def test_a_page_is_well_formed_and_small(text: str, tree: Node) -> None:
    assert len(text.encode()) < MOST_BYTES
    assert [node.tag for node in tree.children] == ["html"]
    assert [node.tag for node in tree.children[0].children] == ["head", "body"]


def test_it_says_what_the_result_says(result: RunResult, tree: Node) -> None:
    assert tree.one("h1").text == result.title
    assert result.simulated in words(tree)
    table = {row[0]: row for row in rows(section(tree, "verdicts").one("table"))}
    for verdict, rate in result.verdict_rates:
        assert table[verdict][1] == whole(getattr(result.verdicts, verdict))
        assert table[verdict][3] == interval_text(rate)
    for sentence in (*result.cautions, *result.assumptions, *result.cause_sentences.values()):
        assert sentence in words(tree)
    assert f"{result.command} --html " in words(tree)
    assert result.versions.numba in words(tree)


def test_every_root_cause_has_its_wrong_step(result: RunResult, tree: Node) -> None:
    assert result.gallery is not None
    assert [item.cause for item in result.gallery.steps] == list(result.causes) != []
    heads = [words(node) for node in tree.all("h3")]
    for item in result.gallery.steps:
        assert f"{item.cause.capitalize()}: run {item.run}, step {item.step}" in heads


def test_checks_are_shown_with_what_fails_first(result: RunResult, tree: Node) -> None:
    verdicts = [row[1] for row in rows(section(tree, "checks").one("table"))]
    shown = [CHECK_WORDS[c.verdict][0] for c in result.checks if c.verdict != "does not apply"]
    assert sorted(verdicts) == sorted(shown)
    assert verdicts == sorted(verdicts, key=["fails", "is tight", "passes"].index)
    assert all(check.why in words(tree) for check in result.checks if check.verdict == "does not apply")
    assert "a larger capacitor: capacitor 150 nF (E6) gives 408 us" in words(tree)


def test_margins_are_shown_when_they_were_gathered(result: RunResult, tree: Node) -> None:
    assert rows(section(tree, "margins").one("table"))[0][0] == "B steady before A falls"
    without = read_page(page_of(changed(result, margins=None)))
    assert "margins" not in [node.attributes["id"] for node in without.all("section")]
    assert "--no-margins --html" in words(without)


def test_the_command_on_the_page_names_the_engine(result: RunResult, tree: Node) -> None:
    events = read_page(page_of(changed(result, engine="events")))
    assert f"{result.command} --engine events --html report.html" in words(events)
    assert "--engine" not in words(tree)


def test_nothing_is_loaded(tree: Node) -> None:
    """No element names another place, and the page's own policy admits its two scripts and no others."""
    for node in tree.all():
        assert node.tag not in ("link", "img", "iframe", "object", "embed", "base"), node.tag
        for name in ("src", "href", "srcset", "action", "data", "poster"):
            assert node.attributes.get(name, "#").startswith("#"), node.attributes
        assert not [name for name in node.attributes if name.startswith("on")]
    for style in tree.all("style"):
        assert "url(" not in style.text
        assert "@import" not in style.text
    policy = next(node.attributes["content"] for node in tree.all("meta") if "http-equiv" in node.attributes)
    assert policy.startswith("default-src 'none';")
    scripts = [node for node in tree.all("script") if "type" not in node.attributes]
    told = ["".join(str(part) for part in node.order) for node in scripts]
    hashes = [base64.b64encode(hashlib.sha256(each.encode()).digest()).decode() for each in told]
    assert [f"'sha256-{each}'" in policy for each in hashes] == [True, True]
    assert "'unsafe-inline'" not in policy.partition("script-src")[2].partition(";")[0]


def test_strings_of_a_scenario_stay_text() -> None:
    """In the text, and in the data of charts, which could end their script."""
    hostile = with_hostile_strings(paged(PANEL, 400, "target.wrong=1 in 100 steps"))
    tree = read_page(page_of(hostile))
    assert len(tree.all("script")) == 4
    assert tree.one("h1").text == " ".join(HOSTILE.split())
    assert tree.one("title").text.startswith("<script>alert(1)</script>")
    assert words(tree).count("<script>alert(1)</script>") > 10
    assert HOSTILE in json.dumps(data_of(tree, "chart-data"), ensure_ascii=False).replace('\\"', '"')


def test_the_same_result_gives_the_same_bytes_however_long_it_took(result: RunResult, text: str) -> None:
    assert page_of(changed(result, seconds=1234.5)) == text
    assert not re.search(r"20\d\d-\d\d-\d\d|\d\d:\d\d:\d\d", text[text.rindex("</script>") :])


@pytest.mark.parametrize("runs", [0, 400])
def test_a_page_without_steps(result: RunResult, runs: int) -> None:
    none = changed(
        result, runs=runs, steps=0, wrong=0, causes={}, wrong_rate=NO_DATA, spurious_rate=NO_DATA,
        verdict_rates=dict.fromkeys(result.verdicts.export, NO_DATA),
        gallery={"searched_runs": runs, "steps": []},
    )  # fmt: skip
    tree = read_page(page_of(none))
    assert "no data" in words(tree)
    charts = [node for node in tree.all("script") if node.attributes.get("id") == "chart-data"]
    assert len(charts) == bool(runs)
    assert not charts or list(data_of(tree, "chart-data")) == ["chart-errors"]


def with_spacing(result: RunResult, rates: dict[int, dict[str, Any]], **keys: Any) -> RunResult:
    """The result with other rates for some of the classes of spacing that have steps."""
    groups = json.loads(result.json())["by_spacing"]
    filled = [group for group in groups if group["steps"]]
    for number, changes in rates.items():
        filled[number].update(changes)
    return changed(result, by_spacing=groups, **keys)


def test_a_page_with_nothing_wrong_shows_bounds(result: RunResult) -> None:
    bound = result.spurious_rate
    assert bound.high is not None
    filled = sum(group.steps > 0 for group in result.by_spacing)
    right = {"wrong": 0, "wrong_rate": bound.export}
    none = with_spacing(result, dict.fromkeys(range(filled), right), wrong=0, causes={})
    tree = read_page(page_of(none))
    assert "No step went wrong at any spacing" in words(tree)
    band, seen, bounds, _ = data_of(tree, "chart-data")["chart-spacing"]["data"]
    assert seen["x"] == []
    assert bounds["y"] == pytest.approx([1000.0 * bound.high] * len(bounds["x"]))
    assert len(band["x"]) == len(bounds["x"]) == filled


def test_a_wide_spread_of_rates_is_drawn_on_a_logarithmic_axis_to_whose_end_the_boxes_reach(
    result: RunResult,
) -> None:
    def rate(low: float, estimate: float, high: float) -> dict[str, Any]:
        return {"wrong_rate": Rate(low=low, estimate=estimate, high=high, level=0.95, method="").export}

    tree = read_page(page_of(with_spacing(result, {0: rate(0.0, 0.0, 0.9), 1: rate(1e-7, 1e-5, 2e-4)})))
    chart = data_of(tree, "chart-data")["chart-spacing"]
    assert chart["layout"]["yaxis"]["type"] == "log"
    low, high = (10.0**end for end in chart["layout"]["yaxis"]["range"])
    band = chart["data"][0]
    assert band["base"][:2] == pytest.approx([low, low])
    assert low < 1e-5 * 1000.0
    assert high > 900.0
    ends = [base + length for base, length in zip(band["base"], band["y"], strict=True)]
    assert ends[:2] == pytest.approx([900.0, 0.2])
    assert "logarithmic" in words(tree)


def test_charts_are_small_and_wear_the_pages_colours(tree: Node) -> None:
    charts, dark = data_of(tree, "chart-data"), data_of(tree, "dark-colours")
    places = [node.attributes["id"] for node in tree.all("div") if node.attributes.get("class") == "chart"]
    assert sorted(charts) == sorted(places)
    for chart in charts.values():
        assert sum(len(trace["x"]) for trace in chart["data"]) < MOST_POINTS
        assert not [trace["type"] for trace in chart["data"] if trace["type"].endswith("gl")]
        assert set(re.findall(r"#[0-9a-f]{6}\b", json.dumps(chart))) <= set(dark)
    assert dark == swaps()


def test_a_cell_does_not_break_between_a_number_and_its_unit(text: str) -> None:
    assert ">at most 1.95\N{NO-BREAK SPACE}ms</td>" in text
