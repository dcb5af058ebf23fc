"""The CSV tables of one run: complete, exact to the picosecond, and taken by our own reader."""

from __future__ import annotations

import csv
import io
import json
import pathlib
from decimal import Decimal
from typing import Any

import pytest
from click.testing import CliRunner

from reports.dumps import last_tick
from reports.exits import UserError
from reports.group import steptally
from reports.samples import places
from reports.trace_tables import edges_csv, seconds_text, steps_csv, write_edges_csv, write_steps_csv
from scenarios.traces.reading import read_trace
from simcore.base.records import ORIGIN_NAMES
from tests.reports.traced_runs import MS, STAGE, US, by_hand, pulse, traced

RUNS = [("panel-knob", 1, "filter.capacitor=10 nF"), ("supply-dips", 3), ("long-leads", 2), ("interlock", 1)]
runs = pytest.mark.parametrize("asked", RUNS, ids=[" ".join(map(str, each)) for each in RUNS])


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def tick(row: dict[str, str], column: str = "time [s]") -> int:
    return int(Decimal(row[column]) * 10**12)


@runs
def test_every_edge_of_every_place_is_there(asked: Any) -> None:
    run = traced(*asked)
    found = rows(edges_csv(run))
    assert [row["place"] for row in (found[0], found[-1])] == ["start", "end"]
    assert (tick(found[0]), tick(found[-1])) == (0, last_tick(run))
    assert [tick(row) for row in found] == sorted(tick(row) for row in found)
    expected = 2
    for number, name in enumerate("AB"):
        line = run.lines[number]
        trails = [("contact", line.contact, 1), ("counter", line.seen, 0)]
        trails += [(each.name, trail, 0) for each in places(run) if (trail := each.trails[number])]
        for place, trail, turned in trails:
            own = [row for row in found if (row["line"], row["place"]) == (name, place)]
            assert [tick(row) for row in own] == trail.ticks.tolist()
            assert [int(row["level"]) for row in own] == (trail.levels ^ turned).tolist()
            assert [row["cause"] for row in own] == [ORIGIN_NAMES[i] for i in trail.origins.tolist()]
            expected += len(own)
    assert len(found) == expected


@runs
def test_an_edge_belongs_to_the_step_of_its_transition(asked: Any) -> None:
    run = traced(*asked)
    owner = {facts.index: str(step.number) for step in run.steps for facts in step.transitions}
    for name, line in zip("AB", run.lines, strict=True):
        own = [row for row in rows(edges_csv(run)) if (row["line"], row["place"]) == (name, "counter")]
        assert [row["step"] for row in own] == [owner.get(i, "") for i in line.seen.transitions.tolist()]


@runs
def test_our_reader_finds_identical_ticks(asked: Any, tmp_path: pathlib.Path) -> None:
    run = traced(*asked)
    path = tmp_path / "edges.csv"
    write_edges_csv(run, str(path))
    trace = read_trace(str(path))
    assert trace.notes.form.columns.names == ("time [s]", "line A", "line B")
    assert (trace.notes.start, trace.notes.duration) == (0, last_tick(run))
    for number, line in enumerate(run.lines):
        assert trace.first[number] == 1 ^ line.contact.first
        assert trace.times[number].tolist() == line.contact.ticks.tolist()


def test_a_run_is_exported_and_replayed(tmp_path: pathlib.Path) -> None:
    run = traced("panel-knob", 1, "filter.capacitor=10 nF")
    path = tmp_path / "edges.csv"
    write_edges_csv(run, str(path))
    arguments = [
        "replay",
        str(path),
        "panel-knob",
        "--set",
        "filter.capacitor=10 nF",
        "--run",
        "1",
        "--json",
        "-",
    ]
    done = CliRunner().invoke(steptally, arguments)
    assert done.exit_code == 0, done.output
    export = json.loads(done.stdout)
    assert export["trace"]["format"] == "CSV"
    assert [(each["time_s"], each["moved"], each["position"]) for each in export["pulses"]] == [
        (each.tick / 1.0e12, each.moved, each.position) for each in run.pulses
    ]


@runs
def test_steps_are_those_of_the_run(asked: Any) -> None:
    run = traced(*asked)
    found = rows(steps_csv(run))
    assert [int(row["step"]) for row in found] == [step.number for step in run.steps]
    for row, step in zip(found, run.steps, strict=True):
        assert (row["verdict"], row["cause"], row["gesture"]) == (step.verdict, step.cause, step.gesture)
        assert [int(row[key]) for key in ("expected", "received", "pulses", "direction")] == [
            step.expected, step.received, step.moves, step.direction,
        ]  # fmt: skip
        assert (tick(row, "start [s]"), tick(row, "end [s]")) == (step.start, step.end)
        assert int(row["position"]) == run.position_at(step.end)


def test_names_with_signs_of_csv_and_changes_at_one_tick(tmp_path: pathlib.Path) -> None:
    run = by_hand(([0, 5 * US, 5 * US], [7 * US]), ([0, 3 * US], [MS]), [pulse(2 * US, -1, -1)])
    found = rows(edges_csv(run))
    assert [row["place"] for row in found if row["line"] == "B"] == ["contact", STAGE, "counter"]
    assert [(row["line A"], row["level"]) for row in found if row["place"] == "contact"][:3] == [
        ("0", "0"), ("1", "1"), ("0", "0"),
    ]  # fmt: skip
    path = tmp_path / "edges.csv"
    write_edges_csv(run, str(path))
    assert [times.tolist() for times in read_trace(str(path)).times] == [[0, 5 * US, 5 * US], [7 * US]]


def test_times_are_exact_to_the_picosecond() -> None:
    assert [seconds_text(t) for t in (0, 1, 10**12 + 17, 2**53 + 1)] == [
        "0.000000000000", "0.000000000001", "1.000000000017", "9007.199254740993",
    ]  # fmt: skip


def test_a_file_is_whole_or_absent(tmp_path: pathlib.Path) -> None:
    run = by_hand(([MS], [2 * MS]), ([MS], [2 * MS]))
    for writer in (write_edges_csv, write_steps_csv):
        with pytest.raises(UserError, match="cannot be written"):
            writer(run, str(tmp_path / "none" / "run.csv"))
    write_steps_csv(run, str(tmp_path / "steps.csv"))
    assert [path.name for path in tmp_path.iterdir()] == ["steps.csv"]
