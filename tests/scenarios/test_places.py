"""The line of every key, in all the ways that TOML has of writing one."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenarios.loading.catalogue import ready_names, ready_text, starter_text
from scenarios.loading.places import deepest_key, key_lines, line_of
from scenarios.loading.written import as_toml

TEXT = '''\
# remark with [brackets] and = signs
title = "a # b = [c]"   # remark
"quoted key" = 1
dotted.inner = 2

[supply]
voltage = "3.3 V"
[encoder.tolerance]
closed = "1 deg"

[[hand]]
name = """
several
lines = 1
[x]
"""
after = 1.5
[[hand]]
extent = { low = 0.1, high = [ 1,
  2 ] }
[hand.more]
x = \'\'\'
it''s\'\'\'

[[stage]]
lines = [
  "A",  # remark
  "B",
]
tolerance = { series = "5 %" }
when = 2020-01-01T07:32:00.5
'''


def test_lines_of_a_text_with_everything() -> None:
    lines = key_lines(TEXT)
    expected = {
        ("title",): 2, ("quoted key",): 3, ("dotted",): 4, ("dotted", "inner"): 4,
        ("supply",): 6, ("supply", "voltage"): 7, ("encoder",): 8, ("encoder", "tolerance"): 8,
        ("encoder", "tolerance", "closed"): 9, ("hand",): 11, ("hand", 0): 11, ("hand", 0, "name"): 12,
        ("hand", 0, "after"): 17, ("hand", 1): 18, ("hand", 1, "extent"): 19,
        ("hand", 1, "extent", "low"): 19, ("hand", 1, "extent", "high"): 19,
        ("hand", 1, "extent", "high", 0): 19, ("hand", 1, "extent", "high", 1): 20,
        ("hand", 1, "more"): 21, ("hand", 1, "more", "x"): 22, ("stage",): 25, ("stage", 0): 25,
        ("stage", 0, "lines"): 26, ("stage", 0, "lines", 0): 27, ("stage", 0, "lines", 1): 28,
        ("stage", 0, "tolerance"): 30, ("stage", 0, "tolerance", "series"): 30, ("stage", 0, "when"): 31,
    }  # fmt: skip
    assert lines == expected


def test_the_nearest_place_around_what_is_missing() -> None:
    lines = key_lines(TEXT)
    assert line_of(lines, ("hand", 1, "extent", "lo")) == 19
    assert line_of(lines, ("stage", 0, "pull_up")) == 25
    assert line_of(lines, ("counter", "clock")) is None


def paths_in(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield (*path, key)
        yield from paths_in(inner, (*path, key))


def check_all_found(text: str) -> None:
    tables = tomllib.loads(text)
    lines = key_lines(text)
    assert set(lines) == set(paths_in(tables))
    rows = text.split("\n")
    for path, line in lines.items():
        if isinstance(path[-1], str) and path[-1].isalnum():
            assert path[-1] in rows[line - 1]


@pytest.mark.parametrize("name", ready_names())
def test_every_key_of_a_ready_scenario_has_a_line(name: str) -> None:
    check_all_found(ready_text(name))


def test_every_key_of_the_starter_has_a_line() -> None:
    check_all_found(starter_text())


keys = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=5)
single = (
    st.booleans() | st.integers(-9, 9) | st.floats(-9, 9) | st.text(st.characters(exclude_categories=["Cs"]))
)
values = st.recursive(
    single,
    lambda inner: (
        st.dictionaries(keys, inner, max_size=3) | st.lists(st.dictionaries(keys, inner), max_size=3)
    ),
    max_leaves=12,
)


@given(st.dictionaries(keys, values, max_size=5))
def test_written_tables_read_back_and_every_key_has_a_line(tables: dict[str, Any]) -> None:
    text = as_toml(tables)
    assert tomllib.loads(text) == tables
    assert set(key_lines(text)) == set(paths_in(tables))


@given(st.text(max_size=200))
def test_scanning_for_deep_keys_takes_any_text(text: str) -> None:
    parts, line = deepest_key(text)
    assert 0 <= parts <= len(text)
    assert 0 <= line <= text.count("\n") + 1


def test_the_deepest_key_is_found() -> None:
    assert deepest_key('a = 1.5\nb.c."d.e" . f = 2\n') == (4, 2)
