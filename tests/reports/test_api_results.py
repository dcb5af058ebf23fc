"""What every result of the Python interface is: unchangeable, typed, plain tables, one line; and lazy."""

from __future__ import annotations

import copy
import csv
import dataclasses
import functools
import io
import pathlib
import pickle
import subprocess
import sys
import tempfile
from collections.abc import Callable
from typing import Any

import pytest

from reports import api
from reports.api.readonly import ReadOnlyDict, ReadOnlyList, read_only
from reports.api.result import even, flat
from scenarios.loading.written import as_toml
from tests.reports.replays import recording
from tests.reports.running import environment

KNOB = "panel-knob"
NAMES = (
    "run", "check", "trace", "worst", "replay", "compare", "sweep", "choose", "ledger", "scenario", "list",
    "kinds",
)  # fmt: skip


@functools.cache
def kept() -> api.Ledger:
    """A ledger of two designs."""
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "kept.ledger"
        for capacitor in ("100 nF", "150 nF"):
            api.run(KNOB, sets={"filter.capacitor": capacitor}, runs=5, ledger=file)
        return api.ledger(file)


@functools.cache
def replayed(text: str) -> api.Replay:
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "trace.csv"
        file.write_text(text, encoding="utf-8")
        return api.replay(file, KNOB)


@functools.cache
def made(name: str) -> Any:
    """A result of each sort."""
    makers: dict[str, Callable[[], Any]] = {
        "run": lambda: api.run(KNOB, runs=60),
        "check": lambda: api.check(KNOB),
        "trace": lambda: api.trace(KNOB, run=2),
        "worst": lambda: api.trace("no-filter", worst=True, runs=20),
        "replay": lambda: replayed(recording(pairs_a=2, pairs_b=1)),
        "compare": lambda: api.compare(
            "no-filter", with_=["encoder.detents=20", "counter.setup=1 ms"], runs=30
        ),
        "sweep": lambda: api.sweep(
            KNOB, {"filter.capacitor": "22n..220n:E3"}, runs=200, target="1 in 50 steps", use_ledger=False
        ),
        "choose": lambda: api.choose(
            "no-filter", target="1 in 100 steps", vary="counter.setup=1 us, 2 us", runs=500, use_ledger=False
        ),
        "ledger": kept,
        "scenario": lambda: api.scenario("synchroniser-alone"),
        "list": api.list_,
        "kinds": lambda: api.list_("gestures"),
    }
    return makers[name]()


@pytest.mark.parametrize("name", NAMES)
def test_tables_are_plain(name: str) -> None:
    result = made(name)
    assert result.tables
    for title, rows in result.tables.items():
        assert result.table(title) is rows
        assert len({tuple(row) for row in rows}) <= 1, title
        for row in rows:
            assert all(value is None or isinstance(value, (str, int, float)) for value in row.values()), row


@pytest.mark.parametrize("name", NAMES)
def test_the_csv_module_takes_tables_as_they_are(name: str) -> None:
    for rows in filter(None, made(name).tables.values()):
        text = io.StringIO()
        writer = csv.DictWriter(text, rows[0])
        writer.writeheader()
        writer.writerows(rows)
        read = list(csv.DictReader(io.StringIO(text.getvalue())))
        assert read == [{key: "" if each is None else str(each) for key, each in row.items()} for row in rows]


def test_tables_have_the_rows_of_the_json() -> None:
    run = made("run")
    assert {row["verdict"]: row["steps"] for row in run.table("verdicts")} == {
        **run.verdicts, "wrong": run.wrong, "spurious": run.export["spurious"],
    }  # fmt: skip
    for row, group in zip(run.table("gestures"), run.export["by_gesture"], strict=True):
        assert row["verdicts.missed"] == group["verdicts"]["missed"]
        assert row["wrong_rate.high"] == group["wrong_rate"]["high"]
    trace = made("trace")
    assert len(trace.table("steps")) == len(trace.export["traces"][0]["steps"])
    lines = trace.export["traces"][0]["lines"].values()
    places = [place for line in lines for place in (line["contact"], *line["stages"])]
    assert len(trace.table("changes")) == sum(len(place["changes"]) for place in places)
    assert len(trace.table("voltages")) == sum(len(line["node"]["events"]) for line in lines)


def test_a_run_told_for_two_causes_is_in_the_tables_once() -> None:
    once = made("trace")
    (told,) = once.export["traces"]
    twice = dataclasses.replace(once, export={**once.export, "traces": [told, told]})
    assert len(twice.table("runs")) == 2
    for name in ("movements", "steps", "pulses", "changes", "voltages"):
        assert twice.table(name) == once.table(name)


@pytest.mark.parametrize("name", NAMES)
def test_a_result_cannot_be_changed(name: str) -> None:
    result = made(name)
    with pytest.raises(dataclasses.FrozenInstanceError):
        result.export = {}
    with pytest.raises(TypeError, match="deepcopy"):
        result.export["name"] = "another"
    with pytest.raises(TypeError, match="deepcopy"):
        result.tables["more"] = ()
    rows = next(filter(None, result.tables.values()))
    with pytest.raises(TypeError, match="deepcopy"):
        rows[0]["more"] = 1


def test_nothing_changes_what_is_read_only() -> None:
    """Every method of dictionaries and lists that changes them, by what Python's own types offer."""
    record, values = read_only({"a": [1, {"b": 2}]}), read_only([3, 1, 2])
    before = copy.deepcopy(record), copy.deepcopy(values)
    for held, plain in ((record, dict), (values, list)):
        assert isinstance(held, plain)
        changing = set(dir(plain)) & {
            "__setitem__", "__delitem__", "__ior__", "__iadd__", "__imul__", "append", "clear", "extend",
            "insert", "pop", "popitem", "remove", "reverse", "setdefault", "sort", "update",
        }  # fmt: skip
        for name in changing:
            with pytest.raises(TypeError, match="deepcopy"):
                getattr(held, name)("a", 1)
    assert (record, values) == before
    assert type(before[0]) is dict
    assert type(before[0]["a"]) is list
    assert (type(record["a"]), type(record["a"][1])) == (ReadOnlyList, ReadOnlyDict)


def test_what_the_caller_gave_is_left_alone() -> None:
    given = copy.deepcopy(dict(api.scenario(KNOB).resolved))
    before = copy.deepcopy(given)
    api.run(given, runs=3)
    assert given == before


@pytest.mark.parametrize("name", NAMES)
def test_a_result_can_be_stored(name: str) -> None:
    again = pickle.loads(pickle.dumps(made(name)))  # noqa: S301 - written a moment ago
    assert again.json() == made(name).json()
    assert again.tables == made(name).tables
    with pytest.raises(TypeError, match="deepcopy"):
        again.export["name"] = "another"


@pytest.mark.parametrize("name", NAMES)
def test_one_line_tells_what_it_is(name: str) -> None:
    text = repr(made(name))
    assert text.startswith(f"<{type(made(name)).__name__} ")
    assert text.endswith(">")
    assert text.isprintable()
    assert str(made(name)) == text


def test_lines_of_some_results() -> None:
    assert repr(made("check")) == "<Check panel-knob: 1 fails, 14 pass, 5 do not apply>"
    assert repr(made("trace")).startswith("<Trace panel-knob: run 2")
    assert repr(made("kinds")).startswith("<Listing gestures: click, ")
    assert "11 of 12" not in repr(made("replay"))
    assert repr(made("run")).endswith("60 runs, seed 1>")


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


def test_properties_of_comparisons_and_sweeps() -> None:
    compare, sweep, choice = made("compare"), made("sweep"), made("choose")
    assert (compare.headline, compare.runs) == (compare.export["headline"], 30)
    assert list(compare.wrong_rates) == list(compare.designs)
    assert list(compare.differences) == list(compare.verdicts) == list(compare.designs[1:])
    assert set(compare.best) <= set(compare.designs)
    for name, difference in compare.differences.items():
        rates = compare.wrong_rates
        parted = rates[name].estimate - rates[compare.designs[0]].estimate
        assert difference.estimate == pytest.approx(parted)
    assert (sweep.paths, sweep.complete, len(sweep.table("cells"))) == (("filter.capacitor",), True, 4)
    meets = {row["filter.capacitor"]: row["meets_target"] for row in sweep.table("cells")}
    assert [each["filter.capacitor"] for each in sweep.meeting] == [v for v, m in meets.items() if m == "yes"]
    assert sweep.lowest["filter.capacitor"] in meets
    assert (choice.recommended, choice.complete) == (None, True)
    assert choice.table("alternatives")
    good = api.choose(KNOB, target="1 in 2 steps", vary="filter.capacitor=100 nF", runs=150, use_ledger=False)
    assert good.recommended == {"filter.capacitor": "100 nF"}
    assert good.table("ranked")[0]["filter.capacitor"] == "100 nF"


def test_designs_of_a_comparison_in_every_form(tmp_path: pathlib.Path) -> None:
    """As files, as loaded scenarios with values laid over them, or as values for one scenario."""
    knob = api.scenario(KNOB)
    larger = api.scenario(knob, sets={"filter.capacitor": "220 nF"})
    file = tmp_path / "larger.toml"
    file.write_text(as_toml(larger.resolved), encoding="utf-8")
    made = [
        api.compare(KNOB, with_=[{"filter.capacitor": "220 nF"}], runs=50),
        api.compare(knob, larger, runs=50),
        api.compare(KNOB, file, runs=50),
        api.compare(dict(knob.resolved), as_toml(larger.resolved), runs=50),
    ]
    wrong = [[design["wrong"] for design in each.export["designs"]] for each in made]
    assert wrong == [wrong[0]] * 4
    assert made[1].designs == (KNOB, f"{KNOB} with filter.capacitor=220 nF")
    assert made[1].command.startswith(f"steptally compare {KNOB} design-2.toml --runs 50")
    assert made[3].command.startswith("steptally compare design-1.toml design-2.toml --runs 50")


def test_values_with_commas_stay_together() -> None:
    """A group of settings is parted at its commas on the command line."""
    result = api.compare(KNOB, with_=[{"title": "small, cheap", "filter.lines": ["A", "B"]}], runs=2)
    assert result.export["designs"][1]["title"] == "small, cheap"


def test_properties_of_the_other_results() -> None:
    check, trace, replay = made("check"), made("worst"), made("replay")
    assert check.totals == check.export["totals"]
    assert (check.passed, check.failing) == (False, ("open gap ridden through, filter, lines A and B",))
    assert api.check(KNOB, sets=["filter.capacitor=150 nF"]).passed
    assert trace.places == tuple((each["run"], each["step"]) for each in trace.export["traces"])
    assert trace.errors == tuple(each["error"] for each in trace.export["traces"])
    assert trace.why
    assert all(words in trace.json() for words in trace.why)
    assert (replay.verdict, replay.counted) == (replay.export["verdict"], replay.export["counted"])
    assert (replay.bounce_free, replay.causes) == (replay.export["bounce_free"], replay.export["causes"])
    assert replay.right == (replay.counted == replay.bounce_free)
    assert made("list").names[0] in repr(made("list"))


def test_progress_is_told() -> None:
    seen: list[tuple[int, int]] = []
    result = api.run(KNOB, runs=6000, progress=lambda done, asked: seen.append((done, asked)))
    assert {asked for _, asked in seen} <= {6000}
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)
    assert result.runs == 6000


LAZY = (
    "import sys, reports\n"
    "before = set(sys.modules)\n"
    "from reports import api\n"
    "assert not {'numpy', 'rich', 'click', 'pydantic', 'jinja2', 'numba'} & set(sys.modules), sys.modules\n"
    "assert 'run' in dir(api) and 'reports.api.runs' not in sys.modules\n"
    "from reports.api import *\n"
    "assert callable(run) and callable(check) and callable(list_) and show is scenario\n"
    "assert api.run is run and isinstance(BadInput(''), ValueError)\n"
)


def test_importing_it_is_light_and_every_name_is_there() -> None:
    done = subprocess.run(
        [sys.executable, "-c", LAZY], env=environment(), capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_no_module_hides_a_function() -> None:
    """A module `reports.api.run`, once imported, would stand where the function was."""
    folder = pathlib.Path(api.__file__).parent
    modules = {file.stem for file in folder.glob("*.py")}
    assert modules & set(api.__all__) == set()
    with pytest.raises(AttributeError, match="no attribute 'walk'"):
        _ = api.walk
