"""Windows along an axis: against a plain search of all stretches, and standings against intervals."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from simcore.campaigns.choosing import (
    SLACK,
    Border,
    Standing,
    Window,
    against_lowest,
    goal_level,
    lowest,
    standing,
    window,
)
from simcore.judging.tally import Cluster
from simcore.statistics.estimates import rate_interval
from simcore.statistics.exact import LEVEL, Interval
from simcore.statistics.stopping import Stop, Target

SIGNS = {"#": Standing.WITHIN, ".": Standing.OUTSIDE, "?": Standing.OPEN}
rows = st.text(alphabet="#.?", max_size=12)


def of(row: str) -> Window | None:
    return window([SIGNS[sign] for sign in row])


def interval(low: float, high: float) -> Interval:
    return Interval(low, 0.5 * (low + high), high, LEVEL, "by hand")


@pytest.mark.parametrize(
    ("row", "first", "last", "below", "above"),
    [
        ("..###..", 2, 4, Border(1, ()), Border(5, ())),
        ("###", 0, 2, Border(None, ()), Border(None, ())),
        (".?#?.", 2, 2, Border(0, (1,)), Border(4, (3,))),
        ("?##??", 1, 2, Border(None, (0,)), Border(None, (3, 4))),
        (".#.##", 3, 4, Border(2, ()), Border(None, ())),
    ],
)
def test_windows_by_hand(row: str, first: int, last: int, below: Border, above: Border) -> None:
    found = of(row)
    assert found is not None
    assert (found.first, found.last, found.below, found.above) == (first, last, below, above)


def test_gaps_and_what_lies_elsewhere() -> None:
    found = of("#.#?#.?#")
    assert found is not None
    assert (found.first, found.last) == (2, 4)
    assert (found.gaps, found.elsewhere) == ((3,), (0, 7))


@settings(deadline=None)
@given(rows)
@example("")
@example("??")
@example("#")
def test_a_window_is_the_first_of_the_stretches_with_most_cells_within(row: str) -> None:
    """Every stretch without a cell outside is tried, in the plainest way."""
    found = of(row)
    stretches = [
        (row[i:j].count("#"), i, j)
        for i, j in itertools.combinations(range(len(row) + 1), 2)
        if "." not in row[i:j] and row[i] == "#" and row[j - 1] == "#"
    ]
    if not stretches:
        assert found is None
        return
    most = max(count for count, _, _ in stretches)
    first, last = next((i, j - 1) for count, i, j in sorted(stretches, key=lambda s: s[1]) if count == most)
    assert found is not None
    assert (found.first, found.last) == (first, last)
    within = {i for i, sign in enumerate(row) if sign == "#"}
    assert set(found.elsewhere) == within - set(range(first, last + 1))
    assert found.gaps == tuple(i for i in range(first, last + 1) if row[i] == "?")


@settings(deadline=None)
@given(rows)
def test_borders_are_the_nearest_cells_outside(row: str) -> None:
    found = of(row)
    if found is None:
        return
    outside = [i for i, sign in enumerate(row) if sign == "."]
    assert found.below.outside == max((i for i in outside if i < found.first), default=None)
    assert found.above.outside == min((i for i in outside if i > found.last), default=None)
    for border, step in ((found.below, -1), (found.above, 1)):
        assert all(row[i] == "?" for i in border.open)
        edge = found.first if step < 0 else found.last
        assert border.open == tuple(range(edge + step, edge + step * (len(border.open) + 1), step))


@settings(deadline=None)
@given(rows)
def test_a_row_turned_round_has_its_borders_changed_over(row: str) -> None:
    """Where one stretch has more cells within than any other."""
    ahead, behind = of(row), of(row[::-1])
    counts = sorted(len(part.replace("?", "")) for part in row.split("."))
    if ahead is None or behind is None or (len(counts) > 1 and counts[-1] == counts[-2]):
        return
    end = len(row) - 1
    assert (behind.first, behind.last) == (end - ahead.last, end - ahead.first)
    assert behind.above.open == tuple(end - i for i in ahead.below.open)
    assert behind.above.outside == (None if ahead.below.outside is None else end - ahead.below.outside)


def test_the_lowest_is_that_with_the_lowest_upper_bound() -> None:
    bound = Interval(0.0, 0.0, 0.02, LEVEL, "nothing seen")
    unknown = Interval(math.nan, math.nan, math.nan, LEVEL, "no data")
    assert lowest([interval(0.1, 0.2), bound, interval(0.005, 0.01), interval(0.0, 0.01)]) == 2
    assert lowest([unknown, bound]) == 1
    assert lowest([unknown]) is None
    assert lowest([]) is None


def test_without_a_target_cells_are_held_against_a_multiple_of_the_lowest() -> None:
    rows = [
        interval(0.001, 0.004),
        interval(0.002, 0.004 * SLACK),
        interval(0.004, 0.02),
        interval(0.009, 0.02),
    ]
    found, rate = against_lowest(rows)
    assert rate == pytest.approx(SLACK * 0.004)
    assert found == [Standing.WITHIN, Standing.WITHIN, Standing.OPEN, Standing.OUTSIDE]
    unknown = Interval(math.nan, math.nan, math.nan, LEVEL, "no data")
    assert against_lowest([unknown, rows[0]])[0] == [Standing.OPEN, Standing.WITHIN]
    assert math.isnan(against_lowest([unknown])[1])


def test_a_measure_above_every_rate_lets_no_cell_in() -> None:
    found, rate = against_lowest([interval(0.1, 1.0 / SLACK), interval(0.8, 1.0)])
    assert (rate, found) == (1.0, [Standing.OPEN, Standing.OPEN])
    found, rate = against_lowest([interval(0.1, 0.99 / SLACK), interval(0.992, 1.0)])
    assert found == [Standing.WITHIN, Standing.OUTSIDE]


@settings(deadline=None)
@given(st.integers(2, 300), st.data())
def test_a_cell_stands_as_its_interval_does(runs: int, data: st.DataObject) -> None:
    """Runs of ten steps of which one or none is wrong, so that the sums are simple."""
    wrong = data.draw(st.integers(0, runs))
    rate = data.draw(st.floats(1e-4, 0.5))
    cluster = Cluster(runs, wrong, 10 * runs, 100 * runs, wrong, wrong, 10 * wrong)
    seen, found = rate_interval(cluster, 0.9), standing(cluster, rate, 0.9)
    assert (found is Standing.WITHIN) == (seen.high <= rate)
    assert (found is Standing.OUTSIDE) == (seen.low > rate)


def test_no_steps_decide_nothing() -> None:
    assert standing(Cluster(0, 0, 0, 0, 0, 0, 0), 0.1, 0.9) is Standing.OPEN


def test_the_level_of_a_goal_shares_the_chance_among_the_looks() -> None:
    """100 runs in blocks of 10 are looked at after 10, 20, 40, 80 and 100: five looks at 5 % to each side."""
    assert goal_level(Stop(100, target=Target(0.01)), 10) == pytest.approx(1.0 - 2.0 * 0.05 / 5)
    assert goal_level(Stop(100), 10) == LEVEL
    assert goal_level(Stop(100, precision=0.1), 10) == LEVEL
