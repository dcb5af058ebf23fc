"""Many campaigns driven at once: each as it would be alone, in order, with little computed in vain."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.campaigns.campaign import drive, run_campaign
from simcore.campaigns.computing import KEPT, Job, _engine, _kept, compute
from simcore.campaigns.course import Course, Plan
from simcore.campaigns.executors import workers
from simcore.judging.tally import Tally
from simcore.statistics.stopping import ALL_RUNS, BETTER, WORSE, Stop, Target
from tests.hostile.pretended import GRID, computed, plan
from tests.simcore.builders import design, filtered
from tests.theory.test_same_answer import same_tally


class Counting(Executor):
    """Computes pretended blocks at once, and counts them."""

    def __init__(self) -> None:
        self.blocks = 0

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """As any executor's."""
        self.blocks += 1
        future: Future[Any] = Future()
        future.set_result(computed(args[0]))
        return future


def driven(stops: list[Stop], in_hand: int) -> tuple[list[Course], int]:
    executor = Counting()
    courses = list(drive((Course(plan(stop)) for stop in stops), executor, in_hand))
    return courses, executor.blocks


stops = st.builds(
    Stop,
    runs=st.integers(1, 9 * GRID),
    errors=st.none() | st.integers(1, 60),
    precision=st.none() | st.sampled_from([0.2, 0.5]),
    seconds=st.none(),
    target=st.none() | st.sampled_from([Target(0.01), Target(0.045), Target(0.2)]),
)


@settings(max_examples=100, deadline=None)
@given(st.lists(stops, max_size=8), st.integers(1, 9))
def test_each_campaign_ends_as_it_would_alone_and_they_come_in_order(rules: list[Stop], in_hand: int) -> None:
    courses, _ = driven(rules, in_hand)
    assert [course.plan.stop for course in courses] == rules
    for stop, course in zip(rules, courses, strict=True):
        alone = driven([stop], 1)[0][0]
        assert course.ended_by == alone.ended_by
        same_tally(course.tally, alone.tally)


@pytest.mark.parametrize("in_hand", [1, 2, 4, 16])
def test_campaigns_that_end_at_their_first_look_cost_no_block_in_vain(in_hand: int) -> None:
    """But at the very end, where there is nothing better to do."""
    rules = [Stop(50 * GRID, target=Target(0.9))] * 30
    courses, blocks = driven(rules, in_hand)
    assert {course.ended_by for course in courses} == {BETTER}
    assert len(rules) <= blocks <= len(rules) + in_hand


def test_a_campaign_alone_is_computed_ahead_of_its_looks() -> None:
    course = Course(plan(Stop(9 * GRID, precision=1e-3)))
    assert course.next(ahead=False) is not None
    assert course.next(ahead=False) is None
    assert course.next() is not None


def test_what_no_look_can_end_is_never_in_doubt() -> None:
    course = Course(plan(Stop(5 * GRID)))
    jobs = [course.next(ahead=False) for _ in range(6)]
    assert [job is not None for job in jobs] == [True] * 5 + [False]


def test_few_campaigns_are_alive_at_a_time() -> None:
    alive = most = 0

    def lazily() -> Iterator[Course]:
        nonlocal alive, most
        for _ in range(200):
            alive += 1
            most = max(most, alive)
            yield Course(plan(Stop(3 * GRID, target=Target(0.045))))

    for _ in drive(lazily(), Counting(), 4):
        alive -= 1
    assert alive == 0
    assert most <= 9


def test_several_designs_at_once_give_what_each_gives_alone() -> None:
    """On three threads, with blocks of 7 runs: engines are kept apart."""
    designs = [design(filtered(nanofarads)) for nanofarads in (5.0, 22.0, 47.0, 100.0, 150.0, 220.0)]
    stop = Stop(120)
    with workers(3) as (executor, in_hand):
        courses = (Course(Plan(each, 3, stop, block=7)) for each in designs)
        found = [course.outcome().tally for course in drive(courses, executor, in_hand)]
    for each, tally in zip(designs, found, strict=True):
        same_tally(tally, run_campaign(each, seed=3, runs=120).tally)


def test_a_thread_keeps_a_few_engines_and_uses_them_again() -> None:
    works = [Course(Plan(design(filtered(float(n))), 1, Stop(10))).work for n in range(5, 6 + KEPT)]
    first = [_engine(work) for work in works]
    assert [_engine(work) for work in works[1:]] == first[1:]
    assert _engine(works[0]) is not first[0]
    assert len(_kept.engines) == KEPT


def test_with_each_a_target_must_be_decided_for_every_gesture() -> None:
    """Clicks and quick twists behind a filter: all steps together are decided before each of the two is."""
    from scenarios.loading.load import load_scenario

    made = load_scenario("panel-knob", ["filter.capacitor=470 nF"]).design
    run = functools.partial(run_campaign, made, seed=1, runs=0, margins=False)
    together = run(stop=Stop(1500, target=Target(0.001)))
    each = run(stop=Stop(1500, target=Target(0.001, each=True)))
    assert together.ended_by == WORSE
    assert together.tally.runs < each.tally.runs == 1500
    assert each.ended_by == ALL_RUNS


def test_root_causes_of_the_gestures_add_up() -> None:
    from scenarios.loading.load import load_scenario

    tally: Tally = run_campaign(load_scenario("panel-knob").design, seed=1, runs=400, margins=False).tally
    parts = [tally.gesture_causes(number) for number in range(len(tally.gestures))]
    assert len(parts) == 2
    for cause, count in tally.causes.items():
        assert sum(part.get(cause, 0) for part in parts) == count
    for number, part in enumerate(parts):
        assert sum(part.values()) == tally.cluster("wrong", tally.gesture_group(number)).y
        assert list(part.values()) == sorted(part.values(), reverse=True)


def test_a_job_needs_nothing_but_itself() -> None:
    made = design(filtered(22.0))
    job = Course(Plan(made, 3, Stop(20), margins=False)).next()
    assert isinstance(job, Job)
    same_tally(compute(job), run_campaign(made, seed=3, runs=20, margins=False).tally)
