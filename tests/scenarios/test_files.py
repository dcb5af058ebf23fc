"""Files that cannot be read, texts that are no TOML, and names that are no file."""

from __future__ import annotations

import pathlib

import pytest

from scenarios.loading.load import load_scenario
from scenarios.loading.messages import ScenarioError
from tests.scenarios.samples import SMALL, changed, only_problem, problems_of


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        (changed('"4k7"', "4k7"), "line 16, column", ['got "pull_up = 4k7"', "in quotes"]),
        (changed("[encoder]", "[encoder"), "line 3, column", ['got "[encoder"', "not valid TOML"]),
        (SMALL + "detents = 1\nkind = 3\n", "line 28, column", ["overwrite"]),
        (SMALL + "[encoder]\n", "line 27, column", ['got "[encoder]"', "declare [encoder] twice"]),
        (SMALL + "[a.b]\n[a.b]\n", "line 28, column", ["declare [a.b] twice"]),
        (changed('"small"', '"small'), "line 1, column", ['got "title = "small"']),
        (SMALL + 'x = """', "line 27", ["not valid TOML"]),
        (SMALL + "x = " + "[" * 50_000, "line 27", ["nested too deeply", "50000"]),
        (SMALL + "x = " + "9" * 10_000, "line 27", ['got "999', "too many digits"]),
        (SMALL + ".".join("a" * 50_000) + " = 1", "line 27", ["got one of 50000"]),
        (SMALL + ".".join(['"\u2028"'] * 500) + " = 1", "line 27", ["got one of 500"]),
    ],
)
def test_what_is_not_toml(text: str, place: str, words: list[str]) -> None:
    problem = only_problem(text)
    assert problem.place.startswith(place)
    for word in words:
        assert word in str(problem)
    assert "\n" not in str(problem)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("panel-nob", ["panel-nob", "no such file", 'did you mean "panel-knob"', "well-filtered"]),
        ("panel_knob.toml", ['did you mean "panel-knob"']),
        ("nowhere/at/all.toml", ["no such file"]),
        ("a\0b", ["cannot be read"]),
        ("x" * 5000, ["cannot be read"]),
        ("", ['"": this is a directory']),
        (".", ["this is a directory"]),
        ("/dev/null", ["no ordinary file"]),
    ],
)
def test_what_is_no_file(name: str, words: list[str]) -> None:
    with pytest.raises(ScenarioError) as caught:
        load_scenario(name)
    (problem,) = caught.value.problems
    for word in words:
        assert word in str(problem)
    assert "a ready scenario (" in problem.message
    assert str(problem).isprintable()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", ["the file is empty", "[encoder]"]),
        (b" \n\t\n", ["the file is empty"]),
        (b"\x7fELF\x00\x01", ["a binary file", "UTF-8"]),
        (b'a = 1\ntitle = "caf\xe9"\n', ["line 2", "byte 0xe9", "expected a TOML text in UTF-8"]),
        (b"#" * 1_000_001, ["too large", "1,000,000 bytes"]),
    ],
)
def test_files_that_are_no_text(data: bytes, words: list[str]) -> None:
    problem = only_problem(data)
    for word in words:
        assert word in str(problem)


def test_a_file_of_the_largest_size_is_read() -> None:
    assert problems_of(SMALL.encode() + b"#" * (1_000_000 - len(SMALL))) == ()


def test_a_file_of_remarks_lacks_everything() -> None:
    assert [problem.place for problem in problems_of("# nothing\n")] == ["hand", "encoder", "counter"]


def test_a_byte_order_mark_and_other_line_ends_do_no_harm() -> None:
    text = changed('"4k7"', '"4x7"').replace("\n", "\r\n")
    problem = only_problem(b"\xef\xbb\xbf" + text.encode())
    assert problem.place == "line 16, filter.pull_up"


def test_a_ready_name_is_looked_up_before_a_folder_of_that_name(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    pathlib.Path("panel-knob").mkdir()
    assert load_scenario("panel-knob").source == "panel-knob"


def test_a_file_without_a_suffix_is_found(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "knob"
    file.write_text(SMALL, encoding="utf-8")
    scenario = load_scenario(str(file))
    assert (scenario.name, scenario.source) == ("knob", str(file))


def test_keys_that_cannot_be_printed_are_escaped() -> None:
    problem = only_problem('"\\u001b[31m\\n" = 1\n' + SMALL)
    assert problem.place == "line 1, \\x1b[31m\\n"
    assert str(problem).isprintable()
