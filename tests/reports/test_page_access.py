"""The pages are readable by everyone: landmarks, headings, tables, names, contrast, keyboard."""

from __future__ import annotations

import itertools

import pytest

from reports import api
from reports.render.palette import DARK, FOR_TEXT, HEAT, LIGHT, LOW, ON_PAPER
from tests.reports import comparisons
from tests.reports.page_reading import Node, read_page
from tests.reports.samples import paged

NAMES = {"aria-labelledby", "aria-describedby", "for"}


KNOB, CAPACITORS = "panel-knob", "filter.capacitor=47 nF, 100 nF, 470 nF"
GOAL = "1 in 100 steps"


def swept(*vary: str) -> str:
    return api.sweep(KNOB, vary, target=GOAL, runs=200, use_ledger=False).page()


PAGES = {
    "run": lambda: paged().page(),
    "sweep of one key": lambda: swept(CAPACITORS),
    "sweep of two keys": lambda: swept(CAPACITORS, "filter.series=470R, 2k2"),
    "compare two": lambda: comparisons.made(comparisons.LARGER).page(),
    "compare three": lambda: comparisons.made(comparisons.LARGER, comparisons.SMALLER).page(),
    "choose": lambda: api.choose(KNOB, target=GOAL, vary=CAPACITORS, runs=800, use_ledger=False).page(),
}


@pytest.fixture(scope="module", params=sorted(PAGES))
def tree(request: pytest.FixtureRequest) -> Node:
    return read_page(PAGES[request.param]())


def test_light_colours_differ_so_that_each_has_one_dark_one() -> None:
    assert len(set(LIGHT.values())) == len(LIGHT)
    assert list(LIGHT) == list(DARK)


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition of relative luminance)."""
    shares = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, definition of contrast ratio)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_and_white_is_21() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_contrast(colours: dict[str, str]) -> None:
    """Text 4.5:1 and marks 3:1 (WCAG 2.2, success criteria 1.4.3 and 1.4.11)."""
    for paper in ON_PAPER:
        for name in FOR_TEXT:
            assert contrast(colours[name], colours[paper]) >= 4.5, (name, paper)
        assert contrast(colours["bar"], colours[paper]) >= 3.0
    assert contrast(colours["line-a"], colours["band"]) >= 3.0
    for number, name in enumerate(HEAT):
        assert contrast(colours["low-ink" if number < LOW else "high-ink"], colours[name]) >= 4.5, name


def test_the_page_has_language_title_and_landmarks(tree: Node) -> None:
    assert tree.one("html").attributes["lang"] == "en"
    assert tree.one("title").text
    assert (len(tree.all("main")), len(tree.all("header")), len(tree.all("nav"))) == (1, 1, 1)
    skip = tree.one("body").children[0]
    assert (skip.tag, skip.attributes["href"]) == ("a", "#result")
    named = [node for node in tree.all("section", "article") if "aria-labelledby" in node.attributes]
    assert len(named) == len(tree.all("section", "article"))


def test_headings_go_down_one_level_at_a_time(tree: Node) -> None:
    levels = [int(node.tag[1]) for node in tree.all("h1", "h2", "h3", "h4", "h5", "h6")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


def test_ids_are_unique_and_what_points_at_one_finds_it(tree: Node) -> None:
    ids = [node.attributes["id"] for node in tree.all() if "id" in node.attributes]
    assert len(ids) == len(set(ids))
    for node in tree.all():
        for name in NAMES & set(node.attributes):
            assert set(node.attributes[name].split()) <= set(ids), node.attributes
        if node.attributes.get("href", "").startswith("#"):
            assert node.attributes["href"][1:] in ids


def test_tables_have_captions_and_heads_with_scope(tree: Node) -> None:
    assert len(tree.all("table")) >= 2
    for table in tree.all("table"):
        assert table.children[0].tag == "caption"
        assert table.children[0].text
        heads = table.one("thead").all("th")
        assert {head.attributes["scope"] for head in heads} == {"col"}
        assert all(head.text for head in heads)
        for row in table.one("tbody").all("tr"):
            assert [cell.attributes.get("scope") for cell in row.all("th")] == ["row"]
            assert len(row.all("th", "td")) == len(heads)


def test_charts_have_words_and_buttons_have_names(tree: Node) -> None:
    for chart in (node for node in tree.all("div") if node.attributes.get("class") == "chart"):
        assert chart.attributes["role"] == "img"
        summary = next(n for n in tree.all() if n.attributes.get("id") == chart.attributes["aria-labelledby"])
        assert len(summary.text) > 40
    assert all(button.text and button.attributes["type"] == "button" for button in tree.all("button"))


def test_what_scrolls_can_be_reached_by_keyboard(tree: Node) -> None:
    for node in (each for each in tree.all("div") if each.attributes.get("class") == "sheet"):
        assert node.attributes["tabindex"] == "0"
        assert node.attributes["role"] == "region"
        assert {"aria-label", "aria-labelledby"} & set(node.attributes)
