"""Scenarios that a program hands over: texts as they stand, and tables as the TOML that stands for them."""

from __future__ import annotations

import tomllib
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenarios.loading.load import load_source
from scenarios.loading.messages import ScenarioError
from scenarios.loading.sources import LARGEST, MOST_LEVELS, parse, setting, tables_source, text_source
from tests.scenarios.samples import SMALL, says

words = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
numbers = st.integers(1 - LARGEST, LARGEST - 1) | st.floats(allow_nan=False)
scalars = words | st.booleans() | numbers
lists = st.recursive(
    st.lists(scalars, max_size=4), lambda inner: st.lists(inner | scalars, max_size=3), max_leaves=4
)
tables = st.recursive(
    st.dictionaries(words, scalars | lists, max_size=4),
    lambda inner: st.dictionaries(words, scalars | inner | st.lists(inner, max_size=3), max_size=4),
    max_leaves=8,
)


@given(tables)
def test_tables_come_back_from_their_text(content: dict[str, Any]) -> None:
    """Read by Python's own TOML reader (TOML 1.0)."""
    source = tables_source(content)
    assert tomllib.loads(source.text) == content
    assert parse(source) == content


def test_a_scenario_as_tables_is_the_scenario() -> None:
    handed = load_source(tables_source(tomllib.loads(SMALL)))
    plain = load_source(text_source(SMALL))
    assert handed.resolved == plain.resolved
    assert handed.design == plain.design
    assert plain.text == SMALL


def test_numbers_of_other_libraries_become_pythons_own() -> None:
    content = {"a": np.int32(3), "b": np.float32(0.5), "c": Fraction(1, 4), "d": (np.float64(2.0), 1)}
    assert tomllib.loads(tables_source(content).text) == {"a": 3, "b": 0.5, "c": 0.25, "d": [2.0, 1]}


@pytest.mark.parametrize(
    ("content", "place", "words"),
    [
        ({"a": {"b": None}}, "a.b", "expected a text, a number ... got nothing"),
        ({"a": [1, {"b": 2}]}, "a.2", "got a table"),
        ({"a": [[{"b": 2}]]}, "a.1.1", "got a table"),
        ({"a": [{"b": 2j}]}, "a.1.b", "got the complex"),
        ({"a": {1: 2}}, "a", "expected a text as the name of a key, got 1"),
        ({"a": LARGEST}, "a", "got a whole number of more than 60 digits"),
        ({"a\nb": object}, "a\\nb", "expected"),
    ],
)
def test_what_toml_has_no_word_for(content: Any, place: str, words: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        tables_source(content)
    (problem,) = caught.value.problems
    assert (problem.file, problem.place) == ("scenario tables", place)
    assert says(problem, words)
    assert str(problem).isprintable()


def test_tables_without_end_are_refused() -> None:
    endless: dict[str, Any] = {}
    endless["a"] = endless
    deep: Any = 1
    for _ in range(MOST_LEVELS + 1):
        deep = [deep]
    for content in (endless, {"a": deep}):
        with pytest.raises(ScenarioError, match="nested too deeply"):
            tables_source(content)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("47 nF", "47 nF"),
        ("", ""),
        (5, "5"),
        (0.5, "0.5"),
        (True, "true"),
        (["A", "B"], '["A", "B"]'),
        ([], "[]"),
    ],
)
def test_a_setting_is_what_the_command_line_takes(value: Any, text: str) -> None:
    assert setting("filter.capacitor", value) == f"filter.capacitor={text}"
