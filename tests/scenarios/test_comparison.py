"""Variants of a file and the designs of a comparison: what is made of them, and every mistake."""

from __future__ import annotations

import itertools
import string
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenarios.loading.catalogue import ready_names
from scenarios.loading.comparison import MOST_DESIGNS, ComparisonDesign, difference_rows, load_compared
from scenarios.loading.load import load_scenario
from scenarios.loading.messages import Problem, ScenarioError
from scenarios.loading.overrides import AS_IT_STANDS, Setting, setting_of
from tests.scenarios.samples import SMALL, load_text, only_problem, problems_of, says

VARIANTS = """
[variant."220 nF"]
filter.capacitor = "220 nF"

[variant.slower]
"filter.capacitor" = "1 uF"
filter.tolerance = { capacitor = "20 %", series = "5 %" }
counter.positions = 64
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A small scenario with two variants."""
    found = tmp_path / "knob.toml"
    found.write_text(SMALL + VARIANTS, encoding="utf-8")
    return found


def refused(
    names: Sequence[str | Path], groups: Sequence[str] = (), sets: Sequence[str] = ()
) -> tuple[str, ...]:
    """The messages of a comparison that cannot be made."""
    with pytest.raises(ScenarioError) as caught:
        load_compared([str(name) for name in names], groups, sets)
    return tuple(str(problem) for problem in caught.value.problems)


def test_a_file_as_it_stands_and_its_variants(file: Path) -> None:
    first, second, third = load_compared([str(file)])
    assert [first.name, second.name, third.name] == [AS_IT_STANDS, "220 nF", "slower"]
    assert first.scenario == load_scenario(str(file))
    assert second.scenario.design == load_scenario(str(file), ["filter.capacitor=220 nF"]).design
    sets = [
        "filter.capacitor=1 uF", "filter.tolerance.capacitor=20 %", "filter.tolerance.series=5 %",
        "counter.positions=64",
    ]  # fmt: skip
    assert third.sets == tuple(sets)
    assert third.scenario.design == load_scenario(str(file), sets).design


def test_what_is_named_alone_is_the_design_that_was_compared(file: Path) -> None:
    """The scenario and the settings by which ``trace`` is to find it."""
    found = [
        *load_compared([str(file)], sets=["supply.voltage=5 V"]),
        *load_compared(["panel-knob"], ["filter.capacitor=220 nF, input.part=ttl-schmitt"], ["runs=7"]),
        *load_compared(["panel-knob", "no-filter"]),
    ]
    for design in found:
        assert load_scenario(design.named, design.sets).design == design.scenario.design


def test_settings_for_all_lie_below_those_of_one_design(file: Path) -> None:
    for designs in (
        load_compared([str(file)], sets=["filter.capacitor=47 nF", "supply.voltage=5 V"]),
        load_compared(
            [str(file)], ["filter.capacitor=220 nF"], ["filter.capacitor=47 nF", "supply.voltage=5 V"]
        ),
    ):
        values = [design.scenario.resolved["stage"][0]["capacitor"] for design in designs[:2]]
        assert values == ["47 nF", "220 nF"]
        assert {design.scenario.resolved["supply"]["voltage"] for design in designs} == {"5 V"}


def test_groups_take_the_place_of_variants(file: Path) -> None:
    designs = load_compared([str(file)], ["counter.positions=8", "counter.positions=9"])
    assert [design.name for design in designs] == [AS_IT_STANDS, "counter.positions=8", "counter.positions=9"]


def test_commas_in_lists_tables_and_quotes_do_not_part_a_group() -> None:
    group = 'filter.lines=["A"], filter.tolerance={pull_up="5 %", series="1 %"}, title="one, two", runs'
    assert refused(["panel-knob"], [group])[-1].endswith(
        'expected PATH=VALUE, for example "runs=100" or "supply.voltage=5 V", got "runs"; commas '
        "separate several"
    )
    group = 'filter.tolerance={pull_up="1 %", series="1 %", capacitor="1 %"}, title="one, two"'
    (_, design) = load_compared(["panel-knob"], [group])
    assert design.scenario.title == '"one, two"'
    assert design.scenario.resolved["stage"][0]["tolerance"] == dict.fromkeys(
        ("pull_up", "series", "capacitor"), "1 %"
    )


def test_names_that_are_alike_are_told_apart(tmp_path: Path) -> None:
    files = []
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        files.append(tmp_path / folder / "knob.toml")
        files[-1].write_text(SMALL, encoding="utf-8")
    names = [design.name for design in load_compared([str(file) for file in files])]
    assert names == ["knob", str(files[1])]
    assert [design.name for design in load_compared(["panel-knob"] * 3)] == [
        "panel-knob", "panel-knob (2)", "panel-knob (3)",
    ]  # fmt: skip


def test_every_ready_scenario_with_variants_has_designs_to_compare() -> None:
    found = [name for name in ready_names() if load_scenario(name).variants]
    assert "which-filter" in found
    for name in found:
        assert len(load_compared([name])) > 2


def test_variants_change_nothing_for_who_takes_the_file_as_it_stands() -> None:
    plain, more = load_text(SMALL), load_text(SMALL + VARIANTS)
    assert (plain.design, plain.resolved, plain.paths) == (more.design, more.resolved, more.paths)
    assert [variant.name for variant in more.variants] == ["220 nF", "slower"]


LINES = SMALL.count("\n")


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('variant = 3\n', 1, "variant: expected tables, each begun with [variant.NAME] ... got 3"),
        ('variant.a = 3\n', 1, "variant.a: expected a table of paths, as --set takes them, with ... got 3"),
        ("[variant.a]\n", None, "variant.a: there is nothing in it; expected paths"),
        ("[variant.a]\nfilter = {}\n", None, "variant.a: there is nothing in it"),
        ('[variant." "]\nsupply.voltage = "5 V"\n', None, 'expected a name of one line ... got " "'),
        ('[variant."a\\nb"]\nsupply.voltage = "5 V"\n', None, "a name of one line and 1 to 60 letters"),
        (f'[variant.{"a" * 61}]\nsupply.voltage = "5 V"\n', None, "1 to 60 letters"),
        ('[variant."as it stands"]\nsupply.voltage = "5 V"\n', None, "the name of the file's own"),
    ],
)  # fmt: skip
def test_a_variant_that_is_none_is_refused_by_whoever_reads_the_file(
    text: str, line: int | None, words: str
) -> None:
    problem = only_problem(text + SMALL if line else f"{SMALL}\n{text}")
    assert says(problem, words)
    assert problem.place.startswith(f"line {line or LINES + 2}, variant")


def test_a_mistyped_section_has_variant_for_its_nearest() -> None:
    assert str(only_problem(SMALL + "\n[varients.a]\nx = 1\n")).endswith('did you mean "variant"?')


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            'filter.capacitor = "220 ohm"',
            'filter.capacitor: "ohm" is not a unit of capacitance ... got "220 ohm"',
        ),
        ('filtr.capacitor = "1 nF"', 'filtr.capacitor: unknown path; expected ... got "filtr"'),
        ('filter.capacitr = "1 nF"', 'capacitr: unknown key ... got "capacitr"'),
        ('filter = "1 nF"', '"filter" is a table; the path must name a key in it'),
        ("seed = 3", "seed: all designs of a comparison have the same seed; use --seed"),
        ("runs = 3", "runs: all designs of a comparison have the same runs; use --runs"),
        ("stop.errors = 3", "stop.errors: a comparison does not use [stop]: it takes all its runs"),
        (
            'target.wrong = "1 %"',
            "target.wrong: a comparison does not use [target]: it compares designs",
        ),
        ('"filter..capacitor" = "1 nF"', "a part of the path is empty"),
        ("when = 2020-01-01", 'unknown path; ... got "when"'),
        ("filter.capacitor = 2020-01-01", "filter.capacitor: ... got the date"),
    ],
)
def test_a_mistake_in_a_variant_is_told_with_its_line(tmp_path: Path, text: str, words: str) -> None:
    file = tmp_path / "knob.toml"
    file.write_text(f"{SMALL}\n[variant.a]\n{text}\n", encoding="utf-8")
    assert load_scenario(str(file)).variants
    (message,) = refused([file])
    assert message.startswith(f"{file}, line {LINES + 3}, variant.a.")
    assert says(message, words)


def test_mistakes_of_all_designs_are_told_at_once() -> None:
    found = refused(["panel-knob"], ["filter.capacitor=x", "counter.positions=1 V", "filter.capacitor=x"])
    assert len(found) == 2
    found = refused(["panel-knobs", "no-filters"])
    assert len(found) == 1


@pytest.mark.parametrize(
    ("names", "groups", "words"),
    [
        (["panel-knob"], [], "there is one design only; name another scenario, or give --with"),
        (["panel-knob", "no-filter"], ["runs=3"], "--with is for one scenario, and there are 2"),
        (["panel-knob"], [""], 'panel-knob, --with: expected PATH=VALUE ... got ""'),
        (["panel-knob"], ["runs"], 'panel-knob, --with runs: expected PATH=VALUE ... got "runs"'),
        (["panel-knob"], ["seed=3"], "--with seed=3: all designs of a comparison have the same seed"),
        (["panel-knob"] * (MOST_DESIGNS + 1), [], "expected 2 to 20 designs, got 21"),
        (["panel-knob"], ["counter.start=1"] * MOST_DESIGNS, "designs, got 21"),
        (["panel-knob", "nowhere.toml"], [], "nowhere.toml: there is no such file"),
    ],
)  # fmt: skip
def test_what_is_no_comparison_is_refused(names: list[str], groups: list[str], words: str) -> None:
    (message,) = refused(names, groups)
    assert says(message, words)


@pytest.mark.parametrize(
    ("names", "groups", "words"),
    [
        (["panel-knob", "fast-twist"], [], "hand."),
        (["panel-knob", "half-cycle-misfit"], [], "encoder.detents (24, not 20), encoder.cycles (12, not"),
        (["panel-knob"], ["hand.clicks.clicks=9"], "hand.clicks.clicks (9, not 8)"),
        (["panel-knob"], ["contacts.wear=2"], "contacts.wear (2, not 1)"),
    ],
)  # fmt: skip
def test_designs_that_do_not_meet_the_same_are_told_what_differs(
    names: list[str], groups: list[str], words: str
) -> None:
    (message,) = refused(names, groups)
    assert 'a comparison needs the hand, the encoder and the contacts of "' in message
    assert says(message, words)


def test_ratings_of_contacts_may_differ() -> None:
    """They are for the checks alone."""
    assert len(load_compared(["panel-knob"], ["contacts.most_current=10 mA"])) == 2


words = st.text(string.printable, max_size=12)
scalars = st.one_of(
    words, st.booleans(), st.integers(-(10**6), 10**6),
    st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(["5 %", "1e3", "true", "[1]", "0x10"]),
)  # fmt: skip
values = st.one_of(
    scalars, st.lists(scalars, max_size=3), st.lists(st.lists(scalars, max_size=2), max_size=2)
)


@settings(max_examples=500, deadline=None)
@given(
    st.lists(st.sampled_from(["filter", "capacitor", "hand", "title", "a b"]), min_size=1, max_size=3), values
)
def test_a_setting_as_text_is_read_as_the_same_setting(path: list[str], value: object) -> None:
    setting = Setting("", tuple(path), value)
    read = setting_of(setting.text)
    if path == ["title"] and not (isinstance(value, str) and value == value.strip()):
        return
    assert (read.words, read.value) == (setting.words, value)
    assert type(read.value) is type(value)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.one_of(st.text(max_size=20), st.sampled_from(
    ["filter.capacitor=1 nF", "=", ",", "[", "}", '"', "filter=", ".=.", "counter.kind=quadrature", "title=x"]
)), min_size=1, max_size=4))  # fmt: skip
def test_whatever_is_given_there_are_designs_or_one_error(groups: list[str]) -> None:
    found: tuple[ComparisonDesign, ...] = ()
    problems: tuple[Problem, ...] = ()
    try:
        found = load_compared(["panel-knob"], groups)
    except ScenarioError as error:
        problems = error.problems
    assert bool(found) != bool(problems)
    assert all("\n" not in str(problem) for problem in problems)
    if not found:
        return
    assert len(found) == len(groups) + 1
    assert len({design.name for design in found}) == len(found)


def test_problems_of_a_file_with_variants_come_in_the_order_of_the_file() -> None:
    text = (
        SMALL.replace('capacitor = "100 nF"', 'capacitor = "100 V"') + "\n[variant.a]\n[variant.b]\nx = {}\n"
    )
    lines = [int(problem.place.split()[1].strip(",")) for problem in problems_of(text)]
    assert len(lines) == 3
    assert all(one < other for one, other in itertools.pairwise(lines))


def rows_of(*designs: ComparisonDesign) -> dict[str, list[str | None]]:
    return dict(difference_rows([design.scenario.resolved for design in designs]))


def test_what_differs_and_nothing_else() -> None:
    designs = load_compared(
        ["panel-knob"], ["filter.capacitor=220 nF, input.rising=2 V", "supply.voltage=3300 mV"]
    )
    assert rows_of(*designs) == {
        "filter.capacitor": ["100 nF", "220 nF", "100 nF"],
        "input.rising": ["52.4 %", "2 V", "52.4 %"],
    }


def test_a_stage_that_one_design_has_not() -> None:
    rows = rows_of(*load_compared(["panel-knob", "no-filter"]))
    assert rows["stages"] == ["filter, input", None]
    assert rows["filter.capacitor"] == ["100 nF", None]
    assert "input.noise" not in rows, "what is 0 is left out"
