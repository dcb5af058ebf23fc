"""A traced run as a value change dump: read back by an independent library, by our reader, by ``replay``."""

from __future__ import annotations

import json
import pathlib
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from vcdvcd import VCDVCD

from reports.dumps import last_tick, vcd_text, write_vcd
from reports.exits import UserError
from reports.group import steptally
from reports.samples import FLATNESS, places, voltage_samples
from scenarios.traces.reading import read_trace
from simcore.base.records import WATCHED
from simcore.judging.sums import VERDICTS
from simcore.tracing.tracing import TracedRun
from tests.reports.traced_runs import MS, POLE, US, by_hand, closed_form, node, pulse, traced

LINES = ("A", "B")
RUNS = [
    ("panel-knob", 1, "filter.capacitor=10 nF"), ("panel-knob", 3), ("supply-dips", 3), ("long-leads", 2),
    ("interlock", 1),
]  # fmt: skip
runs = pytest.mark.parametrize("asked", RUNS, ids=[" ".join(map(str, each)) for each in RUNS])


def parsed(run: TracedRun) -> Any:
    return VCDVCD(vcd_string=vcd_text(run))


def changes(dump: Any, name: str) -> list[tuple[int, str]]:
    """Times and values of a variable, the value at the beginning first."""
    return [(time, value) for time, value in dump[name].tv]


def whole(bits: str) -> int:
    """A whole number of 64 bits in two's complement, shortened on the left (18.2.2)."""
    value = int(bits, 2)
    return value - (1 << 64) if len(bits) == 64 and bits[0] == "1" else value


@runs
def test_contacts_stages_and_counter_as_another_library_reads_them(asked: Any) -> None:
    run = traced(*asked)
    dump = parsed(run)
    assert dump.timescale["timescale"] == Decimal("1e-12")
    assert dump.endtime == last_tick(run) >= run.end + WATCHED
    for number, name in enumerate(LINES):
        line = run.lines[number]
        wires = [("contacts", line.contact, 1), ("counter", line.seen, 0)]
        scopes = [ref.rpartition(".")[0] for ref in dump.references_to_ids if ref.endswith(f".{name}")]
        stages = [scope for scope in scopes if scope not in ("contacts", "counter", "volts")]
        found = list(zip(sorted(stages), sorted(line.stages, key=_plain), strict=True))
        for scope, trail, turned in [*wires, *((scope, trail, 0) for scope, trail in found)]:
            (_, first), *rest = changes(dump, f"{scope}.{name}")
            assert int(first) == trail.first ^ turned
            assert [time for time, _ in rest] == trail.ticks.tolist()
            assert [int(value) for _, value in rest] == (trail.levels ^ turned).tolist()


def _plain(trail: Any) -> str:
    return "".join(letter if letter.isalnum() else "_" for letter in trail.name)


@runs
def test_every_count_and_position(asked: Any) -> None:
    run = traced(*asked)
    dump = parsed(run)
    assert [time for time, _ in dump["counter.pulse"].tv] == [each.tick for each in run.pulses]
    position, asked_for = dump["counter.position"], dump["counter.asked"]
    assert whole(position[0]) == run.start_position
    for each in run.pulses:
        assert whole(position[each.tick]) == run.position_at(each.tick)
        assert whole(asked_for[each.tick]) == each.asked
    assert whole(position[dump.endtime]) == run.position


@runs
def test_steps_and_their_verdicts(asked: Any) -> None:
    run = traced(*asked)
    dump = parsed(run)
    for step in run.steps:
        assert whole(dump["hand.step"][step.start]) == step.number
        assert VERDICTS[whole(dump["hand.verdict"][step.start]) - 1] == step.verdict


@runs
def test_voltages_are_those_of_the_run_and_lie_close(asked: Any) -> None:
    """%.16g of the standard (18.2.2, from memory) is right to one unit in the last place, not exact."""
    run = traced(*asked)
    dump = parsed(run)
    for line, name in zip(run.lines, LINES, strict=True):
        if line.node is None:
            assert f"volts.{name}" not in dump.references_to_ids
            continue
        latest = dict(dump[f"volts.{name}"].tv)
        ticks = np.array(sorted(latest), np.int64)
        volts = np.array([float(latest[tick]) for tick in ticks.tolist()])
        np.testing.assert_allclose(volts, line.node.volts(ticks), rtol=1.0e-15, atol=1.0e-15)
        for word, level in (("rising", line.node.rising), ("falling", line.node.falling)):
            for knot, value in zip(line.node.knots.tolist(), level.tolist(), strict=True):
                assert float(dump[f"volts.{name}_{word}"][knot]) == pytest.approx(value, rel=1.0e-14)


@runs
def test_our_reader_finds_identical_ticks(asked: Any, tmp_path: pathlib.Path) -> None:
    run = traced(*asked)
    path = tmp_path / "run.vcd"
    write_vcd(run, str(path))
    trace = read_trace(str(path))
    assert (trace.notes.start, trace.notes.duration) == (0, last_tick(run))
    for number, line in enumerate(run.lines):
        assert trace.first[number] == 1 ^ line.contact.first
        assert trace.times[number].tolist() == line.contact.ticks.tolist()
    seen = read_trace(str(path), columns="counter.A,counter.B")
    assert [times.tolist() for times in seen.times] == [line.seen.ticks.tolist() for line in run.lines]


@pytest.mark.parametrize(
    ("name", "number", "sets"),
    [("panel-knob", 1, ("filter.capacitor=10 nF",)), ("long-leads", 2, ()), ("supply-dips", 3, ())],
)
def test_a_run_is_exported_and_replayed(
    tmp_path: pathlib.Path, name: str, number: int, sets: tuple[str, ...]
) -> None:
    run = traced(name, number, *sets)
    path = tmp_path / "run.vcd"
    write_vcd(run, str(path))
    options = [word for each in sets for word in ("--set", each)]
    arguments = ["replay", str(path), name, *options, "--run", str(number), "--seed", str(run.seed)]
    done = CliRunner().invoke(steptally, [*arguments, "--json", "-"])
    assert done.exit_code == 0, done.output
    export = json.loads(done.stdout)
    assert export["trace"]["format"] == "value change dump"
    counted = [
        (each["time_s"], each["count"], each["moved"], each["position"])
        for each in export["pulses"]
        if each["time_s"] <= last_tick(run) / 1.0e12
    ]
    assert counted == [(each.tick / 1.0e12, each.asked, each.moved, each.position) for each in run.pulses]


def test_the_same_run_gives_the_same_bytes() -> None:
    assert vcd_text(traced(*RUNS[0])) == vcd_text(traced(*RUNS[0]))


ODD = by_hand(
    ([0, 5 * US, 5 * US, 5 * US], [7 * US]),
    ([0, 3 * US], []),
    [pulse(2 * US, -1, -1), pulse(2 * US, 0, -1), pulse(9 * US, -1, -2), pulse(5 * 10**11, 0, -2, 1)],
)
"""Changes at tick 0 and at one tick, positions below 0, a pulse behind the end of the watch."""


def test_odd_runs() -> None:
    dump = parsed(ODD)
    assert changes(dump, "contacts.A") == [(0, "1"), (0, "0"), (5 * US, "1"), (5 * US, "0"), (5 * US, "1")]
    assert changes(dump, "contacts.B") == [(0, "1"), (7 * US, "0")]
    assert changes(dump, "filter_2____in_put_.A") == [(0, "1"), (0, "0"), (3 * US, "1")]
    assert [(time, whole(bits)) for time, bits in dump["counter.position"].tv] == [
        (0, 0), (2 * US, -1), (9 * US, -2),
    ]  # fmt: skip
    assert len(dump["counter.pulse"].tv) == 4
    assert dump.endtime == 5 * 10**11


def test_odd_runs_by_our_reader(tmp_path: pathlib.Path) -> None:
    path = tmp_path / "odd"
    write_vcd(ODD, str(path))
    trace = read_trace(str(path))
    assert trace.first == (1, 1)
    assert [times.tolist() for times in trace.times] == [[0, 5 * US, 5 * US, 5 * US], [7 * US]]


def test_samples_are_close_enough_for_straight_lines() -> None:
    line = node([MS, 3 * MS, 3 * MS + 40 * US, 10 * MS])
    samples = voltage_samples(line, 0, 20 * MS)
    assert samples.ticks[0] == 0
    assert samples.ticks[-1] == 20 * MS
    assert {MS, 3 * MS, 3 * MS + 40 * US, 10 * MS} <= set(samples.ticks.tolist())
    ticks = np.linspace(0, 20 * MS, 50_001).astype(np.int64)
    off = np.abs(np.interp(ticks, samples.ticks, samples.volts) - line.volts(ticks))
    assert off.max() <= 1.3 * FLATNESS * np.ptp(samples.volts)
    assert samples.ticks.size < 150
    falling = closed_form(3.3, 0, MS)
    assert line.at(MS + 50 * US) == pytest.approx(closed_form(falling, 1, 50 * US), rel=1.0e-12)


def test_a_jump_has_two_samples() -> None:
    line = node([MS, 2 * MS], pole=_stiff())
    samples = voltage_samples(line, 0, 3 * MS)
    assert samples.volts[samples.ticks == MS].tolist() == [3.3, 0.1]
    assert samples.volts[samples.ticks == 2 * MS].tolist() == [0.1, 3.3]


def _stiff() -> Any:
    return POLE._replace(tau_open=0.0, tau_closed=0.0)


def test_stages_stand_in_the_order_of_the_way() -> None:
    run = traced("interlock", 1)
    names = [place.name for place in places(run)]
    assert names == [trail.name for trail in run.lines[0].stages]
    a, b = run.lines
    only_b = replace(b, stages=(replace(b.stages[0], name="other"), *b.stages))
    mixed = places(replace(run, lines=(a, only_b)))
    assert mixed[0].name == "other"
    assert mixed[0].trails[0] is None
    assert [place.name for place in mixed[1:]] == names


def test_a_file_is_whole_or_absent(tmp_path: pathlib.Path) -> None:
    with pytest.raises(UserError, match="cannot be written"):
        write_vcd(ODD, str(tmp_path / "none" / "run.vcd"))
    assert list(tmp_path.iterdir()) == []
