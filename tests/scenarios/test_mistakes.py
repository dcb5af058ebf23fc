"""One mistake in one value or key is one clear message: line, path, what was read, what is allowed."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from scenarios.loading.messages import sentence
from tests.scenarios.samples import SMALL, changed, only_problem

COUNTER = '[counter]\nkind = "step-direction"\n'
CLEAN = 'kind = "clean"\n'
CYCLES = "cycles = 20\n"
NANO = 'capacitor = "100 nF"\n'


class Mistake(NamedTuple):
    """What is replaced by what, the place that the message names, and words that it holds."""

    old: str
    new: str
    place: str
    words: tuple[str, ...]


def after(old: str, more: str, place: str, *words: str) -> Mistake:
    """A mistake in a line put after another."""
    return Mistake(old, f"{old}{more}\n", place, words)


def instead(old: str, new: str, place: str, *words: str) -> Mistake:
    """A mistake in place of something."""
    return Mistake(old, new, place, words)


KEYS = (
    after("\n", "rnus = 5", "line 2, rnus", "did you mean", '"runs"', "seed"),
    after(CYCLES, "detent = 20", "line 6, encoder.detent", 'mean "detents"'),
    after(CYCLES, '"a b" = 1', "line 6, encoder.a b", "expected detents"),
    after(NANO, 'tolerance = { capacitr = "5 %" }', "line 19, filter.tolerance.capacitr", 'mean "capacitor"'),
    after(CLEAN, "make = { pairs = 1 }", "line 9, contacts.make", "unknown key"),
    instead(CYCLES, "", "line 3, encoder.cycles", '"cycles" is missing', "whole number from 1 to 1000"),
    instead('series = "1k"\n', "", "line 13, filter.series", '"series" is missing', '"4k7"'),
    instead("[encoder]\ndetents = 20\ncycles = 20\n", "", "encoder", "the table [encoder] is missing"),
    instead(COUNTER, "[counter]\n", "line 25, counter.kind", '"kind" is missing', '"step-direction"'),
    instead('gesture = "click"', "clicks = 1", "line 10, hand.unnamed.gesture", "missing", '"twist"'),
    instead('"schmitt input"', '"schmit input"', "line 21, schmit input.kind", 'mean "schmitt input"'),
    instead('"click"', '"clack"', "line 11, hand.clack.gesture", 'got "clack"', 'mean "click"', '"rest"'),
    instead('"rc"', "[1]", "line 15, filter.kind", "got a list", '"rc"', '"plain input"'),
)  # fmt: skip

PARTS = (
    instead(CLEAN, 'part = "ordinry"\n', "line 8, contacts.part", 'mean "ordinary"', "crisp"),
    instead(CLEAN, 'part = "ordinry"\nwear = 2\n', "line 8, contacts.part", 'got "ordinry"'),
    instead(CLEAN, "part = 5\n", "line 8, contacts.part", "got 5", "unknown part", "ordinary"),
    instead(COUNTER, '[counter]\npart = "ordinary"\n', "line 26, counter.part", "quadrature-x4"),
    instead("[encoder]\n", '[encoder]\npart = "crips"\n', "line 4, encoder.part", 'mean "crisp"'),
    after(CLEAN, 'part = "ordinary"', "line 8, contacts.kind", 'got "clean"', 'expected "wiping"'),
)  # fmt: skip

TABLES = (
    after("\n", "supply = 5", "line 2, supply", "got 5", "expected a table"),
    after(NANO, 'tolerance = "5 %"', "line 19, filter.tolerance", "expected a table"),
    instead("[[hand]]", "[hand]", "line 10, hand", "got a table", "begun with [[hand]]"),
    instead('[[hand]]\ngesture = "click"\n', "", "hand", "there is no [[hand]]"),
)  # fmt: skip

NAMES = (
    after('name = "filter"\n', 'lines = ["C"]', "line 15, filter.lines", 'got ["C"]', '["A", "B"]'),
    after('name = "filter"\n', 'lines = ["A", "A"]', "line 15, filter.lines", '["A", "B"]'),
    after('name = "filter"\n', 'lines = "A"', "line 15, filter.lines", 'got "A"', '["A", "B"]'),
    instead('"filter"', '"a.b"', "line 14, a.b.name", 'without "." and "="'),
    instead('"filter"', '"counter"', "line 14, counter.name", "the name of a section"),
    instead('"filter"', '" "', "line 14,  .name", "one or more letters"),
    instead('"filter"', "5", "line 14, number 1.name", "got 5", "a text in quotes"),
    after('"schmitt input"\n', 'name = "filter"', "line 22, schmitt input.name", 'got "filter"', "taken"),
)  # fmt: skip

QUANTITIES = (
    instead('"4k7"', "4700", "line 16, filter.pull_up", "got 4700", "no unit", '"4k7"'),
    instead('"1.9 V"', '"1.9"', "line 22, schmitt input.rising", "the unit is missing", '"70 %"'),
    instead('"100 nF"', '"100 nH"', "line 18, filter.capacitor", 'got "100 nH"', "capacitance", '"2n2"'),
    instead('"4k7"', '"-4.7 kohm"', "line 16, filter.pull_up", "above 0 ohm", "1 Gohm"),
    instead('"4k7"', '"0 ohm"', "line 16, filter.pull_up", "above 0 ohm"),
    instead('"1.9 V"', '"-1 V"', "line 22, schmitt input.rising", "from 0 V to 1 kV"),
    after(NANO, "tolerance = { series = 0.05 }", "line 19, filter.tolerance.series", '"5 %"'),
    after(NANO, 'tolerance = { series = "95 %" }', "line 19, filter.tolerance.series", "from 0 % to 90 %"),
    after(COUNTER, 'setup = "2 s"', "line 27, counter.setup", "a time from 0 s to 1 s"),
    after(COUNTER, 'hold = "-1 us"', "line 27, counter.hold", "a time from 0 s to 1 s"),
    after(CYCLES, 'rest = "200 deg"', "line 6, encoder.rest", "an angle from -180 deg to 180 deg"),
    after('"click"\n', 'duration = "0 s"', "line 12, hand.click.duration", "above 0 s"),
    after('"click"\n', 'duration = "-5 ms"', "line 12, hand.click.duration", "above 0 s"),
    after(COUNTER, '[target]\nwrong = "2 in 1"', "line 28, target.wrong", "above 0 and below 1"),
)  # fmt: skip

NUMBERS = (
    instead("detents = 20", 'detents = "20"', "line 4, encoder.detents", "0 to 1000, without quotes"),
    instead("cycles = 20", "cycles = 20.5", "line 5, encoder.cycles", "got 20.5", "whole number"),
    instead("cycles = 20", "cycles = true", "line 5, encoder.cycles", "got true", "whole number"),
    instead("cycles = 20", "cycles = 0", "line 5, encoder.cycles", "from 1 to 1000"),
    after("\n", "runs = 0", "line 2, runs", "from 1 to 100000000"),
    after("\n", "runs = 100000001", "line 2, runs", "from 1 to 100000000"),
    after("\n", "seed = -1", "line 2, seed", "from 0 to 9223372036854775807"),
    after("\n", "seed = 9223372036854775808", "line 2, seed", "from 0 to 9223372036854775807"),
    after('"click"\n', "clicks = 0", "line 12, hand.click.clicks", "from 1 to 10000"),
    after('"click"\n', "duration_spread = 1.5", "line 12, hand.click.duration_spread", "from 0 to 1"),
    instead(CLEAN, 'kind = "wiping"\nbreak = { restitution = 1.0 }\n', "line 9, contacts.break.restitution",
            "from 0 below 1"),
    instead(CLEAN, 'kind = "wiping"\nbreak = { pairs = nan }\n', "line 9, contacts.break.pairs",
            "got nan", "from 0 to 200"),
    instead(CLEAN, 'kind = "wiping"\nmake = { rebound = 1.5 }\n', "line 9, contacts.make.rebound",
            "got 1.5", 'for example 0.5 or "50 %"'),
)  # fmt: skip

WORDS = (
    instead('"small"', "5", "line 1, title", "got 5", "a text in quotes"),
    instead('"small"', '"a\\nb"', "line 1, title", r"a\nb", "on one line"),
    instead('"small"', f'"{"x" * 201}"', "line 1, title", "up to 200 characters"),
    after(COUNTER, 'clock = "A faling"', "line 27, counter.clock", 'mean "A falling"'),
    after(COUNTER, "clock = 1", "line 27, counter.clock", "got 1", '"B rising"'),
    after(COUNTER, 'ends = "stopp"', "line 27, counter.ends", 'mean "stop"'),
    after('"1.2 V"\n', 'inverting = "yes"', "line 24, schmitt input.inverting", "true or false"),
)  # fmt: skip


@pytest.mark.parametrize(
    "mistake", [*KEYS, *PARTS, *TABLES, *NAMES, *QUANTITIES, *NUMBERS, *WORDS], ids=lambda each: each.new[:40]
)
def test_one_mistake_gives_one_message(mistake: Mistake) -> None:
    problem = only_problem(changed(mistake.old, mistake.new))
    assert problem.file.endswith("sample.toml")
    assert problem.place == mistake.place
    for word in mistake.words:
        assert word in str(problem)
    assert "\n" not in str(problem)


def test_values_of_every_type_are_shown_in_one_short_line() -> None:
    texts = ('"\\u0007"', f'"{"x" * 5000}"', "9" * 80, "inf")
    for value in ("2020-01-01", "12:30:00", "[[1]]", "{ a = 1 }", *texts):
        problem = only_problem(changed("detents = 20", f"detents = {value}"))
        assert problem.place == "line 4, encoder.detents"
        assert problem.read.isprintable()
        assert 0 < len(problem.read) < 80


def test_the_sample_itself_has_no_mistake() -> None:
    assert SMALL.count("\n") == 26
    with pytest.raises(AssertionError):
        only_problem(SMALL)


@pytest.mark.parametrize(
    ("message", "read", "text"),
    [
        ("expected 1 or 2", "3", "expected 1 or 2, got 3"),
        ("unknown key; expected a or b; did you mean \"a\"?", "c",
         "unknown key; expected a or b, got c; did you mean \"a\"?"),
        ("unknown key; it is named elsewhere", "c", "unknown key, got c; it is named elsewhere"),
        ("expected 1 or 2", "", "expected 1 or 2"),
    ],
)  # fmt: skip
def test_what_was_read_follows_what_is_expected(message: str, read: str, text: str) -> None:
    assert sentence(message, read) == text
