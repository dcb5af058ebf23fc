"""Ranges of values: what is meant by each way of writing one, and every mistake in one."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenarios.loading.catalogue import ready_names
from scenarios.loading.load import load_scenario
from scenarios.loading.ranges import (
    MOST_VALUES,
    Axis,
    axis_of,
    document_of,
    reader_at_path,
    scale_of,
    with_unit,
)
from scenarios.loading.sweeps import OWN
from scenarios.quantities import CAPACITANCE, RESISTANCE, TIME, QuantityError
from scenarios.schema.document import ScenarioDocument

E6 = (10, 15, 22, 33, 47, 68)
"""IEC 60063, table 1: the values of E6 in a decade."""


def document(name: str = "panel-knob") -> ScenarioDocument:
    return document_of(load_scenario(name).resolved)


KNOB = document()


def axis(path: str, given: str) -> Axis:
    return axis_of(path, given, reader_at_path(KNOB, path.split(".")))


def refusal(path: str, given: str) -> QuantityError:
    with pytest.raises(QuantityError) as caught:
        axis(path, given)
    return caught.value


@pytest.mark.parametrize(
    ("path", "given", "values"),
    [
        ("filter.capacitor", "10n, 22n, 47 nF", "10 nF|22 nF|47 nF"),
        ("filter.capacitor", "47n,10n", "10 nF|47 nF"),
        ("filter.capacitor", "1n, 10n..22n:E6, 1u", "1 nF|10 nF|15 nF|22 nF|1 uF"),
        ("filter.series", "470R, 4k7, 1M", "470 ohm|4.7 kohm|1 Mohm"),
        ("filter.series", "1k..10k:E3", "1 kohm|2.2 kohm|4.7 kohm|10 kohm"),
        ("filter.series", "1k..2k:3", "1 kohm|1.5 kohm|2 kohm"),
        ("filter.series", "1k..100k:log 3", "1 kohm|10 kohm|100 kohm"),
        ("filter.series", "1k .. 100k : LOG 3", "1 kohm|10 kohm|100 kohm"),
        ("filter.series", "1k..100k:log3", "1 kohm|10 kohm|100 kohm"),
        ("supply.voltage", "3V3, 1800m", "1.8 V|3.3 V"),
        ("input.rise_delay", "20n..80n:3", "20 ns|50 ns|80 ns"),
        ("input.rising", "40 %..60 %:3", "40 %|50 %|60 %"),
        ("input.rising", "1 V, 50 %", "1 V|50 %"),
        ("hand.clicks.duration_spread", "0..0.5:3", "0 %|25 %|50 %"),
        ("hand.clicks.clicks", "1..4", "1|2|3|4"),
        ("hand.clicks.clicks", "2..8:3", "2|5|8"),
        ("hand.clicks.clicks", "8, 2", "2|8"),
        ("hand.twists.duration", "12 ms, 0.5 s", "12 ms|500 ms"),
        ("contacts.wear", "1..2:3", "1|1.5|2"),
        ("counter.clock", "b rising, a  Falling", "B rising|A falling"),
        ("supply.power_up", "true, false", "true|false"),
        ("filter.lines", '["A"], ["A", "B"]', '["A"]|["A", "B"]'),
        ("filter.tolerance.capacitor", "5 %..20 %:4", "5 %|10 %|15 %|20 %"),
        ("input.part", "cmos-schmitt, ttl-schmitt", "cmos-schmitt|ttl-schmitt"),
    ],
)
def test_values(path: str, given: str, values: str) -> None:
    assert axis(path, given).values == tuple(values.split("|"))


def test_a_series_is_that_of_the_standard() -> None:
    found = axis("filter.capacitor", "10n..1u:E6")
    assert found.numbers == pytest.approx([v * 1e-9 for v in E6] + [v * 1e-8 for v in E6] + [1e-6])
    assert found.unit == "F"
    assert (found.path, found.given) == ("filter.capacitor", "10n..1u:E6")


@pytest.mark.parametrize("count", [2, 5, 7, 31, 200])
def test_even_steps_and_even_ratios_are_those_of_numpy(count: int) -> None:
    """Within a hundredth of a step, for values are rounded to few digits."""
    even = axis("filter.capacitor", f"10n..1u:{count}").numbers
    ratios = axis("filter.capacitor", f"10n..1u:log {count}").numbers
    assert even is not None
    assert ratios is not None
    wide = (1e-6 - 1e-8) / (count - 1)
    assert np.abs(np.array(even) - np.linspace(1e-8, 1e-6, count)).max() <= 0.0101 * wide
    spaced = np.geomspace(1e-8, 1e-6, count)
    assert np.abs(np.array(ratios) - spaced).max() <= 0.0101 * (spaced[1] - spaced[0])


def test_rounded_values_are_short_and_the_ends_are_exact() -> None:
    values = axis("filter.capacitor", "10.01n..1u:log 7").values
    assert (values[0], values[-1]) == ("10.01 nF", "1 uF")
    assert max(map(len, values)) <= len("215.4 nF")
    narrow = axis("supply.voltage", "3.3 V..3.3001 V:3").values
    assert narrow == ("3.3 V", "3.30005 V", "3.3001 V")


@settings(max_examples=300, deadline=None)
@given(st.integers(1, 10**6), st.integers(1, 10**6), st.integers(2, 60), st.booleans())
def test_any_range_rises_from_end_to_end_and_reads_back(a: int, b: int, count: int, log: bool) -> None:
    low, high = sorted((a, b))
    if low == high:
        return
    found = axis("filter.series", f"{low} ohm..{high} ohm:{'log ' if log else ''}{count}")
    assert found.numbers is not None
    assert len(found.values) == count
    assert all(one < other for one, other in itertools.pairwise(found.numbers))
    assert (found.numbers[0], found.numbers[-1]) == (low, high)
    reader = reader_at_path(KNOB, ["filter", "series"])
    assert reader is not None
    assert [reader.read(value) for value in found.values] == list(found.numbers)


@pytest.mark.parametrize(
    ("path", "given", "read", "words"),
    [
        ("filter.capacitor", "", '""', "no value"),
        ("filter.capacitor", "10n,,22n", '"10n,,22n"', "empty value"),
        ("filter.capacitor", "10n,", '"10n,"', "empty value"),
        ("filter.capacitor", "10n, 10 nF", '"10 nF"', "once"),
        ("filter.capacitor", "10n..1u:E6, 22n", '"22 nF"', "once"),
        ("filter.capacitor", "10 nH", '"10 nH"', '"nH" is not a unit of capacitance'),
        ("filter.capacitor", "10..20", '"10"', "the unit is missing"),
        ("filter.capacitor", "10n..2 F:E6", '"2 F"', "from 0 F to 1 F"),
        ("filter.capacitor", "1u..10n:E6", '"1u..10n:E6"', "the range falls"),
        ("filter.capacitor", "10n..10 nF:E6", '"10n..10 nF:E6"', "the range is empty"),
        ("filter.capacitor", "10n..", '"10n.."', "two ends"),
        ("filter.capacitor", "..10n:3", '"..10n:3"', "two ends"),
        ("filter.capacitor", "1n..2n..3n:3", '"1n..2n..3n:3"', "two ends"),
        ("filter.capacitor", "10n..1u", '"10n..1u"', "values between its ends"),
        ("filter.capacitor", "10n..1u:lin 7", '"lin 7"', '":log 9"'),
        ("filter.capacitor", "10n..1u:E5", '"E5"', "E3, E6, E12, E24, E48, E96 or E192"),
        ("filter.capacitor", "11n..14n:E6", '"11n..14n:E6"', '"10 nF" or "15 nF"'),
        ("filter.capacitor", "0 nF..1u:E6", '"0 nF..1u:E6"', "cannot begin at 0 F"),
        ("filter.capacitor", "0 nF..1u:log 5", '"0 nF..1u:log 5"', "cannot begin at 0 F"),
        ("filter.capacitor", "10n..1u:1", '"10n..1u:1"', "2 to 2000 values"),
        ("filter.capacitor", "10n..1u:1000000000", "10n..1u", "2 to 2000 values"),
        ("filter.capacitor", "10n..1u:log 1000000000", "10n..1u", "2 to 2000 values"),
        ("filter.capacitor", "10n..1u:0", '"10n..1u:0"', "2 to 2000 values"),
        ("filter.capacitor", f"10n..1u:{MOST_VALUES + 1}", "10n..1u", "2 to 2000 values"),
        ("filter.series", "10m, 1k", '"10m"', "milli or mega"),
        ("hand.clicks.duration", "10m", '"10m"', "milli or minutes"),
        ("hand.clicks.clicks", "1..4:E3", '"1..4:E3"', "no series"),
        ("hand.clicks.clicks", "1..4:9", '"1..4:9"', "at most 4 values"),
        ("hand.clicks.clicks", "1.5", "1.5", "whole number"),
        ("hand.clicks.clicks", "many", '"many"', "whole number"),
        ("hand.clicks.clicks", "0..3", "0", "from 1 to"),
        ("counter.clock", "A falling, A raising", '"A raising"', 'did you mean "A rising"?'),
        ("counter.clock", "A falling..B rising", "A falling..B rising", "no range"),
        ("supply.power_up", "yes", '"yes"', "true or false"),
        ("contacts.wear", "1..2:x", '"x"', "unknown way"),
    ],
)
def test_mistakes(path: str, given: str, read: str, words: str) -> None:
    error = refusal(path, given)
    assert read.strip('"') in error.read
    assert words in error.message


@settings(max_examples=300, deadline=None)
@given(
    st.sampled_from(
        ["filter.capacitor", "counter.clock", "hand.clicks.clicks", "input.part", "filter.lines"]
    ),
    st.text(max_size=40) | st.from_regex(r"[0-9. ]{0,4}[unpk]?\.\.[0-9]{0,3}[unpk]?:?(E|log )?[0-9]{0,3}"),
)
def test_any_text_is_values_or_one_refusal(path: str, given: str) -> None:
    try:
        found = axis(path, given)
    except QuantityError:
        return
    assert 1 <= len(found.values) == len(set(found.values)) <= MOST_VALUES


def test_a_lone_prefix_takes_the_key_s_unit_only_where_it_can_mean_nothing_else() -> None:
    assert with_unit("10u", TIME) == "10us"
    assert with_unit("10n", CAPACITANCE) == "10n"
    assert with_unit("10k", RESISTANCE) == "10k"
    assert with_unit("10", TIME) == "10"
    assert with_unit("10 q", TIME) == "10 q"
    for dimension in (TIME, RESISTANCE):
        with pytest.raises(QuantityError, match="may be milli or"):
            with_unit("10m", dimension)


@pytest.mark.parametrize("name", ready_names())
def test_every_single_value_of_a_ready_scenario_has_its_reader(name: str) -> None:
    """But those that a sweep does not vary, kinds, which choose what keys there are, and the parts that may
    stand for a table.
    """
    scenario = load_scenario(name)
    found = document(name)
    for path in scenario.paths:
        if path not in OWN and path.rpartition(".")[2] not in ("part", "kind"):
            assert reader_at_path(found, path.split(".")) is not None, path
    for path in ("filter.capasitor", "nothing.x", "hand", "hand.nobody.clicks", "supply", "supply.voltage.x"):
        assert reader_at_path(KNOB, path.split(".")) is None


def test_a_member_of_a_mix_has_its_readers() -> None:
    found = document("mixed-hand")
    member = next(iter(found.hand[0].of))  # type: ignore[attr-defined]
    mix = found.hand[0].name
    assert scale_of(reader_at_path(found, ["hand", mix, "of", member, "weight"]), "1") is not None
    assert reader_at_path(found, ["hand", mix, "of", "nobody", "weight"]) is None
    assert reader_at_path(found, ["hand", mix, "of", member]) is None
