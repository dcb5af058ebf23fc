"""Edge spacing and chatter of the default hand on the ordinary contacts, as practice has them.

All bounds here are facts of the trade (common practice, no source): edges of a slow click lie
2 to 7 ms apart and about 2 ms in a fast turn, rarely down to 1 ms; chatter lasts up to about
0.5 ms in ordinary turns and about 2 ms in an exaggeratedly slow one.  The numbers come from
the engine's own transitions and contact edges, 400 runs under one seed.
"""

from __future__ import annotations

import functools
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from simcore.engines.batch import BatchEngine
from tests.scenarios.samples import load_text

RUNS = 400
TEXT = """\
[encoder]
part = "ordinary"
[contacts]
part = "ordinary"
[[hand]]
gesture = "click"
[[hand]]
gesture = "twist"
[[hand]]
gesture = "creep"
[counter]
part = "tapped-potentiometer-100"
"""

Floats = npt.NDArray[np.float64]


class Measured(NamedTuple):
    """One gesture: gaps between neighbouring crossings of a movement, burst lengths (ms), and the
    extra changes of each burst.
    """

    gaps: Floats
    bursts: Floats
    extra: npt.NDArray[np.int64]


@functools.cache
def measured() -> dict[str, Measured]:
    """Gaps and bursts of each gesture of TEXT."""
    design = load_text(TEXT).design
    detail = BatchEngine(design, RUNS).detail(1, 0, RUNS)
    rows = detail.truth.transitions
    count = int(rows.offsets[-1])
    run = np.repeat(np.arange(RUNS), np.diff(rows.offsets))
    times = rows.times[:count]
    gesture = detail.truth.steps.gestures[detail.truth.steps.offsets[run] + rows.steps[:count]]
    together = (run[1:] == run[:-1]) & (rows.until[1:count] == rows.until[: count - 1])
    last, changes = times.copy(), np.zeros(count, np.int64)
    for line in (0, 1):
        edges = detail.lines[line][0]
        total = int(edges.offsets[-1])
        of_run = np.repeat(np.arange(RUNS), np.diff(edges.offsets))
        cause = rows.offsets[of_run] + (edges.causes[:total] >> 4)
        np.maximum.at(last, cause, edges.times[:total])
        np.add.at(changes, cause, 1)
    found = {}
    for slot, entry in enumerate(design.hand):
        here = gesture == slot
        gaps = (times[1:] - times[:-1])[together & here[1:]] / 1.0e9
        found[entry.name] = Measured(gaps, (last - times)[here] / 1.0e9, changes[here] - 1)
    return found


def between(values: Floats, low: float, high: float) -> float:
    """Share of the values within limits."""
    return float(np.mean((values >= low) & (values <= high)))


def test_edges_of_a_click_lie_two_to_seven_milliseconds_apart() -> None:
    gaps = measured()["click"].gaps
    assert between(gaps, 2.0, 7.0) > 0.93
    assert 3.0 < np.median(gaps) < 5.0


def test_edges_of_a_fast_turn_lie_about_two_milliseconds_apart_and_rarely_one() -> None:
    gaps = measured()["twist"].gaps
    assert 1.7 < np.median(gaps) < 2.3
    assert 0.0005 < np.mean(gaps < 1.0) < 0.05
    assert np.mean(gaps < 0.7) < 0.001


def test_chatter_of_ordinary_turns_lasts_up_to_about_half_a_millisecond() -> None:
    bursts = np.concatenate([measured()["click"].bursts, measured()["twist"].bursts])
    assert 0.35 < np.quantile(bursts, 0.95) < 0.65
    assert np.mean(bursts < 1.2) > 0.98


def test_chatter_of_an_exaggeratedly_slow_turn_lasts_about_two_milliseconds() -> None:
    bursts = measured()["creep"].bursts
    assert 1.6 < np.quantile(bursts, 0.95) < 2.4
    assert np.quantile(bursts, 0.95) > 3.0 * np.quantile(measured()["click"].bursts, 0.95)


def test_most_bursts_have_up_to_seven_extra_changes_and_some_none() -> None:
    """Gathered from public reports: usually 0 to 7 extra changes per burst."""
    for name in ("click", "twist", "creep"):
        extra = measured()[name].extra
        assert np.mean(extra <= 7) > 0.7
        assert 0.1 < np.mean(extra == 0) < 0.5


def test_a_few_stragglers_come_milliseconds_later() -> None:
    bursts = measured()["click"].bursts
    assert 0.0005 < np.mean((bursts > 2.0) & (bursts < 4.2)) < 0.01


def test_chatter_of_one_edge_seldom_reaches_the_next() -> None:
    click = measured()["click"]
    assert np.quantile(click.bursts, 0.99) < np.quantile(click.gaps, 0.01)
