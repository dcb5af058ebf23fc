"""``steptally compare`` as a process: outputs, exit codes, Ctrl-C, and every error that a user can make."""

from __future__ import annotations

import json
import pathlib
import re
import shlex

import jsonschema
import pytest
from click.testing import CliRunner

from reports.cli.group import steptally as group
from reports.results import schema_of
from tests.reports.comparisons import SMALLER, made
from tests.reports.page_reading import read_page
from tests.reports.running import names, steptally
from tests.reports.test_interrupts import ENDLESS, interrupted, started

VARIANTS = """
[variant."68 nF"]
filter.capacitor = "68 nF"

[variant."33 nF [red]"]
filter.capacitor = "33 nF"
"""
GROUP = "filter.capacitor=33 nF"


NEAR = "filter.capacitor=46 nF"


def plain(text: str) -> str:
    return " ".join(text.split())


def numbers(export: dict[str, object]) -> dict[str, object]:
    """What must not depend on threads and time."""
    return {key: value for key, value in export.items() if key not in ("seconds", "gallery")}


def test_a_file_with_variants_from_top_to_bottom(folder: pathlib.Path) -> None:
    with (folder / "knob.toml").open("a", encoding="utf-8") as file:
        file.write(VARIANTS)
    done = steptally(folder, "compare", "knob.toml", changes={"COLUMNS": "80"})
    assert (done.returncode, done.stderr) == (0, "")
    places = [
        done.stdout.index(each)
        for each in (
            "Volume knob [bold]in brackets[/bold]", "Of 3 designs", "\nWrong steps of each design\n",
            "\n3: 33 nF [red] ",
            "\n2 designs are compared with the first.", "\nDesigns\n", "\n3  33 nF [red]\n",
            "\nWhat differs\n", "\nDifferences on the same steps\n",
            "\n2 compared with 1: steps by verdict\n",
            "\n2 compared with 1: wrong steps by gesture\n", "\n2 compared with 1: runs\n",
            "\n2 compared with 1: steps with different outcomes\n", "\n3 compared with 1: steps by verdict\n",
            "\nTo repeat: ", "\nLimitations\n",
        )
    ]  # fmt: skip
    assert places == sorted(places)
    assert max(len(line) for line in done.stdout.splitlines()) <= 80
    assert "trace knob.toml --seed 7 --run " in plain(done.stdout)


def test_quiet_is_the_sentence_alone(folder: pathlib.Path) -> None:
    done = steptally(folder, "compare", "knob.toml", "--with", GROUP, "--runs", "50", "--quiet")
    assert done.returncode == 0
    assert re.fullmatch(
        r'"filter\.capacitor=33 nF" is worse than "as it stands": [\d.]+ more wrong steps per 1,000 \(95 % '
        r"confidence interval [\d.]+ to [\d.]+\), [\d.]+ instead of [\d.]+\.",
        plain(done.stdout),
    )


def test_json_is_valid_and_the_same_for_any_number_of_threads(folder: pathlib.Path) -> None:
    found = []
    for threads in ("1", "3"):
        done = steptally(
            folder, "compare", "knob.toml", "--with", GROUP, "--set", "supply.voltage=5 V", "--runs", "900",
            "--seed", "3", "--threads", threads, "--json", "-",
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        found.append(json.loads(done.stdout))
        jsonschema.validate(found[-1], schema_of("compare"))
    assert numbers(found[0]) == numbers(found[1])
    assert (found[0]["seed"], found[0]["runs"]) == (3, 900)
    assert {each["scenario"]["supply"]["voltage"] for each in found[0]["designs"]} == {"5 V"}


def test_the_command_that_is_told_gives_the_same_again(folder: pathlib.Path) -> None:
    words = ["compare", "knob.toml", "--with", GROUP, "--set", "title=it's [one]", "--runs", "40"]
    first = json.loads(steptally(folder, *words, "--json", "-").stdout)
    again = shlex.split(first["command"])[1:]
    assert numbers(json.loads(steptally(folder, *again, "--json", "-").stdout)) == numbers(first)


def test_a_comparison_until_it_is_settled(folder: pathlib.Path) -> None:
    """The rules of the file are for `run`; the command that is told ends where this one did."""
    with (folder / "knob.toml").open("a", encoding="utf-8") as file:
        file.write("[stop]\nerrors = 5\n")
    words = ["compare", "knob.toml", "--with", NEAR, "--runs", "4000", "--json", "-"]
    first = json.loads(steptally(folder, *words, "--settled").stdout)
    jsonschema.validate(first, schema_of("compare"))
    assert first["ended_by"] == "every difference is settled"
    assert 300 < first["runs"] < first["runs_asked"] == 4000
    assert first["stop"] == {
        "errors": None, "precision": None, "seconds": None, "settled": 0.95,
        "analyses": first["stop"]["analyses"],
    }  # fmt: skip
    assert first["stop"]["analyses"] > 2
    assert first["comparisons"][0]["verdict"] == "worse"
    assert sum("interim analyses" in each for each in first["cautions"]) == 1
    again = shlex.split(first["command"])[1:]
    assert numbers(json.loads(steptally(folder, *again, "--json", "-").stdout)) == numbers(first)
    straight = json.loads(steptally(folder, *words, "--runs", str(first["runs"])).stdout)
    assert straight["designs"] == first["designs"]
    assert straight["stop"]["analyses"] == 1
    wider, narrower = (each["comparisons"][0]["difference"] for each in (first, straight))
    assert wider["low"] < narrower["low"] < narrower["high"] < wider["high"]
    assert wider["level"] == narrower["level"] == 0.95


def test_a_comparison_until_enough_steps_went_wrong(folder: pathlib.Path) -> None:
    words = ["compare", "knob.toml", "--with", NEAR, "--runs", "4000", "--errors", "1500", "--json", "-"]
    found = json.loads(steptally(folder, *words).stdout)
    assert found["ended_by"] == "enough wrong steps seen"
    assert min(design["wrong"] for design in found["designs"]) >= 1500
    assert found["runs"] < 4000
    again = shlex.split(found["command"])[1:]
    assert numbers(json.loads(steptally(folder, *again, "--json", "-").stdout)) == numbers(found)


def test_a_ledger_serves_comparisons_and_other_verbs(folder: pathlib.Path) -> None:
    words = ["compare", "knob.toml", "--with", GROUP, "--runs", "400"]
    place = ["--ledger", "it.sqlite"]
    straight = json.loads(steptally(folder, *words, "--json", "-").stdout)
    for kept in (0, 400):
        done = steptally(folder, *words, *place, "--json", "-")
        assert done.returncode == 0, done.stderr
        assert done.stderr.endswith(f"{kept} of 400 runs were in the ledger.\n")
        assert {**numbers(json.loads(done.stdout)), "kept": 0} == numbers(straight)
    alone = steptally(
        folder, "run", "knob.toml", "--set", GROUP, "--runs", "400", "--no-margins", *place, "--json", "-"
    )
    assert alone.stderr.endswith("400 of 400 runs were in the ledger.\n")
    assert json.loads(alone.stdout)["wrong_rate"] == straight["designs"][1]["wrong_rate"]
    swept = steptally(
        folder, "sweep", "knob.toml", "--vary", "filter.capacitor=33 nF, 47 nF", "--runs", "400",
        "--all-runs", *place, "-q",
    )  # fmt: skip
    assert (swept.returncode, swept.stderr) == (0, "")
    told = json.loads(steptally(folder, "ledger", "it.sqlite", "--check", "--json", "-").stdout)
    jsonschema.validate(told, schema_of("ledger"))
    assert [(cell["pair"], cell["runs"], cell["in_use"]) for cell in told["cells"]] == [
        (False, 400, True), (False, 400, True), (True, 400, True),
    ]  # fmt: skip
    assert told["cells"][2]["differs"] == {"filter.capacitor": "47 nF -> 33 nF"}
    text = steptally(folder, "ledger", "it.sqlite").stdout
    assert "Volume knob [bold]in brackets[/bold], pairs of designs on the same runs" in plain(text)
    assert "filter.capacitor = 47 nF -> 33 nF" in plain(text)


def test_the_commands_for_trace_find_what_the_comparison_found(folder: pathlib.Path) -> None:
    done = steptally(folder, "compare", "knob.toml", "--with", GROUP, "--runs", "60", "--json", "-")
    row = json.loads(done.stdout)["comparisons"][0]["partings"][0]
    for command, side in zip(row["commands"], ("first", "other"), strict=True):
        told = steptally(folder, *shlex.split(command)[1:], "--json", "-")
        step = json.loads(told.stdout)["traces"][0]["steps"][row["step"] - 1]
        assert (step["verdict"], step["cause"]) == (row[side]["verdict"], row[side]["cause"])


def test_the_page_and_the_json_are_written_and_the_page_is_the_same_twice(folder: pathlib.Path) -> None:
    words = ["compare", "knob.toml", "--with", GROUP, "--runs", "60", "-q"]
    assert steptally(folder, *words, "--html", "one.html", "--json", "out.json").returncode == 0
    assert steptally(folder, *words, "--html", "two.html", "--threads", "1").returncode == 0
    assert names(folder) == ["knob.toml", "one.html", "out.json", "two.html"]
    assert (folder / "one.html").read_bytes() == (folder / "two.html").read_bytes()
    export = json.loads((folder / "out.json").read_text(encoding="utf-8"))
    jsonschema.validate(export, schema_of("compare"))
    page = read_page((folder / "one.html").read_text(encoding="utf-8"))
    assert page.one("h1").text == "Volume knob [bold]in brackets[/bold]"
    assert f"{export['command']} --html report.html" in page.text


@pytest.mark.parametrize("width", ["80", "120"])
@pytest.mark.parametrize("colour", [{"NO_COLOR": "1"}, {"FORCE_COLOR": "1", "TERM": "xterm-256color"}])
def test_it_keeps_to_the_width_with_colour_and_without(
    folder: pathlib.Path, width: str, colour: dict[str, str]
) -> None:
    """Long names, eight designs: tables side by side are parted rather than broken."""
    words = [
        word
        for number in range(30, 100, 10)
        for word in ("--with", f"filter.capacitor={number} nF, filter.series=2k2")
    ]
    done = steptally(
        folder, "compare", "knob.toml", *words, "--runs", "20", changes={"COLUMNS": width, **colour}
    )
    assert done.returncode == 0, done.stderr
    assert ("\x1b[" in done.stdout) == ("FORCE_COLOR" in colour)
    bare = re.sub(r"\x1b\[[0-9;]*m", "", done.stdout)
    assert max(len(line) for line in bare.splitlines()) <= int(width)
    rows = [line for line in bare.splitlines() if line.startswith("filter.capacitor ")]
    values = [re.findall(r"(\d+) nF", row) for row in rows]
    assert {row[0] for row in values} == {"47"}, "the reference stands in every table"
    assert [value for row in values for value in row[1:]] == [str(number) for number in range(30, 100, 10)]


def test_interrupted_with_what_all_designs_have_finished(folder: pathlib.Path) -> None:
    process = started(
        folder, "compare", "knob.toml", "--with", GROUP, "--runs", ENDLESS, "--json", "out.json"
    )
    output, errors = interrupted(process, "runs done")
    assert process.returncode == 130
    assert "Traceback" not in errors
    assert "Interrupted; the report covers the runs finished until then." in errors
    assert "ended by: interrupted" in plain(output)
    cut = json.loads((folder / "out.json").read_text(encoding="utf-8"))
    jsonschema.validate(cut, schema_of("compare"))
    assert 0 < cut["runs"] < cut["runs_asked"] == int(ENDLESS)
    words = ["compare", "knob.toml", "--with", GROUP, "--runs", str(cut["runs"]), "--json", "-"]
    again = json.loads(steptally(folder, *words).stdout)
    for key in ("designs", "comparisons", "headline", "command"):
        assert cut[key] == again[key]


WITH = ["knob.toml", "--with"]
MISTAKES = [
    ([], ["Missing argument 'SCENARIO...'"]),
    (["knob.toml"], ["knob.toml: there is one design only", "--with", "[variant.NAME]"]),
    (["knob.toml", "panel-nob"], ["panel-nob: there is no such file", 'did you mean "panel-knob"?']),
    (["knob.toml", "panel-knob"], ["panel-knob: a comparison needs the hand, the encoder and", 'of "knob"']),
    (["knob.toml", *WITH, GROUP], ["--with is for one scenario, and there are 2"]),
    ([*WITH, "filter.capacitor"], ["--with filter.capacitor:", "PATH=VALUE"]),
    ([*WITH, "filtre.capacitor=1 nF"], ["unknown path", 'got "filtre"', 'did you mean "filter"?']),
    ([*WITH, "runs=3"], ["have the same runs; use --runs"]),
    ([*WITH, GROUP, "--runs", "0"], ["--runs", "from 1 to"]),
    ([*WITH, GROUP, "--seed", "-1"], ["--seed", "from 0 to"]),
    ([*WITH, GROUP, "--errors", "0"], ["--errors", "from 1 to"]),
    ([*WITH, GROUP, "--ledger", "knob.toml"], ["knob.toml: this is another kind of file"]),
    ([*WITH, GROUP, "--ledger", "x", "--json", "./x"], ["--ledger; each needs a file of its own"]),
    ([*WITH, GROUP, "--set", "supply.voltage=5 A"], ["--set supply.voltage=5 A: ", 'got "5 A"']),
    ([*WITH, GROUP, "--html", "-"], ["--html: expected the name of a file, got -"]),
    ([*WITH, GROUP, "--html", "."], ["got ., a folder"]),
    ([*WITH, GROUP, "--json", "no/x.json"], ["no/x.json", "no folder"]),
    ([*WITH, GROUP, "--json", "x", "--html", "./x"], ["a file of its own"]),
    (["knob.toml", "--wiht", GROUP], ["No such option", "--with"]),
]


@pytest.mark.parametrize(("words", "messages"), MISTAKES)
def test_a_mistake_is_one_message_and_nothing_is_written(
    folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch, words: list[str], messages: list[str]
) -> None:
    monkeypatch.chdir(folder)
    monkeypatch.setattr("simcore.campaigns.campaign.run_designs", lambda *_, **__: pytest.fail("simulated"))
    result = CliRunner().invoke(group, ["compare", *words])
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert result.stderr.count("Error: ") == 1
    assert "Traceback" not in result.stderr
    for message in messages:
        assert message in result.stderr
    assert names(folder) == ["knob.toml"]


def test_a_mistyped_verb_has_it_for_its_nearest() -> None:
    assert "Did you mean 'compare'?" in CliRunner().invoke(group, ["compair", "knob.toml"]).stderr


def test_a_full_disk_is_told_after_the_report(folder: pathlib.Path) -> None:
    if not pathlib.Path("/dev/full").exists():
        pytest.skip("no device that is always full")
    done = steptally(folder, "compare", "knob.toml", "--with", GROUP, "--runs", "20", "--json", "/dev/full")
    assert done.returncode == 2
    assert "Limitations" in done.stdout
    assert "Error: /dev/full: cannot be written" in done.stderr


def test_words_are_completed(folder: pathlib.Path) -> None:
    changes = {
        "_STEPTALLY_COMPLETE": "bash_complete",
        "COMP_WORDS": "steptally compare panel",
        "COMP_CWORD": "2",
    }
    done = steptally(folder, changes=changes)
    assert "plain,panel-knob" in done.stdout.split("\n")
    changes = {"_STEPTALLY_COMPLETE": "bash_complete", "COMP_WORDS": "steptally comp", "COMP_CWORD": "1"}
    assert {"plain,compare", "plain,completion"} <= set(steptally(folder, changes=changes).stdout.split("\n"))


def test_the_sample_in_the_readme_is_what_the_program_prints(folder: pathlib.Path) -> None:
    page = (pathlib.Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    before, _, after = page.partition("The last one says:")
    command = before.rstrip().removesuffix("```").rstrip().rpartition("\n")[2]
    sample = after.partition("```text\n")[2].partition("```")[0]
    words = shlex.split(command)
    assert words[:2] == ["steptally", "compare"]
    assert steptally(folder, *words[1:], changes={"COLUMNS": "80"}).stdout == sample


def test_help_names_the_ways_to_give_designs(folder: pathlib.Path) -> None:
    told = plain(steptally(folder, "compare", "--help").stdout)
    for word in (
        "SCENARIO",
        "--with",
        "--set",
        "--runs",
        "--seed",
        "--threads",
        "--json",
        "--html",
        "--quiet",
    ):
        assert word in told
    assert "[variant.NAME]" in told


def test_smaller_is_worse_in_the_samples() -> None:
    """So the samples of the other tests are not empty."""
    assert made(SMALLER).comparisons[0].verdict == "worse"
