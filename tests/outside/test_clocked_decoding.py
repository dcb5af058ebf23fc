"""Decoding at a clock: what it counts, how fast a shaft it follows, and as what it reads a faster one.

The table of counts per cycle and the limit of a quarter of the clock are those of a published
quadrature counter chip's data sheet (read); the mean counts of faster motion are arithmetic, with
the derivation beside them.
"""

from __future__ import annotations

import pytest

from simcore.base.draws import Part
from simcore.counters.base import ILLEGAL
from simcore.counters.clocked import DOUBLE_FLAGGED, DOUBLE_IGNORED, ClockedQuadrature
from simcore.counters.two_clock import TwoClock
from tests.simcore.counting import Change, Counted, counted, net, turned

PERIOD = 1_000_000
CLOCK = Part(1.0e-6, 0.0)
"""A clock of 1 MHz; its phase is drawn anew for each run."""


def moved(quarters_per_sample: float, samples: int) -> list[Change]:
    """Edges of an even upward motion."""
    count = int(quarters_per_sample * samples)
    times = [round((number + 1) * PERIOD / quarters_per_sample) for number in range(count)]
    return [(time, number % 2) for number, time in enumerate(times)]


def read(quarters_per_sample: float, samples: int, run: int, double: int = DOUBLE_FLAGGED) -> list[Counted]:
    """Pulses of an x4 decoder whose clock has the phase of ``run``."""
    return counted(ClockedQuadrature(4, 1, CLOCK, double), moved(quarters_per_sample, samples), run=run)


@pytest.mark.parametrize("counts", [1, 2, 4])
@pytest.mark.parametrize("direction", [1, -1])
def test_counts_per_cycle(counts: int, direction: int) -> None:
    """A published quadrature counter chip's data sheet: multiplies by one, two or four (read)."""
    spec = ClockedQuadrature(counts, 1, CLOCK, DOUBLE_FLAGGED)
    pulses = counted(spec, turned([direction] * 28, 3 * PERIOD))
    assert [pulse.asked for pulse in pulses] == [direction] * counts * 7
    assert all(pulse.flags == 0 for pulse in pulses)


ALIASES = [
    (0.25, 0.25, 0.0), (0.9, 0.9, 0.0), (1.0, 1.0, 0.0), (1.1, 0.9, 0.1), (1.5, 0.5, 0.5),
    (2.5, -0.5, 0.5), (2.9, -0.9, 0.1), (3.0, -1.0, 0.0), (3.1, -0.9, 0.0),
]  # fmt: skip


@pytest.mark.parametrize(("quarters", "mean", "double"), ALIASES)
def test_mean_count_of_a_motion_of_so_many_quarters_per_sample(
    quarters: float, mean: float, double: float
) -> None:
    """With f the fractional part of v, a sample finds floor(v) or, in a share f of cases, one more
    transitions; 0, 1, 2, 3 (modulo 4) of them read as 0, 1, 0 with both lines changed, -1.  So the
    mean is (1 - f) c(floor v) + f c(floor v + 1).  Above one quarter per sample the decoder errs; at
    three it counts backward.  Over n samples the shares are off by less than two samples.
    """
    samples = 400
    for run in range(8):
        pulses = read(quarters, samples, run)
        doubles = sum(1 for pulse in pulses if pulse.flags & ILLEGAL)
        assert net(pulses) / samples == pytest.approx(mean, abs=2.5 / samples)
        assert doubles / samples == pytest.approx(double, abs=2.5 / samples)


def test_no_error_up_to_one_quarter_per_sample_and_always_one_beyond() -> None:
    """Unfiltered, a cycle may be as short as four clock periods: f_cycle < f_clock / 4 (a published
    quadrature counter chip's data sheet: each of the four states longer than a clock period; read).
    """
    samples = 4000
    for run in range(4):
        slower, faster = read(0.999, samples, run), read(1.001, samples, run)
        assert {(pulse.asked, pulse.flags) for pulse in slower} == {(1, 0)}
        assert net(slower) == len(moved(0.999, samples))
        assert any(pulse.flags & ILLEGAL for pulse in faster)
        assert net(faster) < len(moved(1.001, samples))


def test_a_state_shorter_than_a_clock_period_may_be_skipped() -> None:
    """The sheet's condition is on each state, not on the mean: a phase difference of less than a
    period skips a state although the cycle is ten periods long (read: state > clock period).
    """
    short = PERIOD // 2
    edges = [
        (at + shift, line)
        for at in range(10 * PERIOD, 4000 * PERIOD, 10 * PERIOD + 12_345)
        for shift, line in ((0, 0), (short, 1), (5 * PERIOD, 0), (5 * PERIOD + short, 1))
    ]
    pulses = counted(ClockedQuadrature(4, 1, CLOCK, DOUBLE_IGNORED), edges)
    flagged = counted(ClockedQuadrature(4, 1, CLOCK, DOUBLE_FLAGGED), edges)
    share = sum(1 for pulse in flagged if pulse.flags & ILLEGAL) / (len(edges) / 2)
    assert share == pytest.approx(0.5, abs=0.1)
    assert net(pulses) < 0.8 * len(edges)


@pytest.mark.parametrize("extra", range(6))
@pytest.mark.parametrize("level", [0, 1])
def test_extra_makes_all_count_the_same_way_on_two_clocks(level: int, extra: int) -> None:
    """As with a step and a direction line (property): each extra make that outlasts the pulse is one
    more pulse on the same clock, and nothing cancels.
    """
    gates = TwoClock(0, 0, 1, 5 * PERIOD, 0)
    edges = [(10 * PERIOD * (k + 1), 0) for k in range(2 * extra + 1)]
    pulses = counted(gates, edges, (1, level))
    assert [pulse.asked for pulse in pulses] == [1 if level else -1] * (1 + extra)
