"""Recorded contacts and bad pads: libraries, where they are found, and every mistake in them."""

from __future__ import annotations

from pathlib import Path

import pytest

from scenarios.loading.catalogue import library_names, library_text
from scenarios.loading.load import Scenario, load_scenario
from scenarios.loading.messages import Problem, ScenarioError
from scenarios.loading.written import as_toml
from simcore.contacts.bursts import BadPad, Clean
from simcore.contacts.crossing import Sliding
from simcore.contacts.recorded import Recorded, bursts_of
from tests.scenarios.samples import changed, load_text, only_problem

CLEAN = 'kind = "clean"\n'
READY = 'kind = "recorded"\nlibrary = "invented-pad"\n'
LIBRARY = """\
title = "two bursts"
speed = "60 rpm"
[[make]]
changes = ["0 s", "10 us", "30 us"]
[[break]]
changes = ["0 s"]
[[break]]
changes = ["0 s", "5 us", "7 us"]
"""
MAKES, BREAKS = ((0.0, 10e-6, 30e-6),), ((0.0,), (0.0, 5e-6, 7e-6))


def load_beside(folder: Path, library: str, contacts: str = "", sets: tuple[str, ...] = ()) -> Scenario:
    """A scenario in a folder, beside a library in a folder below it."""
    (folder / "bursts").mkdir(exist_ok=True)
    (folder / "bursts" / "mine.toml").write_text(library, encoding="utf-8")
    text = f'kind = "recorded"\nlibrary = "bursts/mine.toml"\n{contacts}'
    (folder / "knob.toml").write_text(changed(CLEAN, text), encoding="utf-8")
    return load_scenario(str(folder / "knob.toml"), sets)


def test_a_library_beside_the_scenario(tmp_path: Path) -> None:
    scenario = load_beside(tmp_path, LIBRARY)
    assert scenario.design.contact == Recorded(bursts_of(MAKES), bursts_of(BREAKS), 360.0, 0.2, 5.0)
    told = scenario.resolved["contacts"]
    assert told["library"] == "bursts/mine.toml"
    assert told["make"] == [["0 s", "10 us", "30 us"]]
    assert told["break"] == [["0 s"], ["0 s", "5 us", "7 us"]]
    assert told["recorded_at"] == "60 rpm"


def test_the_resolved_scenario_needs_no_library(tmp_path: Path) -> None:
    scenario = load_beside(tmp_path, LIBRARY)
    assert load_text(as_toml(scenario.resolved)).design == scenario.design


def test_an_option_chooses_another_library_over_bursts_that_stand_there(tmp_path: Path) -> None:
    resolved = as_toml(load_beside(tmp_path, LIBRARY.replace("60 rpm", "30 rpm")).resolved)
    again = load_text(resolved, ["contacts.library=invented-pad"])
    assert again.design == load_text(changed(CLEAN, READY)).design
    assert again.resolved["contacts"]["recorded_at"] == "60 rpm"
    own = load_text(resolved, ["contacts.library=invented-pad", "contacts.recorded_at=15 rpm"])
    assert own.design.contact.reference == pytest.approx(90.0)


def test_wear_and_stretch(tmp_path: Path) -> None:
    scenario = load_beside(tmp_path, LIBRARY, "wear = 2\nstretch_least = 1\nstretch_most = 3\n")
    assert scenario.design.contact == Recorded(
        bursts_of(MAKES, 2.0), bursts_of(BREAKS, 2.0), 360.0, 1.0, 3.0
    )  # fmt: skip
    plain = load_beside(tmp_path, LIBRARY.replace('speed = "60 rpm"\n', ""))
    assert plain.design.contact.reference == 0.0
    unworn = load_beside(tmp_path, LIBRARY, "wear = 0\n").design.contact
    assert unworn.make == bursts_of([[0.0]])


def test_ready_libraries_load_and_say_that_they_are_invented() -> None:
    assert library_names()
    for name in library_names():
        assert "nvented" in library_text(name)
        text = changed(CLEAN, f'kind = "recorded"\nlibrary = "{name}"\n')
        assert isinstance(load_text(text).design.contact, Recorded)
    with pytest.raises(KeyError):
        library_text("nothing")


def problem_of(folder: Path, library: str) -> Problem:
    """The one mistake of a library."""
    with pytest.raises(ScenarioError) as raised:
        load_beside(folder, library)
    (problem,) = raised.value.problems
    return problem


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        (
            '"30 us"]',
            '"30"]',
            "line 4, make 1 changes",
            ['got "30"', "number 3", "unit is missing"],
        ),
        ('"10 us", ', "", "line 4, make 1 changes", ["got 2 changes", "an odd number"]),
        ('"5 us", "7 us"', '"7 us", "5 us"', "line 8, break 2 changes", ["number 3", "more than 7 us"]),
        ('["0 s", "10', '["1 us", "10', "line 4, make 1 changes", ["got 1 us", "begins with 0 s"]),
        ('["0 s"]', "[]", "line 6, break 1 changes", ["a list of 0", "1 to 401"]),
        ('["0 s"]', '"0 s"', "line 6, break 1 changes", ['got "0 s"', "a list"]),
        ('changes = ["0 s"]\n', "", "line 5, break 1", ['"changes" is missing']),
        ('changes = ["0 s"]\n', 'changes = ["0 s"]\nsped = 1\n', "line 7, break 1 sped", ["unknown key"]),
        ("[[make]]", "[make]", "line 3, make", ["got a table", "[[make]]"]),
        ("speed", "sped", "line 2, sped", ["unknown key", 'mean "speed"']),
        ('"60 rpm"', '"60"', "line 2, speed", ["unit is missing"]),
        ('"two bursts"', "5", "line 1, title", ["a text in quotes"]),
        ("[[make]]", "[[make", "line 3, column 7", ["not valid TOML"]),
    ],
)
def test_a_mistake_in_a_library_has_its_file_and_place(
    tmp_path: Path, old: str, new: str, place: str, words: list[str]
) -> None:
    problem = problem_of(tmp_path, changed(old, new, LIBRARY))
    assert problem.file.endswith("mine.toml")
    assert problem.place == place
    for word in words:
        assert word in str(problem)


def test_all_mistakes_of_a_library_are_told_together(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError) as raised:
        load_beside(tmp_path, 'x = 1\n[[make]]\nchanges = ["0 s", "1 us"]\n', "wear = -1\n")
    places = [(Path(problem.file).name, problem.place) for problem in raised.value.problems]
    assert places == [
        ("mine.toml", "line 1, x"), ("mine.toml", "line 3, make 1 changes"), ("mine.toml", "break"),
        ("knob.toml", "line 10, contacts.wear"),
    ]  # fmt: skip


def test_libraries_that_are_not_there(tmp_path: Path) -> None:
    problem = only_problem(changed(CLEAN, READY.replace("pad", "pda")))
    assert problem.place.endswith(", contacts.library")
    assert problem.read == '"invented-pda"'
    assert 'mean "invented-pad"' in str(problem)
    assert "a ready library (invented-pad)" in str(problem)
    assert "a directory" in str(only_problem(changed(CLEAN, 'kind = "recorded"\nlibrary = "."\n')))
    number = only_problem(changed(CLEAN, 'kind = "recorded"\nlibrary = 3\n'))
    assert (number.place.split(", ")[-1], number.read) == ("contacts.library", "3")
    assert "[[make]]" in str(problem_of(tmp_path, " \n"))
    problem = only_problem(changed(CLEAN, 'kind = "recorded"\n'))
    assert problem.place == "line 7, contacts.library"
    assert '"library" is missing' in str(problem)


@pytest.mark.parametrize(
    ("bursts", "words"),
    [
        ('make = [["0 s", "1 us"]]\nbreak = [["0 s"]]', ["contacts.make", "burst 1", "odd number"]),
        (
            'make = [["0 s"], ["0 s", "1 s", "1 us"]]\nbreak = [["0 s"]]',
            ["burst 2", "number 3", "more than 1 s"],
        ),
        ('make = []\nbreak = [["0 s"]]', ["contacts.make", "a list of 0", "1 to 10000 bursts"]),
        ('make = [["0 s"]]', ["contacts.break", '"break" is missing']),
        ('make = [["0 s"]]\nbreak = ["0 s"]', ["contacts.break", "burst 1", 'got "0 s"']),
        (
            'make = [["0 s"]]\nbreak = [["0 s"]]\nstretch_most = 0.1',
            ["stretch_most", "at least stretch_least"],
        ),
    ],
)
def test_mistakes_in_bursts_that_stand_in_the_scenario(bursts: str, words: list[str]) -> None:
    problem = only_problem(changed(CLEAN, f'kind = "recorded"\n{bursts}\n'))
    for word in words:
        assert word in str(problem)


def test_a_bad_pad() -> None:
    text = 'kind = "telegraph"\nwear = 2\nbad_pad = { pad = 3, factor = 5 }\n'
    contact = load_text(changed(CLEAN, text)).design.contact
    assert isinstance(contact, BadPad)
    assert (contact.pad, contact.pads) == (2, 20)
    assert contact.sound.make.pairs == 6.0
    assert contact.bad.make.pairs == 30.0
    assert load_text(changed(CLEAN, CLEAN + "bad_pad = { pad = 20 }\n")).design.contact == BadPad(
        Clean(1), Clean(1), 19, 20
    )
    problem = only_problem(changed(CLEAN, CLEAN + "bad_pad = { pad = 21 }\n"))
    assert problem.place == "line 9, contacts.bad_pad.pad"
    assert "expected 1 to 20" in str(problem)
    assert '"pad" is missing' in str(only_problem(changed(CLEAN, CLEAN + "bad_pad = { factor = 2 }\n")))


def test_opens_that_grow_as_speed_falls() -> None:
    sliding = 'rate = 3, length = "1 us", spread = 0.5, most = "1 ms", angle = "0.01 deg"'
    text = f"{CLEAN}wear = 2\nsliding = {{ {sliding} }}\n"
    assert load_text(changed(CLEAN, text)).design.sliding == Sliding(6.0, 2e-6, 0.5, 2e-3, 0.02)
