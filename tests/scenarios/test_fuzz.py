"""Whatever is done to a scenario, there is a Scenario or a ScenarioError, and nothing else."""

from __future__ import annotations

import tomllib
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from scenarios.loading.catalogue import ready_names, ready_text, starter_text
from scenarios.loading.load import Scenario
from scenarios.loading.messages import ScenarioError
from scenarios.loading.written import as_toml
from tests.scenarios.samples import SMALL, load_text

TEXTS = (SMALL, starter_text(), *(ready_text(name) for name in ready_names()))
LETTERS = st.characters(exclude_categories=["Cs"])
WORDS = (
    "4k7", "47 nF", "500 us", "60 rpm", "5 %", "0.3 deg", "3.3 V", "1 in 1000", "A falling", "click", "rc",
    "schmitt input", "quadrature", "tired", "cmos-schmitt", "-1 s", "0 s", "nan s", "1e308 V", "filter", "",
)  # fmt: skip
KEYS = (
    "title", "seed", "runs", "supply", "encoder", "contacts", "hand", "stage", "counter", "target", "part",
    "kind", "name", "lines", "tolerance", "detents", "cycles", "closed", "gesture", "clicks", "make",
    "break", "pairs", "capacitor", "rising", "clock", "positions", "start", "wrong", "wear", "extent",
)  # fmt: skip
KEY = st.sampled_from(KEYS) | st.text(LETTERS, min_size=1, max_size=6)
VALUE: st.SearchStrategy[Any] = st.recursive(
    st.sampled_from(WORDS)
    | st.booleans()
    | st.integers(-(2**63), 2**63 - 1)
    | st.integers(-3, 30)
    | st.floats()
    | st.text(LETTERS, max_size=10),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEY, inner, max_size=4),
    max_leaves=8,
)


def loads(text: str | bytes, sets: list[str] | None = None) -> bool:
    """Whether a text loads; anything but a Scenario or a well-made ScenarioError fails the test."""
    problems = None
    try:
        scenario = load_text(text, sets or [])
    except ScenarioError as error:
        problems = error.problems
    if problems is None:
        assert isinstance(scenario, Scenario)
        assert load_text(as_toml(scenario.resolved)).design == scenario.design
        return True
    assert problems
    for problem in problems:
        assert problem.file
        assert problem.message
        assert "\n" not in str(problem)
        assert len(str(problem)) < 3000
    return False


@st.composite
def tampered_tables(draw: st.DrawFn) -> dict[str, Any]:
    """A scenario's tables with a few values or keys changed, taken away or added."""
    tables = tomllib.loads(draw(st.sampled_from(TEXTS)))
    for _ in range(draw(st.integers(1, 4))):
        place: Any = tables
        while True:
            items = list(place.items()) if isinstance(place, dict) else list(enumerate(place))
            inner = [value for _, value in items if isinstance(value, dict | list) and value]
            if not inner or draw(st.integers(0, 2)) == 0:
                break
            place = draw(st.sampled_from(inner))
        what = draw(st.sampled_from(["change", "drop", "add"]))
        if what == "add" and isinstance(place, dict):
            place[draw(KEY)] = draw(VALUE)
        elif items:
            key = draw(st.sampled_from([key for key, _ in items]))
            if what == "drop":
                del place[key]
            else:
                place[key] = draw(VALUE)
    return tables


@settings(max_examples=300, deadline=None)
@given(tampered_tables())
def test_tampered_tables(tables: dict[str, Any]) -> None:
    loads(as_toml(tables))


@st.composite
def tampered_text(draw: st.DrawFn) -> str:
    """A scenario's text with lines lost, doubled or swapped, or letters changed."""
    lines = draw(st.sampled_from(TEXTS)).split("\n")
    for _ in range(draw(st.integers(1, 4))):
        at, other = draw(st.integers(0, len(lines) - 1)), draw(st.integers(0, len(lines) - 1))
        what = draw(st.sampled_from(["lose", "double", "swap", "letters", "cut"]))
        if what == "lose" and len(lines) > 1:
            del lines[at]
        elif what == "double":
            lines.insert(other, lines[at])
        elif what == "swap":
            lines[at], lines[other] = lines[other], lines[at]
        elif what == "letters":
            place = draw(st.integers(0, len(lines[at])))
            lines[at] = lines[at][:place] + draw(st.text(LETTERS, max_size=3)) + lines[at][place + 1 :]
        else:
            lines[at] = lines[at][: draw(st.integers(0, len(lines[at])))]
    return "\n".join(lines)


@settings(max_examples=300, deadline=None)
@given(tampered_text())
def test_tampered_text(text: str) -> None:
    loads(text)


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(KEY, VALUE, max_size=8))
def test_random_tables(tables: dict[str, Any]) -> None:
    loads(as_toml(tables))


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=300))
def test_random_bytes(data: bytes) -> None:
    loads(data)


PATHS = ("filter.capacitor", "hand.clicks.duration", "counter.setup", "encoder.tolerance", "contacts.kind",
         "contacts.part", "runs", "title", "input.part", "counter.part", "encoder.cycles")  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.text(LETTERS, max_size=20)
        | st.builds(
            lambda path, value: f"{path}={value}",
            st.sampled_from(PATHS) | st.lists(KEY, min_size=1, max_size=3).map(".".join),
            st.sampled_from(WORDS) | st.text(LETTERS, max_size=8) | st.integers().map(str),
        ),
        max_size=4,
    )
)
def test_random_options(sets: list[str]) -> None:
    loads(ready_text("panel-knob"), sets)


def test_the_texts_themselves_load() -> None:
    assert all(loads(text) for text in TEXTS)
