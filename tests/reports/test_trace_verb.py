"""``steptally trace``: its pages, its JSON, what it writes, and every mistake on its command line."""

from __future__ import annotations

import json
import pathlib
import re
from typing import Any

import jsonschema
import pytest

from reports import api
from reports.render import terminal
from reports.results import schema_of
from reports.results.trace import TraceResult
from scenarios.loading.load import load_scenario
from simcore.base.records import LINE_NAMES
from simcore.judging.sums import CAUSES
from simcore.tracing.tracing import trace_run
from tests.reports.running import steptally
from tests.reports.traces import SCENARIOS, scenario_of, traced, wrong_steps

NAME = "capacitor-across-contact"
WRONG_RUN = 0


def exported(*arguments: str) -> dict[str, Any]:
    """The checked JSON of a trace."""
    done = traced(*arguments, "--json", "-")
    assert done.exit_code == 0, done.output
    loaded: dict[str, Any] = json.loads(done.stdout)
    jsonschema.validate(loaded, schema_of("trace"))
    return loaded


def words(text: str) -> str:
    """Text without its line breaks."""
    return " ".join(text.split())


def explained(name: str, places: list[tuple[int, int | None]], *, overview: bool = False) -> TraceResult:
    """Runs of a scenario of these tests, each with the step to explain."""
    scenario = scenario_of(name)
    runs = [(trace_run(scenario.design, scenario.seed, run), step, None) for run, step in places]
    return TraceResult.of(scenario, None, runs, overview=overview)


@pytest.mark.parametrize("name", sorted(SCENARIOS))
def test_every_export_keeps_to_its_schema_and_can_be_read_back(name: str) -> None:
    places: list[tuple[int, int | None]] = [(0, None), (0, 1)]
    places += [(run, step) for run, step, _ in wrong_steps(name, scenario_of(name).seed)[:2]]
    result = explained(name, places)
    export = json.loads(result.json())
    jsonschema.validate(export, schema_of("trace"))
    assert TraceResult.model_validate_json(result.json()).export == result.export
    assert result.places == tuple(
        (run, step or trace["step"]) for (run, step), trace in zip(places, export["traces"], strict=True)
    )


def test_the_json_is_the_record() -> None:
    export = exported(NAME, "--run", "0")
    scenario = load_scenario(NAME)
    facts = trace_run(scenario.design, scenario.seed, 0)
    trace = export["traces"][0]
    for name, line in zip(LINE_NAMES, facts.lines, strict=True):
        changes = trace["lines"][name]["contact"]["changes"]
        assert [round(each["at_s"] * 1e12) for each in changes] == line.contact.ticks.tolist()
        assert [each["level"] for each in changes] == line.contact.levels.tolist()
        stages = trace["lines"][name]["stages"]
        assert [len(each["changes"]) for each in stages] == [each.ticks.size for each in line.stages]
        assert line.node is not None
        events = trace["lines"][name]["node"]["events"]
        assert [each["volts"] for each in events] == line.node.volts(line.node.knots).tolist()
    assert [each["asked"] for each in trace["pulses"]] == [each.asked for each in facts.pulses]
    assert [each["cause"] or "none" for each in trace["steps"]] == [each.cause for each in facts.steps]
    assert trace["step"] == next(each.number for each in facts.steps if each.cause != "none")
    assert trace["positions"] == [facts.start_position, facts.position]


def test_the_overview_has_all_steps_and_explains_the_first_wrong_one() -> None:
    trace = exported(NAME, "--run", "0")["traces"][0]
    done = traced(NAME, "--run", "0", "--no-color")
    assert done.exit_code == 0
    rows = re.findall(r"^(?:> | +)(\d+)  \S+ .* (right|flickered|missed|doubled|reversed)", done.stdout, re.M)
    assert [(int(number), verdict) for number, verdict in rows] == [
        (step["number"], step["verdict"]) for step in trace["steps"]
    ]
    assert f"\n> {trace['step']}  " in done.stdout
    for sentence in trace["story"]["hand"] + trace["story"]["why"]:
        assert sentence["text"] in words(done.stdout)
    order = [
        "Steps of this run", "Times count from", "What the hand did", "What the contacts did",
        "What the voltages were", "What every stage passed on", "What the counter did", "Why it was",
    ]  # fmt: skip
    places = [done.stdout.index(each) for each in order]
    assert places == sorted(places)


def test_one_step_is_told_without_the_overview() -> None:
    done = traced(NAME, "--run", "0", "--step", "1", "--no-color")
    assert done.exit_code == 0
    assert "Steps of this run" not in done.stdout
    assert "Step 1 (clicks, up): expected +1, counted +1: right." in done.stdout
    assert "Why it was" not in done.stdout


def test_a_run_without_a_wrong_step_says_so() -> None:
    done = traced("well-filtered", "--run", "0", "--no-color")
    assert done.exit_code == 0
    assert "No step of this run was counted wrongly" in done.stdout


def test_the_worst_of_each_cause_are_told() -> None:
    export = exported(NAME, "--worst", "--runs", "40")
    found = export["searched"]["found"]
    assert found
    assert set(found) <= set(CAUSES[1:])
    assert [trace["searched_for"] for trace in export["traces"]] == list(found)
    for trace in export["traces"]:
        place = found[trace["searched_for"]]
        assert (trace["run"], trace["step"]) == (place["run"], place["step"])
        assert trace["steps"][trace["step"] - 1]["cause"] == trace["searched_for"]
    done = traced(NAME, "--worst", "--runs", "40", "--no-color")
    for cause in found:
        assert f"Worst by {cause}" in done.stdout


def test_one_cause_is_told_alone_and_may_be_written_with_hyphens() -> None:
    export = exported(NAME, "--worst", "Swapped-Order", "--runs", "40")
    assert export["searched"]["wanted"] == "swapped order"
    assert [trace["searched_for"] for trace in export["traces"]] == ["swapped order"]


def test_a_cause_that_does_not_occur_is_a_plain_answer() -> None:
    done = traced(NAME, "--worst", "end stop", "--runs", "10")
    assert done.exit_code == 0
    assert "nothing by 'end stop' in them; there is swallowed, swapped order." in words(done.stdout)
    none = traced("well-filtered", "--worst", "--runs", "3")
    assert none.exit_code == 0
    assert "no step was counted wrongly" in words(none.stdout)


def test_spurious_counts_are_found_and_told() -> None:
    export = exported("supply-dips", "--worst", "spurious", "--runs", "200")
    (trace,) = export["traces"]
    assert trace["story"] is None
    assert "because of a dip of the supply" in trace["spurious"][-1]["text"]
    assert any(each["text"].startswith("The supply dipped from ") for each in trace["spurious"])
    assert any(pulse["step"] is None for pulse in trace["pulses"])


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("name", sorted(SCENARIOS))
def test_the_report_keeps_to_its_width(name: str, width: int) -> None:
    from rich.console import Console

    wrong = wrong_steps(name, scenario_of(name).seed)
    result = explained(name, [wrong[0][:2] if wrong else (0, 1)], overview=True)
    console = Console(width=width, color_system=None, highlight=False, markup=False, emoji=False)
    text = terminal.text(result.document(), console)
    assert max(len(line) for line in text.splitlines()) <= width
    assert "\x1b" not in text


def test_a_notebook_shows_the_diagram_and_why() -> None:
    result = api.trace(NAME, run=0)
    part = result._repr_html_()
    assert "A contact" in part
    assert all(sentence.replace("'", "&#39;") in part.replace("\u00a0", " ") for sentence in result.why)
    assert result.errors == (trace_run(load_scenario(NAME).design, 1, 0).error,)


def test_what_is_asked_for_is_written(tmp_path: pathlib.Path) -> None:
    files = {name: tmp_path / name for name in ("run.vcd", "edges.csv", "steps.csv", "run.json")}
    done = traced(
        NAME, "--run", "0", "--vcd", str(files["run.vcd"]), "--csv", str(files["edges.csv"]),
        "--csv-steps", str(files["steps.csv"]), "--json", str(files["run.json"]),
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "Why it was" in done.stdout
    trace = json.loads(files["run.json"].read_text())["traces"][0]
    assert len(files["steps.csv"].read_text().splitlines()) == 1 + len(trace["steps"])
    assert "$timescale 1 ps" in words(files["run.vcd"].read_text())
    count = sum(len(line["contact"]["changes"]) for line in trace["lines"].values())
    assert sum(",contact," in row for row in files["edges.csv"].read_text().splitlines()) == count


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ((), "give the run to explain with --run N, or let --worst search for one"),
        (("--run", "-1"), "--run: expected a whole number from 0 to"),
        (("--run", "9223372036854775808"), "--run: expected a whole number from 0 to"),
        (("--run", "two"), '--run: expected a whole number from 0 to 9,223,372,036,854,775,807, got "two"'),
        (("--run", "0", "--step", "0"), "--step: expected a whole number from 1 to"),
        (("--run", "0", "--step", "99"), "--step 99: run 0 of seed 1 has steps 1 to 18"),
        (("--run", "0", "--runs", "5"), "--runs is for --worst"),
        (("--run", "0", "--worst"), "--worst searches for run and step itself"),
        (("--step", "1", "--worst"), "--worst searches for run and step itself"),
        (("--worst", "chater"), 'did you mean "chatter"?'),
        (("--worst", "none"), "--worst: expected chatter, "),
        (("--worst", "--runs", "40", "--vcd", "x.vcd"), "--vcd: one run is needed, and there are"),
        (
            ("--worst", "end stop", "--runs", "10", "--csv", "x"),
            "one run is needed, and the search found none",
        ),
        (("--run", "0", "--vcd", "-"), "--vcd: expected the name of a file, got -"),
        (("--run", "0", "--csv", "."), "--csv: expected the name of a file, got ., a folder"),
        (("--run", "0", "--csv", "x", "--csv-steps", "./x"), "named for --csv and for --csv-steps"),
        (("--run", "0", "--csv", "no/such/file"), "no/such/file: cannot be written"),
        (("--run", "0", "--json", "no/such/file"), "no/such/file: cannot be written"),
        (("--run", "0", "--set", "filter.capacitr=1 nF"), 'did you mean "capacitor"?'),
    ],
)
def test_every_mistake_is_one_message_and_exit_code_2(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    done = traced(NAME, *options)
    assert done.exit_code == 2
    errors = [line for line in done.stderr.splitlines() if line.startswith("Error: ")]
    assert len(errors) == 1
    assert said in words(errors[0])
    assert "Traceback" not in done.output
    assert done.stdout == ""
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_is_told_after_the_page_and_the_other_files(tmp_path: pathlib.Path) -> None:
    if not pathlib.Path("/dev/full").exists():
        pytest.skip("no device that is always full")
    steps = tmp_path / "steps.csv"
    done = traced(NAME, "--run", "0", "--csv", "/dev/full", "--csv-steps", str(steps), "--no-color")
    assert done.exit_code == 2
    assert "Why it was" in done.stdout
    assert done.stderr.splitlines()[-1].startswith("Error: /dev/full: cannot be written: ")
    assert len(steps.read_text().splitlines()) == 19


def test_as_a_process_it_is_plain_when_piped_and_known_to_help(tmp_path: pathlib.Path) -> None:
    done = steptally(tmp_path, "trace", "lockout", "--run", "96", "--step", "18", changes={"COLUMNS": "80"})
    assert done.returncode == 0, done.stderr
    assert "\x1b" not in done.stdout
    assert "Root cause: chatter." in done.stdout
    assert "trace" in steptally(tmp_path, "--help").stdout
