"""The wrong steps that a page shows: found again in the run itself, and drawn as it went."""

from __future__ import annotations

import itertools
import shlex
from functools import cache

import numpy as np
import pytest

from reports.documents.document import figures
from reports.documents.gallery import gallery_section
from reports.results.gallery import DiagramTrack, GalleryStep, StepGallery
from reports.stories.tracks import FLAT
from reports.words.commands import NamedScenario
from reports.words.sentences import CAUSES
from scenarios.loading.load import Scenario, load_scenario
from simcore.campaigns.campaign import Outcome, run_campaign
from simcore.tracing.tracing import trace_run

RUNS = 400
SCENARIOS = ["panel-knob", "no-filter", "one-shot", "slow-edge"]
"""With a voltage that the counter's input follows; without any; with one line only; with noise."""
PICOSECOND = 1e-6
"""In microseconds."""


@pytest.fixture(params=SCENARIOS)
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@cache
def sample(name: str, runs: int) -> tuple[Scenario, Outcome]:
    scenario = load_scenario(name)
    return scenario, run_campaign(scenario.design, seed=scenario.seed, runs=runs)


@cache
def gallery_of(name: str, runs: int = RUNS) -> StepGallery:
    scenario, outcome = sample(name, runs)
    return StepGallery.of(
        scenario.design, outcome.tally, outcome.seed, outcome.first_run, NamedScenario(name)
    )


def items(name: str) -> tuple[GalleryStep, ...]:
    found = gallery_of(name).steps
    assert found
    return found


def track_of(item: GalleryStep, line: str, sort: str) -> DiagramTrack:
    return next(track for track in item.tracks if (track.line, track.sort) == (line, sort))


def test_one_step_for_each_root_cause_and_it_is_what_it_is_said_to_be(name: str) -> None:
    scenario, outcome = sample(name, RUNS)
    assert [item.cause for item in items(name)] == list(outcome.tally.causes)
    for item in items(name):
        step = trace_run(scenario.design, outcome.seed, item.run).step(item.step)
        assert (item.cause, item.verdict) == (step.cause, step.verdict)
        assert (item.wanted, item.counted) == (step.expected, step.received)
        assert item.wanted != item.counted
        assert item.sentence == CAUSES[item.cause]
        assert item.story


def test_tracks_span_the_window_and_hold_their_sort_of_values(name: str) -> None:
    for item in items(name):
        low, high = item.window_us
        assert low <= item.moment_us[0] < item.moment_us[1] <= high
        for track in item.tracks:
            times = track.times_us
            assert (times[0], times[-1]) == (low, high)
            assert len(times) == len(track.values)
            assert all(before <= after for before, after in itertools.pairwise(times))
            if track.sort in ("contact", "level"):
                inner = track.values[:-1]
                assert all(before + after == 1 for before, after in itertools.pairwise(inner))


def test_the_count_moves_by_what_the_step_counted() -> None:
    """Where the window holds no pulse of another step, the count's track moves by the step's own counts."""
    scenario, outcome = sample("panel-knob", RUNS)
    item = items("panel-knob")[0]
    run = trace_run(scenario.design, outcome.seed, item.run)
    zero = run.step(item.step).start
    low, high = (zero + round(each / PICOSECOND) for each in item.window_us)
    inside = [pulse for pulse in run.pulses if low <= pulse.tick < high]
    count = item.tracks[-1]
    assert count.values[-1] - count.values[0] == sum(pulse.moved for pulse in inside)
    assert {pulse.step for pulse in inside} == {item.step}
    assert count.values[-1] - count.values[0] == item.counted


def test_the_voltage_meets_its_threshold_where_the_counter_sees_an_edge() -> None:
    """A Schmitt input changes as the voltage crosses: upward the rising threshold, downward the falling."""
    checked = 0
    for item in items("panel-knob"):
        for line in ("A", "B"):
            voltage, level = (track_of(item, line, sort) for sort in ("voltage", "level"))
            thresholds = {each.name: each.volts[0] for each in voltage.thresholds}
            assert thresholds["falling"] < thresholds["rising"]
            for time, value in list(zip(level.times_us, level.values, strict=True))[1:-1]:
                volts = float(np.interp(time, voltage.times_us, voltage.values))
                wanted = thresholds["rising" if value else "falling"]
                assert volts == pytest.approx(wanted, abs=0.03), (item.cause, line, time)
                checked += 1
    assert checked >= 3


def test_thinning_keeps_every_voltage_within_its_bound() -> None:
    """The drawn line against the closed form of the run, at instants drawn over the window."""
    scenario, outcome = sample("panel-knob", RUNS)
    item = items("panel-knob")[0]
    run = trace_run(scenario.design, outcome.seed, item.run)
    zero = run.step(item.step).start
    low, high = item.moment_us
    times = np.random.default_rng(5).uniform(low, high, 500)
    for line, name in zip(run.lines, "AB", strict=True):
        assert line.node is not None
        track = track_of(item, name, "voltage")
        exact = line.node.volts(zero + np.round(times / PICOSECOND).astype(np.int64))
        drawn = np.interp(times, track.times_us, track.values)
        assert float(np.max(np.abs(drawn - exact))) < 20 * FLAT


def test_events_tell_the_same_as_the_tracks(name: str) -> None:
    for item in items(name):
        told = item.events
        assert all(before.time_us <= after.time_us for before, after in itertools.pairwise(told))
        contacts = tuple(e.time_us for e in told if e.what.startswith("contact A"))
        track = next(t for t in item.tracks if t.name == "contact A")
        assert contacts == track.times_us[1 : 1 + len(contacts)]


def test_the_command_names_the_step(name: str) -> None:
    item = items(name)[0]
    words = shlex.split(item.command)
    assert words[:3] == ["steptally", "trace", name]
    assert words[words.index("--run") + 1] == str(item.run)
    assert words[words.index("--step") + 1] == str(item.step)


def test_nothing_wrong_shows_nothing_and_searches_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    scenario, outcome = sample("well-filtered", 50)
    assert outcome.tally.wrong == 0
    monkeypatch.setattr("simcore.tracing.worst.search", lambda *_: pytest.fail("searched"))
    found = StepGallery.of(scenario.design, outcome.tally, outcome.seed, 0, NamedScenario("well-filtered"))
    assert found == StepGallery(searched_runs=50, steps=())
    assert not list(figures(gallery_section(found).blocks))


def test_every_step_is_drawn_from_its_window_and_told_in_a_table(name: str) -> None:
    found = list(figures(gallery_section(gallery_of(name)).blocks))
    assert len(found) == len(items(name))
    for figure, item in zip(found, items(name), strict=True):
        chart = figure.chart()
        assert chart["layout"]["xaxis"]["range"] == list(item.moment_us)
        lines = [trace for trace in chart["data"] if trace.get("name")]
        assert [trace["y"] for trace in lines] == [list(track.values) for track in item.tracks]
        assert figure.ranges == {"window": item.window_us, "moment": item.moment_us}
