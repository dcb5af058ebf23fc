"""What a sweep says in sentences, tables, bars and grids, in a terminal and on its page."""

from __future__ import annotations

import itertools
import json
import pathlib
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.documents.cells import MET, MOST_ROWS, axes_line, lowest_sentence, own_cautions
from reports.documents.ranges import MARKS, WIDEST_VALUE, bars, limiting_causes, range_sentence, ticks
from reports.documents.sweep import headline
from reports.output import layout
from reports.render import terminal
from reports.render.palette import swaps
from reports.results.common import Rate, TargetRate
from reports.results.sweep import (
    CellGesture,
    SweepCell,
    SweepResult,
    VariedKey,
    acceptable_ranges,
    ending_rule,
    range_rule,
    values_in_words,
)
from reports.words.numbers import interval_text
from reports.words.sentences import CAUSES
from scenarios.loading.ranges import Axis
from scenarios.loading.sweeps import MOST_CELLS
from simcore.judging import sums
from simcore.statistics.stopping import Stop, Target
from tests.reports.page_reading import MOST_BYTES, Node, data_of, read_page, words
from tests.reports.sweeps import KNOB, TARGET, one_key, three_keys, told, two_keys

PATH = "filter.capacitor"
Row = tuple[str, str | None, Mapping[str, int], Rate]


def rate(low: float, estimate: float, high: float) -> Rate:
    return Rate(low=low, estimate=estimate, high=high, level=0.95, method="by hand")


def result_of(rows: Sequence[Row], *, target: bool = True) -> SweepResult:
    """A sweep of one key with the given cells, and its acceptable range."""
    values = tuple(value for value, *_ in rows)
    axis = Axis(PATH, "by hand", values, tuple(map(float, range(len(rows)))), "F")
    cells = [_cell(number, *row) for number, row in enumerate(rows)]
    goal = TargetRate(rate=0.001, text="1 in 1000 steps") if target else None
    return SweepResult.model_construct(
        axes=(VariedKey(path=PATH, given="by hand", values=values, numbers=axis.numbers, unit="F"),),
        cells=tuple(cells),
        cells_asked=len(cells),
        target=goal,
        window=acceptable_ranges([axis], cells, 0.001 if target else None),
    )


def _cell(number: int, value: str, meets: str | None, causes: Mapping[str, int], seen: Rate) -> SweepCell:
    group: dict[str, Any] = {
        "wrong": sum(causes.values()), "wrong_rate": seen, "causes": causes, "meets_target": meets,
    }  # fmt: skip
    gesture = CellGesture.model_construct(name="clicks", **group)
    return SweepCell.model_construct(number=number, values={PATH: value}, by_gesture=(gesture,), **group)


BAD, GOOD = rate(0.01, 0.02, 0.03), rate(0.0001, 0.0002, 0.0004)
CHATTER, SLOW = {"chatter": 90, "swallowed": 10}, {"swallowed": 40}
ROWS: list[Row] = [
    ("10 nF", "no", CHATTER, BAD),
    ("22 nF", "undecided", CHATTER, rate(0.0005, 0.001, 0.002)),
    ("47 nF", "yes", {}, GOOD),
    ("100 nF", "yes", {"chatter": 1}, GOOD),
    ("220 nF", "no", SLOW, BAD),
]


def test_range_with_limiting_causes_at_both_ends() -> None:
    assert headline(result_of(ROWS)) == (
        "filter.capacitor meets the target from 47 nF to 100 nF. Below, 10 nF is outside: chatter (90.0 % "
        "of the wrong steps); 22 nF is undecided. Above, 220 nF is outside: swallowed (100 % of the wrong "
        "steps)."
    )


def test_range_of_one_value_without_ends() -> None:
    assert headline(result_of([ROWS[1], ROWS[2], ROWS[1]])) == (
        "filter.capacitor meets the target at 47 nF. Below, no value tried is outside; 22 nF is undecided. "
        "Above, no value tried is outside; 22 nF is undecided."
    )


def test_no_range() -> None:
    assert headline(result_of([ROWS[0], ROWS[4]])) == (
        "No value of filter.capacitor is shown to meet the target. The wrong rate with the lowest upper "
        "bound is at 10 nF: 20 per 1,000 (95 % confidence interval 10 to 30); main cause: chatter."
    )


def test_gaps_and_values_apart() -> None:
    result = result_of([ROWS[2], ROWS[0], ROWS[2], ROWS[1], ROWS[3]])
    text = range_sentence(result, result.window[0])
    assert "In between, 22 nF is undecided." in text
    assert text.endswith("Apart from these: 47 nF.")


def without_target(rows: Sequence[Row]) -> SweepResult:
    return result_of([(value, None, causes, seen) for value, _, causes, seen in rows], target=False)


def test_range_without_target_is_near_the_lowest_rate() -> None:
    """Twice the upper bound 0.4 per 1,000 is the limit: the second is neither below nor above 0.8."""
    result = without_target(ROWS)
    found = result.window[0]
    assert found.rate == pytest.approx(0.0008)
    assert found.standings == ("outside", "open", "within", "within", "outside")
    assert headline(result).startswith("filter.capacitor gives rates near the lowest from 47 nF to 100 nF.")


def test_no_range_without_target_where_twice_the_lowest_rate_is_everything() -> None:
    """Twice 0.6 is above every rate there is, so a cell below it is not thereby a good one."""
    result = without_target(
        [("10 nF", None, CHATTER, rate(0.9, 0.95, 0.97)), ("22 nF", None, CHATTER, rate(0.4, 0.5, 0.6))]
    )
    assert result.window[0].standings == ("open", "open")
    assert headline(result).startswith("No value of filter.capacitor could be judged. The wrong rate with")


def test_cell_that_was_not_finished_is_undecided() -> None:
    result = result_of(ROWS)
    axis = Axis(PATH, "", tuple(value for value, *_ in ROWS), (1.0, 2.0, 3.0, 4.0, 5.0))
    (found,) = acceptable_ranges([axis], [each for each in result.cells if each.number != 2], 0.001)
    assert found.standings == ("outside", "open", "open", "within", "outside")
    assert found.below is not None
    assert (found.first, found.below.open) == ("100 nF", ("47 nF", "22 nF"))


def test_each_gesture_of_several_has_its_range() -> None:
    result = one_key()
    assert [found.gesture for found in result.window] == [None, "clicks", "twists"]
    for number, found in enumerate(result.window[1:]):
        decisions = {"within": "yes", "outside": "no", "open": "undecided"}
        assert [decisions[each] for each in found.standings] == [
            cell.by_gesture[number].meets_target for cell in result.cells
        ]
    assert two_keys().window == ()


def test_every_root_cause_has_a_sentence_and_a_short_name() -> None:
    assert set(CAUSES) == set(sums.CAUSES[1:])
    assert max(map(len, CAUSES)) <= 20


def test_rules_say_what_ends_a_cell_in_one_sentence() -> None:
    rules = [
        ending_rule(Stop(5000, target=Target(0.001)), "1 in 1000 steps"),
        ending_rule(Stop(5000, target=Target(0.001, each=True)), "1 in 1000 steps"),
        ending_rule(Stop(5000, precision=0.1), None),
        ending_rule(Stop(5000), None),
    ]
    assert all("5,000 runs" in rule and rule.count(". ") == 0 for rule in rules)
    assert "at most 5 % are called better" in rules[0]
    assert "each gesture" in rules[1]
    assert "10 % of the rate" in rules[2]
    assert ending_rule(Stop(1, precision=0.1), None).endswith("after 1 run at the latest.")
    assert "0.5 %" in ending_rule(Stop(5000, precision=0.005), None)
    assert "1 in 1000 steps" in ending_rule(Stop(9), "1 in 1000 steps")


def test_rule_of_a_range_says_what_rates_are_compared_with() -> None:
    assert "twice the lowest upper bound" in range_rule(None)
    assert "--each-gesture" in range_rule("1 in 10")
    assert "--each-gesture" not in range_rule("1 in 10", each=True)
    assert "allow for all interim analyses" in range_rule("1 in 10")
    assert range_rule("1 in 10", interim=False).endswith("by its 95 % confidence interval.")


def test_values_varied_in_words() -> None:
    assert values_in_words(["10 nF", "22 nF", "47 nF"], numeric=True) == "10 nF to 47 nF"
    assert values_in_words(["10 nF"], numeric=True) == "10 nF"
    assert values_in_words(["x1", "x2"], numeric=False) == "x1, x2"
    assert values_in_words(list("abcdefgh"), numeric=False) == "a, b, c, d, e and 3 others"
    assert axes_line(two_keys()) == (
        "21 cells of up to 400 runs; filter.capacitor: 47 nF to 470 nF (7 values); filter.series: 470 ohm to "
        "2.2 kohm (3 values)."
    )


def test_cells_of_two_keys_are_counted_and_the_lowest_is_named() -> None:
    result = two_keys()
    met, missed = (sum(each.meets_target == word for each in result.cells) for word in ("yes", "no"))
    assert f"{met} {'is' if met == 1 else 'are'} shown to meet" in headline(result)
    assert f"and {missed} to miss it" in headline(result)
    best = min(result.cells, key=lambda each: each.wrong_rate.high or 1.0)
    assert ", ".join(f"{path} {value}" for path, value in best.values.items()) in lowest_sentence(result)


def test_cautions_of_cells_are_told_once_with_where_they_hold() -> None:
    cells = [
        SweepCell.model_construct(values={"a.b": str(i)}, cautions=("Beware.",) if i else ())
        for i in range(6)
    ]
    assert own_cautions(cells) == ["At a.b 1; a.b 2; a.b 3 and 2 other cells: Beware."]


def printed(result: SweepResult, width: int, encoding: str = "utf-8") -> list[str]:
    return terminal.text(result.document(), layout(width, encoding)).splitlines()


@pytest.mark.parametrize("width", [60, 80, 100, 120, 200])
@pytest.mark.parametrize("made", [one_key, two_keys])
def test_report_keeps_to_its_width(made: Callable[[str], SweepResult], width: int) -> None:
    for target in (TARGET, ""):
        lines = printed(made(target), width)
        assert max(map(len, lines)) <= width
        assert not any("…" in line for line in lines)


@pytest.mark.parametrize("width", [80, 120])
def test_each_bar_shows_how_each_value_stands(width: int) -> None:
    result = one_key()
    lines = printed(result, width)
    for found in result.window:
        name = found.gesture or "all steps"
        bar = next(line for line in lines if line.startswith(f"{name} ") and "·" in line)
        shown = [mark for mark in bar[len("all steps") :].split(" ") if mark]
        assert [part[0] for part in shown] == [MARKS[standing] for standing in found.standings]
        assert all(len(set(part)) == 1 for part in shown)


def test_ascii_only_where_nothing_else_is_known() -> None:
    for made in (one_key(), two_keys()):
        assert all(line.isascii() for line in printed(made, 80, "ascii"))
    assert any("###" in line for line in printed(one_key(), 80, "ascii"))


def test_too_many_values_have_no_bar() -> None:
    """A hundred values do not fit into 80 columns."""
    result = result_of([(f"{i} nF", "yes", {}, GOOD) for i in range(100)])
    assert "too many" in bars(result, 80, "utf-8")
    assert MARKS["within"] * 100 in bars(result, 120, "utf-8")


@settings(deadline=None)
@given(st.lists(st.text("0123456789 nF", min_size=1, max_size=8), min_size=1, max_size=30), st.integers(1, 9))
def test_ticks_stand_where_their_bars_begin_and_never_touch(values: list[str], width: int) -> None:
    values = [" ".join(value.split()) or "0" for value in values]
    line = ticks(values, width)
    assert len(line) <= max(len(values) * width, len(values[0]))
    found = list(re.finditer(r"\S+(?: \S+)*", line))
    for match in found:
        assert match.start() % width == 0
        assert values[match.start() // width] == match.group()
    assert all(after.start() - before.end() >= 2 for before, after in itertools.pairwise(found))


def test_ticks_of_few_values_name_each() -> None:
    values = ["100 nF", "220 nF", "470 nF", "4.7 kohm"]
    assert ticks(values, WIDEST_VALUE).split("  ") == ["100 nF", "", "220 nF", "", "470 nF", "", "4.7 kohm"]


@settings(deadline=None)
@given(st.text("#.?", min_size=1, max_size=20), st.integers(1, 7), st.sampled_from(sorted(CAUSES)))
def test_limiting_causes_stand_at_the_ends(row: str, width: int, cause: str) -> None:
    meets = {"#": "yes", ".": "no", "?": "undecided"}
    values = [f"{i} nF" for i, _ in enumerate(row)]
    rows: list[Row] = [(v, meets[sign], {cause: 5}, BAD) for v, sign in zip(values, row, strict=True)]
    (found,) = result_of(rows).window
    lines = limiting_causes(found, values, width)
    if found.below is None or found.above is None:
        assert "".join(lines).count("^") == 1
        return
    text = cause
    assert len(lines) <= 2
    for end, edge in ((found.below, 1), (found.above, 0)):
        if end.outside is not None:
            place = (values.index(end.outside) + edge) * width
            told_of = [line for line in lines if text in line]
            assert told_of
            if edge and place >= len(text):
                assert any(line[place - len(text) : place] == text for line in told_of)
            if not edge and place + len(text) <= len(values) * width:
                assert any(line[place : place + len(text)] == text for line in told_of)


def test_grid_has_every_cell_with_its_mark() -> None:
    result = two_keys()
    lines = printed(result, 80)
    start = next(
        i for i, line in enumerate(lines) if line.startswith("Wrong steps per 1,000: filter.capacitor down")
    )
    assert lines[start + 1].count("ohm") == 3
    marks = {"yes": "*", "undecided": "?", "no": ""}
    for value in result.axes[0].values:
        row = next(line for line in lines[start + 2 :] if line.strip().startswith(f"{value} "))
        shown = row.strip().removeprefix(value).split()
        assert [text[-1] if text[-1] in "*?" else "" for text in shown] == [
            marks[str(each.meets_target)] for each in result.cells if each.values[PATH] == value
        ]


def test_wide_grid_is_cut_into_parts_with_all_columns() -> None:
    result = told(
        KNOB, "--vary", "filter.capacitor=47n, 100n", "--vary", "filter.series=100R..10k:E12", "--runs", "20"
    )
    lines = printed(result, 80)
    assert max(map(len, lines)) <= 80
    assert all(value in " ".join(lines) for value in result.axes[1].values)


def test_three_keys_give_one_table() -> None:
    lines = printed(three_keys(), 120)
    assert not any("down," in line for line in lines)
    assert sum("nF" in line and "kohm" in line and " V " in line and ":" not in line for line in lines) == 8


MADE: dict[str, Callable[[], SweepResult]] = {
    "one key": one_key,
    "one key without target": lambda: one_key(""),
    "two keys": two_keys,
    "two keys without target": lambda: two_keys(""),
    "three keys": three_keys,
    "words": lambda: told(KNOB, "--vary", "contacts.part=crisp, ordinary, tired", "--runs", "60"),
}


@pytest.fixture(scope="module", params=sorted(MADE))
def result(request: pytest.FixtureRequest) -> SweepResult:
    found: SweepResult = MADE[request.param]()
    return found


@pytest.fixture(scope="module")
def tree(result: SweepResult) -> Node:
    return read_page(result.page())


def rows_of(tree: Node, caption: str) -> list[list[str]]:
    table = next(node for node in tree.all("table") if words(node.one("caption")).startswith(caption))
    return [[words(cell).strip() for cell in row.all("th", "td")] for row in table.one("tbody").all("tr")]


def test_page_is_small_and_loads_nothing(result: SweepResult, tree: Node) -> None:
    assert len(result.page().encode()) < MOST_BYTES
    for node in tree.all():
        assert node.tag not in ("link", "img", "iframe", "object", "embed", "base"), node.tag
        for name in ("src", "href", "srcset", "action", "data", "poster"):
            assert node.attributes.get(name, "#").startswith("#"), node.attributes
        assert not [name for name in node.attributes if name.startswith("on")]


def test_page_says_what_the_result_says(result: SweepResult, tree: Node) -> None:
    said = words(tree)
    for sentence in (result.rule, result.simulated, *result.assumptions, *result.cautions):
        assert sentence in said
    assert f"{result.command} --html report.html" in said
    rows = rows_of(tree, "Cells")
    assert len(rows) == len(result.cells)
    for row, cell in zip(rows, result.cells, strict=True):
        assert row[: len(result.axes)] == list(cell.values.values())
        assert interval_text(cell.wrong_rate) in row
        assert result.target is None or MET[cell.meets_target] in row
    if result.window:
        assert [row[1] for row in rows_of(tree, "Acceptable ranges")] == [
            w.first or "-" for w in result.window
        ]


def test_same_result_gives_the_same_page_however_long_it_took(result: SweepResult) -> None:
    assert result.model_copy(update={"seconds": 1234.5}).page() == result.page()


def test_every_chart_has_its_place_and_the_pages_colours(tree: Node) -> None:
    charts, dark = data_of(tree, "chart-data"), data_of(tree, "dark-colours")
    placed = [node.attributes["id"] for node in tree.all("div") if node.attributes.get("class") == "chart"]
    assert sorted(charts) == sorted(placed)
    assert charts
    for chart in charts.values():
        assert set(re.findall(r"#[0-9a-f]{6}\b", json.dumps(chart))) <= set(dark) == set(swaps())


def test_interrupted_sweep_without_a_cell_has_its_page() -> None:
    nothing = one_key().model_copy(update={"cells": (), "window": (), "complete": False})
    assert "No cell was finished" in words(read_page(nothing.page()))


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
        tree = read_page(made.page())
        assert len(tree.all("script")) == 4
        assert words(tree).count("<script>alert('1')</script>") > 4
        charts = json.dumps(data_of(tree, "chart-data"))
        assert "<script>" not in charts
        assert "&lt;script&gt;alert" in charts


def enlarged(result: SweepResult, sizes: tuple[int, ...]) -> SweepResult:
    """The same with so many values of each key, its cells over and over again."""
    axes = [
        each.model_copy(
            update={
                "values": tuple(f"{i + 1} of {size}" for i in range(size)),
                "numbers": tuple(map(float, range(size))),
            }
        )
        for each, size in zip(result.axes, sizes, strict=True)
    ]
    paths = [each.path for each in axes]
    cells = [
        result.cells[number % len(result.cells)].model_copy(
            update={"number": number, "values": dict(zip(paths, values, strict=True))}
        )
        for number, values in enumerate(itertools.product(*(each.values for each in axes)))
    ]
    nowhere = {"ends": None, "first": None, "last": None, "below": None, "above": None}
    ranges = [
        each.model_copy(
            update={
                "standings": ("open",) * sizes[0],
                **nowhere,
                "lowest": each.lowest and each.lowest.model_copy(update={"value": axes[0].values[0]}),
            }
        )
        for each in result.window
    ]
    return result.model_copy(update={"axes": tuple(axes), "cells": tuple(cells), "window": tuple(ranges)})


@pytest.mark.parametrize("sizes", [(MOST_CELLS,), (50, 40), (MOST_CELLS // 8, 8)])
def test_page_of_as_many_cells_as_are_allowed(sizes: tuple[int, ...]) -> None:
    text = enlarged(one_key() if len(sizes) == 1 else two_keys(), sizes).page()
    assert len(text.encode()) < MOST_BYTES
    tree = read_page(text)
    assert len(rows_of(tree, "Cells")) == MOST_ROWS
    assert f"the first {MOST_ROWS} of 2,000 cells" in words(tree)
