"""The page of ``run --html``: well formed, complete, harmless, the same twice, and readable by everyone."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from typing import Any

import jsonschema
import pytest
from reports.exports import as_json
from reports.page import palette
from reports.page.document import page, tied

from reports.numbers import interval_text, whole
from tests.reports.page_reading import Node, read_page
from tests.reports.pages import HOSTILE, page_of, shown, with_hostile_strings
from tests.reports.samples import export_of
from tests.reports.test_exports import schema

MOST_BYTES = 6_000_000
MOST_POINTS = 20_000
RUNS = 400
KNOB = "panel-knob"


@pytest.fixture(scope="module")
def text() -> str:
    return page_of(KNOB, RUNS)


@pytest.fixture(scope="module")
def tree(text: str) -> Node:
    return read_page(text)


def data_of(tree: Node, place: str) -> Any:
    return json.loads(next(node for node in tree.all("script") if node.attributes.get("id") == place).text)


def words(node: Node) -> str:
    return node.text.replace("\N{NO-BREAK SPACE}", " ")


def test_a_page_is_well_formed_and_small(text: str, tree: Node) -> None:
    assert len(text.encode()) < MOST_BYTES
    assert [node.tag for node in tree.children] == ["html"]
    assert [node.tag for node in tree.children[0].children] == ["head", "body"]


def test_it_says_what_the_export_says(tree: Node) -> None:
    export = shown(KNOB, RUNS)
    assert tree.one("h1").text == export["title"]
    assert export["simulated"] in words(tree)
    table = next(node for node in tree.all("table") if node.attributes["id"] == "table-verdicts")
    rows = {
        row.one("th").text: [words(cell) for cell in row.all("td")] for row in table.one("tbody").all("tr")
    }
    for verdict, count in export["verdicts"].items():
        assert rows[verdict][0] == whole(count)
        assert rows[verdict][2] == interval_text(export["verdict_rates"][verdict])
    for sentence in (*export["cautions"], *export["assumptions"], *export["cause_sentences"].values()):
        assert sentence in words(tree)
    assert f"{export['command']} --html " in words(tree)
    assert export["versions"]["numba"] in words(tree)


def test_every_root_cause_has_its_wrong_step(tree: Node) -> None:
    export = shown(KNOB, RUNS)
    assert export["causes"]
    assert [item["cause"] for item in export["gallery"]["steps"]] == list(export["causes"])
    heads = [words(node) for node in tree.all("h3")]
    for item in export["gallery"]["steps"]:
        assert f"{item['cause'].capitalize()}: run {item['run']}, step {item['step']}" in heads


def test_checks_are_shown_with_what_fails_first(tree: Node) -> None:
    checks = shown(KNOB, RUNS)["checks"]
    table = next(node for node in tree.all("table") if node.attributes["id"] == "table-checks")
    outcomes = [row.all("td")[1].text for row in table.one("tbody").all("tr")]
    assert sorted(outcomes) == sorted(c["verdict"] for c in checks if c["verdict"] != "does not apply")
    assert outcomes == sorted(outcomes, key=["fail", "tight", "pass"].index)
    assert all(check["why"] in words(tree) for check in checks if check["verdict"] == "does not apply")
    assert "a larger capacitor: capacitor 150 nF (E6) gives 408 us" in words(tree)


MARGINS = {
    "time_resolution": 0.015625,
    "voltage_resolution": 0.003,
    "values_beyond": 10,
    "quantities": [
        {"quantity": "set-up time", "label": "B steady before A falls", "unit": "s", "worst_is": "least",
         "values": 26491, "worst": 4.2e-7, "one_in_1000": 9e-7, "one_in_100": 1.1e-3, "median": 3.4e-3,
         "asked": 1e-06, "missed": 3, "why_not": None},
        {"quantity": "high level of B", "label": "B high level", "unit": "V", "worst_is": "least",
         "values": 0, "worst": None, "one_in_1000": None, "one_in_100": None, "median": None,
         "asked": None, "missed": 0, "why_not": "that contact is read as a logic level, without a voltage"},
    ],
}  # fmt: skip


def test_margins_are_shown_when_they_were_gathered() -> None:
    export = shown(KNOB, RUNS)
    tree = read_page(page({**export, "margins": MARGINS}))
    table = next(node for node in tree.all("table") if node.attributes["id"] == "table-margins")
    first = next(words(row) for row in table.one("tbody").all("tr"))
    assert first.startswith("B steady before A falls 420 ns")
    assert "Not gathered: B high level" in words(tree)
    without = read_page(page({**export, "margins": None}))
    assert "table-margins" not in [node.attributes["id"] for node in without.all("table")]
    assert "--no-margins --html" in words(without)


def test_the_command_on_the_page_names_the_engine_that_the_page_names() -> None:
    export = shown(KNOB, RUNS)
    tree = read_page(page({**export, "engine": "events"}))
    assert f"{export['command']} --engine events --html report.html" in words(tree)
    assert "--engine" not in words(read_page(page_of(KNOB, RUNS)))


def test_an_export_with_a_gallery_is_valid() -> None:
    jsonschema.validate(json.loads(as_json(shown(KNOB, RUNS))), schema("run.schema.json"))


def test_nothing_is_loaded(text: str, tree: Node) -> None:
    """No element names another place, and the page's own policy admits its two scripts and no others."""
    for node in tree.all():
        assert node.tag not in ("link", "img", "iframe", "object", "embed", "base"), node.tag
        for name in ("src", "href", "srcset", "action", "data", "poster"):
            assert node.attributes.get(name, "#").startswith("#"), node.attributes
        assert not [name for name in node.attributes if name.startswith("on")]
    assert "url(" not in tree.one("style").text
    assert "@import" not in tree.one("style").text
    policy = next(node.attributes["content"] for node in tree.all("meta") if "http-equiv" in node.attributes)
    assert policy.startswith("default-src 'none';")
    scripts = [node for node in tree.all("script") if "type" not in node.attributes]
    told = ["".join(str(part) for part in node.order) for node in scripts]
    hashes = [base64.b64encode(hashlib.sha256(each.encode()).digest()).decode() for each in told]
    assert [f"'sha256-{each}'" in policy for each in hashes] == [True, True]
    assert "'unsafe-inline'" not in policy.partition("script-src")[2].partition(";")[0]


def test_strings_of_a_scenario_stay_text() -> None:
    hostile = with_hostile_strings(shown(KNOB, RUNS, "target.wrong=1 in 100 steps"))
    tree = read_page(page(hostile))
    assert len(tree.all("script")) == 4
    assert tree.one("h1").text == " ".join(HOSTILE.split())
    assert tree.one("title").text.startswith("<script>alert(1)</script>")
    assert words(tree).count("<script>alert(1)</script>") > 10


def test_data_of_charts_cannot_end_their_script() -> None:
    export = shown(KNOB, RUNS)
    export["gallery"]["steps"][0]["tracks"][0]["name"] = HOSTILE
    export["gallery"]["steps"][0]["tracks"][0]["sort"] = "count"
    tree = read_page(page(export))
    assert len(tree.all("script")) == 4
    assert HOSTILE in json.dumps(data_of(tree, "chart-data"), ensure_ascii=False).replace('\\"', '"')


def test_the_same_export_gives_the_same_bytes_however_long_it_took(text: str) -> None:
    again = shown(KNOB, RUNS)
    again["seconds"] = 1234.5
    assert page(again) == text
    assert not re.search(r"20\d\d-\d\d-\d\d|\d\d:\d\d:\d\d", text[text.rindex("</script>") :])


NO_DATA = {"estimate": None, "low": None, "high": None, "level": 0.95, "method": "no data"}


@pytest.mark.parametrize("runs", [0, RUNS])
def test_a_page_without_steps(runs: int) -> None:
    export = {**export_of(KNOB, RUNS), "runs": runs, "steps": 0, "wrong": 0, "causes": {}}
    export["verdict_rates"] = dict.fromkeys(export["verdict_rates"], NO_DATA)
    export |= {"wrong_rate": NO_DATA, "spurious_rate": NO_DATA}
    export["gallery"] = {"searched_runs": runs, "steps": []}
    tree = read_page(page(export))
    assert "no data" in words(tree)
    assert sorted(data_of(tree, "chart-data")) == (["chart-errors"] if runs else [])


def test_a_page_with_nothing_wrong_shows_bounds() -> None:
    export = export_of(KNOB, RUNS)
    for group in export["by_spacing"]:
        group |= {"wrong": 0, "wrong_rate": export["spurious_rate"]}
    tree = read_page(page({**export, "wrong": 0, "causes": {}}))
    assert "No step went wrong at any spacing" in words(tree)
    band, seen, bounds, _ = data_of(tree, "chart-data")["chart-spacing"]["data"]
    assert seen["x"] == []
    assert bounds["y"] == pytest.approx([1000.0 * export["spurious_rate"]["high"]] * len(bounds["x"]))
    assert len(band["x"]) == len(bounds["x"])


def test_a_wide_spread_of_rates_is_drawn_on_a_logarithmic_axis_to_whose_end_the_boxes_reach() -> None:
    export = export_of(KNOB, RUNS)
    groups = [group for group in export["by_spacing"] if group["steps"]]
    groups[0]["wrong_rate"] = {**NO_DATA, "estimate": 0.0, "low": 0.0, "high": 0.9}
    groups[1]["wrong_rate"] = {**NO_DATA, "estimate": 1e-5, "low": 1e-7, "high": 2e-4}
    tree = read_page(page(export))
    chart = data_of(tree, "chart-data")["chart-spacing"]
    assert chart["layout"]["yaxis"]["type"] == "log"
    low, high = (10.0**end for end in chart["layout"]["yaxis"]["range"])
    band = chart["data"][0]
    assert band["base"][:2] == pytest.approx([low, low])
    assert low < 1e-5 * 1000.0
    assert high > 900.0
    assert [base + length for base, length in zip(band["base"], band["y"], strict=True)][:2] == pytest.approx(
        [900.0, 0.2]
    )
    assert "logarithmic" in words(tree)


def test_charts_are_small_and_wear_the_pages_colours(tree: Node) -> None:
    charts, dark = data_of(tree, "chart-data"), data_of(tree, "dark-colours")
    places = [node.attributes["id"] for node in tree.all("div") if node.attributes.get("class") == "chart"]
    assert sorted(charts) == sorted(places)
    for chart in charts.values():
        assert sum(len(trace["x"]) for trace in chart["data"]) < MOST_POINTS
        assert not [trace["type"] for trace in chart["data"] if trace["type"].endswith("gl")]
        assert set(re.findall(r"#[0-9a-f]{6}\b", json.dumps(chart))) <= set(dark)
    assert dark == palette.swaps()


def test_cells_of_tables_do_not_break_between_a_number_and_its_unit(text: str) -> None:
    assert ">at most 1.95\N{NO-BREAK SPACE}ms</td>" in text


def test_a_number_keeps_its_unit_in_the_same_line() -> None:
    assert words_apart(tied("5 % of 4.7 kohm in 12 us, 3 steps")) == 7


def words_apart(text: str) -> int:
    """Pieces between plain blanks: 5 %, of, 4.7 kohm, in, 12 us, 3, steps."""
    return len(text.split(" "))
