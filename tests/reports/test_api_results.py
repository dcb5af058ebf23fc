"""What every result of the Python interface is: unchangeable, typed, plain tables, one line; and lazy."""

from __future__ import annotations

import copy
import csv
import importlib
import io
import pathlib
import pickle
import subprocess
import sys
from typing import Any

import pytest
from pydantic import ValidationError

from reports import api
from reports.results.check import CheckResult
from reports.results.choose import ChoiceResult
from reports.results.common import even, flat, frozen
from reports.results.compare import ComparisonResult
from reports.results.replay import ReplayResult
from reports.results.run import RunResult
from reports.results.sweep import SweepResult
from reports.results.trace import TraceResult
from scenarios.loading.written import as_toml
from tests.reports.running import environment
from tests.reports.verbs import KNOB, NAMES, made


def result(name: str, sort: type[Any]) -> Any:
    found = made(name)
    assert isinstance(found, sort)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_tables_are_plain_and_the_csv_module_takes_them(name: str) -> None:
    tables = made(name).tables()
    assert tables
    for title, rows in tables.items():
        assert made(name).table(title) == rows
        assert len({tuple(row) for row in rows}) <= 1, title
        for row in rows:
            assert all(value is None or isinstance(value, (str, int, float)) for value in row.values()), row
    for rows in filter(None, tables.values()):
        text = io.StringIO()
        writer = csv.DictWriter(text, rows[0])
        writer.writeheader()
        writer.writerows(rows)
        read = list(csv.DictReader(io.StringIO(text.getvalue())))
        assert read == [{key: "" if each is None else str(each) for key, each in row.items()} for row in rows]


def test_a_table_is_a_data_frame_where_pandas_is_installed() -> None:
    pytest.importorskip("pandas")
    frame = made("run").frame("verdicts")
    assert list(frame["steps"]) == [row["steps"] for row in made("run").table("verdicts")]


def test_tables_have_the_rows_of_the_json() -> None:
    run, trace = result("run", RunResult), result("trace", TraceResult)
    assert {row["verdict"]: row["steps"] for row in run.table("verdicts")} == {
        **run.verdicts.export, "wrong": run.wrong, "spurious": run.spurious,
    }  # fmt: skip
    for row, group in zip(run.table("gestures"), run.by_gesture, strict=True):
        assert row["verdicts.missed"] == group.verdicts.missed
        assert row["wrong_rate.high"] == group.wrong_rate.high
    (told,) = trace.export["traces"]
    assert len(trace.table("steps")) == len(told["steps"])
    places = [place for line in told["lines"].values() for place in (line["contact"], *line["stages"])]
    assert len(trace.table("changes")) == sum(len(place["changes"]) for place in places)
    assert len(trace.table("voltages")) == sum(len(line["node"]["events"]) for line in told["lines"].values())


def test_a_run_explained_for_two_causes_is_in_the_tables_once() -> None:
    once = result("trace", TraceResult)
    twice = once.model_copy(update={"traces": once.traces * 2})
    assert len(twice.table("runs")) == 2
    for name in ("movements", "steps", "pulses", "changes", "voltages"):
        assert twice.table(name) == once.table(name)


@pytest.mark.parametrize("name", NAMES)
def test_a_result_cannot_be_changed(name: str) -> None:
    found = made(name)
    field = next(iter(type(found).model_fields))
    with pytest.raises(ValidationError, match="frozen"):
        setattr(found, field, None)
    with pytest.raises(TypeError, match="cannot be changed"):
        found.tables()["more"] = ()  # type: ignore[index]
    rows = next(filter(None, found.tables().values()))
    with pytest.raises(TypeError, match="cannot be changed"):
        rows[0]["more"] = 1  # type: ignore[index]


def test_nothing_changes_what_is_frozen() -> None:
    """Every method of dictionaries that changes them, by what Python's own type offers; lists are tuples."""
    record = frozen({"a": [1, {"b": 2}]})
    changing = {
        "__setitem__", "__delitem__", "__ior__", "clear", "pop", "popitem", "setdefault", "update",
    }  # fmt: skip
    assert changing <= set(dir(dict))
    for name in changing:
        with pytest.raises(TypeError, match="cannot be changed"):
            getattr(record, name)("a", 1)
    assert record == {"a": (1, {"b": 2})}
    assert copy.deepcopy(record) == pickle.loads(pickle.dumps(record)) == record  # noqa: S301 - just written


def test_what_the_caller_gave_is_left_alone() -> None:
    given = dict(api.scenario(KNOB).resolved)
    before = copy.deepcopy(given)
    api.run(given, runs=3)
    assert given == before


@pytest.mark.parametrize("name", [name for name in NAMES if name != "show"])
def test_a_result_can_be_read_again_from_its_json(name: str) -> None:
    """But for that of a scenario, whose text is not in the JSON."""
    again = type(made(name)).model_validate_json(made(name).json())
    assert again.json() == made(name).json()
    assert again.tables() == made(name).tables()


@pytest.mark.parametrize("name", NAMES)
def test_one_line_tells_what_it_is(name: str) -> None:
    text = repr(made(name))
    assert text.startswith(f"<{type(made(name)).__name__}")
    assert text.endswith(">")
    assert text.isprintable()
    assert str(made(name)) == text


def test_lines_of_some_results() -> None:
    assert repr(made("check")) == "<CheckResult panel-knob>"
    assert repr(api.scenario(KNOB, sets="runs=12")).startswith(
        "<LoadedScenario panel-knob with runs=12: A panel"
    )


def test_a_nested_record_becomes_a_row() -> None:
    record = {"a": {"b": 1, "c": {"d": None}}, "e": ["x", 2], "f": [], "g": [{"h": 1}], "i": True}
    assert flat(record, first=0) == {"first": 0, "a.b": 1, "a.c.d": None, "e": "x, 2", "f": "", "i": True}


def test_rows_of_one_table_have_the_same_keys() -> None:
    rows = even([{"a": None, "b": 1}, {"a.c": 2, "b": 3}, {"d": None}])
    assert rows == (
        {"b": 1, "a.c": None, "d": None},
        {"b": 3, "a.c": 2, "d": None},
        {"b": None, "a.c": None, "d": None},
    )
    assert even([]) == ()


def test_properties_of_comparisons() -> None:
    compare = result("compare", ComparisonResult)
    assert list(compare.wrong_rates) == list(compare.names)
    assert list(compare.rate_differences) == list(compare.verdicts) == list(compare.names[1:])
    assert set(compare.best) <= set(compare.names)
    for name, difference in compare.rate_differences.items():
        rates = compare.wrong_rates
        apart = rates[name].estimate - rates[compare.names[0]].estimate
        assert difference.estimate == pytest.approx(apart)


def test_properties_of_sweeps_and_choices() -> None:
    sweep, choice = result("sweep", SweepResult), result("choose", ChoiceResult)
    assert (sweep.paths, sweep.complete, len(sweep.table("cells"))) == (("filter.capacitor",), True, 4)
    meets = {row["filter.capacitor"]: row["meets_target"] for row in sweep.table("cells")}
    assert [each["filter.capacitor"] for each in sweep.meeting] == [v for v, m in meets.items() if m == "yes"]
    assert sweep.lowest is not None
    assert sweep.lowest["filter.capacitor"] in meets
    assert (choice.recommended, choice.complete) == (None, True)
    assert choice.table("alternatives")
    good = api.choose(KNOB, target="1 in 2 steps", vary="filter.capacitor=100 nF", runs=150, use_ledger=False)
    assert good.recommended is not None
    assert good.recommended.values == {"filter.capacitor": "100 nF"}
    assert good.table("ranked")[0]["filter.capacitor"] == "100 nF"


def test_designs_of_a_comparison_in_every_form(tmp_path: pathlib.Path) -> None:
    """As files, as loaded scenarios with values that override theirs, or as values for one scenario."""
    knob = api.scenario(KNOB)
    larger = api.scenario(knob, sets={"filter.capacitor": "220 nF"})
    file = tmp_path / "larger.toml"
    file.write_text(as_toml(larger.resolved), encoding="utf-8")
    compared = [
        api.compare(KNOB, with_=[{"filter.capacitor": "220 nF"}], runs=50),
        api.compare(knob, larger, runs=50),
        api.compare(KNOB, file, runs=50),
        api.compare(dict(knob.resolved), as_toml(larger.resolved), runs=50),
    ]
    wrong = [[design.wrong for design in each.designs] for each in compared]
    assert wrong == [wrong[0]] * 4
    assert compared[1].names == (KNOB, f"{KNOB} with filter.capacitor=220 nF")
    assert compared[1].command.startswith(f"steptally compare {KNOB} design-2.toml --runs 50")
    assert compared[3].command.startswith("steptally compare design-1.toml design-2.toml --runs 50")


def test_values_with_commas_stay_together() -> None:
    """A group of settings is parted at its commas on the command line."""
    compared = api.compare(KNOB, with_=[{"title": "small, cheap", "filter.lines": ["A", "B"]}], runs=2)
    assert compared.designs[1].title == "small, cheap"


def test_properties_of_the_other_results() -> None:
    check, trace, replay = (
        result("check", CheckResult), result("worst", TraceResult), result("replay", ReplayResult)
    )  # fmt: skip
    assert (check.passed, check.failing) == (False, ("open gap ridden through, filter, lines A and B",))
    assert api.check(KNOB, sets=["filter.capacitor=150 nF"]).passed
    told = trace.export["traces"]
    assert trace.places == tuple((each["run"], each["step"]) for each in told)
    assert trace.errors == tuple(each["error"] for each in told)
    assert trace.why
    assert all(words in trace.json() for words in trace.why)
    assert replay.right == (replay.counted == replay.bounce_free)


def test_progress_is_told() -> None:
    seen: list[tuple[int, int]] = []
    found = api.run(KNOB, runs=6000, progress=lambda done, asked: seen.append((done, asked)))
    assert {asked for _, asked in seen} <= {6000}
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)
    assert found.runs == 6000


LAZY = (
    "import sys\n"
    "{how}\n"
    "assert not {{'numpy', 'rich', 'click', 'pydantic', 'jinja2', 'numba'}} & set(sys.modules), sys.modules\n"
    "assert 'run' in dir(api) and 'reports.api.runs' not in sys.modules\n"
    "from {module} import *\n"
    "assert callable(run) and callable(check) and callable(list_) and callable(show)\n"
    "assert api.run is run and isinstance(BadInput(''), ValueError)\n"
)


@pytest.mark.parametrize(
    ("how", "module"),
    [("import steptally as api", "steptally"), ("from reports import api", "reports.api")],
)
def test_importing_it_is_light_and_every_name_is_there(how: str, module: str) -> None:
    top = pathlib.Path(api.__file__).parents[2]
    places = environment({"PYTHONPATH": f"{top}:{top / 'reports' / 'importable'}"})
    code = LAZY.format(how=how, module=module)
    done = subprocess.run(
        [sys.executable, "-c", code], env=places, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert importlib.import_module("steptally").run is api.run


def test_no_module_hides_a_function() -> None:
    """A module `reports.api.run`, once imported, would stand where the function was."""
    modules = {file.stem for file in pathlib.Path(api.__file__).parent.glob("*.py")}
    assert modules & set(api.__all__) == set()
    with pytest.raises(AttributeError, match="no attribute 'walk'"):
        _ = api.walk
