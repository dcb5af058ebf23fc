"""One-shots and lockouts on random pulses: the laws of dead time, and the lengths of pulses.

The two models of dead time are in Knoll, Radiation Detection and Measurement, section 4.VII: a
detector that is dead for a time after each event it takes (non-paralyzable) and one whose dead
time every event prolongs (paralyzable).  A one-shot without retrigger is of the first kind, one
with retrigger of the second.  The formulas are from memory and were derived anew.

Random checks have fixed seeds and allow four standard errors: below one false alarm in 15,000 each.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from simcore.base.draws import Part
from simcore.base.records import Edges, edges_of_runs, empty_edges, trimmed
from simcore.stages.base import drive_stage
from simcore.stages.lockout import Lockout
from simcore.stages.one_shot import OneShot
from tests.outside.lines import one_run, part, through

RATE = 1000.0
COUNT = 300_000
LN_3 = 1.0986123


def random_pulses(seed: int) -> tuple[list[int], float]:
    """Edges of an idle-high line with low pulses of one tick, beginning at Poisson instants, and the
    seconds that they take.
    """
    gaps = np.random.default_rng(seed).exponential(1e12 / RATE, COUNT)
    begins = np.cumsum(np.rint(gaps).astype(np.int64) + 2)
    return [int(time) for begin in begins for time in (begin, begin + 1)], float(begins[-1]) * 1e-12


def sent_through(spec: object, times: list[int]) -> Edges:
    """The output, all of it up to the last edge of the input."""
    source = edges_of_runs([(1, times, [0] * len(times))])
    out = empty_edges(2 * len(times), 1)
    assert drive_stage(spec, 1, 0, 0, source, np.array([times[-1]], np.int64), out) == 1
    return trimmed(out)


def one_shot(seconds: float, retriggerable: int, factor: float = 1.0) -> OneShot:
    """A high pulse at each falling edge."""
    return OneShot(part(seconds / 1e-6), part(1e-6), factor, 0, 1, retriggerable)


def dead_time_error(tau: float, seconds: float) -> float:
    """Standard error of a rate of renewals a fixed ``tau`` and an exponential wait apart.

    The count over a long time t has the variance t s^2 / m^3 (Cox, Renewal Theory, section 4.5;
    from memory), with mean m and deviation s of the time between renewals.
    """
    mean = tau + 1.0 / RATE
    return math.sqrt(1.0 / RATE**2 / mean**3 / seconds)


@pytest.mark.parametrize(("n_tau", "share"), [(0.2, 0.83333), (1.0, 0.5), (5.0, 0.16667)])
def test_a_one_shot_passes_what_a_non_paralyzable_dead_time_passes(n_tau: float, share: float) -> None:
    """Of n pulses per second it passes n / (1 + n tau)."""
    assert share == pytest.approx(1.0 / (1.0 + n_tau), abs=5e-6)
    times, seconds = random_pulses(1)
    tau = n_tau / RATE
    rate = sent_through(one_shot(tau, 0), times).times.size / 2 / seconds
    assert abs(rate - RATE * share) < 4.0 * dead_time_error(tau, seconds) + 1.0 / seconds


@pytest.mark.parametrize("n_tau", [0.2, 1.0, 5.0])
def test_a_lockout_on_short_pulses_is_dead_for_twice_its_time(n_tau: float) -> None:
    """It follows the pulse's beginning, finds the pulse gone at the end of its time, follows back and
    is deaf once more: n / (1 + 2 n tau) pulses per second.
    """
    times, seconds = random_pulses(2)
    tau = n_tau / RATE
    rate = sent_through(Lockout(Part(tau, 0.0)), times).times.size / 2 / seconds
    assert abs(rate - RATE / (1.0 + 2.0 * n_tau)) < 4.0 * dead_time_error(2.0 * tau, seconds) + 1.0 / seconds


@pytest.mark.parametrize(
    ("n_tau", "share", "width"),
    [(0.2, 0.818731, 1.107014), (1.0, 0.367879, 1.718282), (3.0, 0.049787, 6.361846)],
)
def test_a_retriggerable_one_shot_passes_what_a_paralyzable_dead_time_passes(
    n_tau: float, share: float, width: float
) -> None:
    """Of n triggers per second n exp(-n tau) begin a pulse, of mean length (exp(n tau) - 1) / n, here in
    units of tau.  A trigger begins one if the gap before it exceeds tau, each on its own, so the
    number of pulses is binomial.
    """
    times, seconds = random_pulses(3)
    seen = sent_through(one_shot(n_tau / RATE, 1), times).times
    pulses = (seen.size + 1) // 2
    error = math.sqrt(COUNT * share * (1.0 - share))
    assert abs(pulses - COUNT * share) < 4.0 * error + 1.0
    assert pulses / seconds == pytest.approx(RATE * share, rel=0.02)
    lengths: npt.NDArray[np.float64] = np.diff(seen)[::2] * 1e-12
    error = float(np.std(lengths)) / math.sqrt(lengths.size)
    assert abs(float(np.mean(lengths)) - width * n_tau / RATE) < 4.0 * error


def pulse_of(spec: OneShot) -> float:
    """Seconds from beginning to end of the pulse that one trigger gives."""
    seen = through_line(spec, [10**9])
    return (seen[1] - seen[0]) * 1e-12


def through_line(spec: OneShot, triggers: list[int]) -> list[int]:
    """Ticks of the output's edges for triggers (falling edges, a nanosecond low)."""
    source = one_run(1, [time for trigger in triggers for time in (trigger, trigger + 1000)])
    return [int(time) for time in through(spec, source).times]


@pytest.mark.parametrize(("ohms", "farads"), [(10e3, 100e-9), (100e3, 1e-6), (1e6, 10e-9), (4.7e3, 22e-9)])
def test_a_timer_that_charges_to_two_thirds_lasts_ln_3_rc(ohms: float, farads: float) -> None:
    """Its capacitor charges from empty to two thirds of the supply: ln 3 = 1.0986123 time constants,
    which data sheets of such timers print as "1.1 R C", 0.126 % more.
    """
    spec = OneShot(part(ohms), part(farads), math.log(3.0), 0, 1, 0)
    assert pulse_of(spec) == pytest.approx(LN_3 * ohms * farads, rel=1e-7)
    assert 1.0 - math.exp(-pulse_of(spec) / (ohms * farads)) == pytest.approx(2.0 / 3.0, rel=1e-7)
    assert 1.1 * ohms * farads / pulse_of(spec) - 1.0 == pytest.approx(0.00126, abs=5e-6)


@pytest.mark.parametrize("factor", [0.55, 0.48])
def test_a_retriggerable_chip_lasts_k_rc_from_the_last_trigger(factor: float) -> None:
    """A data sheet of a retriggerable one-shot of the high-speed CMOS family (1998): K R C with
    K = 0.55 at 5 V and 0.48 at 2 V; retriggered, the pulse lasts that long from the last trigger.
    """
    spec = OneShot(part(10e3), part(100e-9), factor, 0, 1, 1)
    length = round(factor * 1e-3 * 1e12)
    assert pulse_of(spec) == pytest.approx(factor * 1e-3, rel=1e-9)
    start = 10**9
    triggers = [start, start + length // 2, start + length + length // 4]
    assert through_line(spec, triggers) == [start, triggers[-1] + length]
    apart = [start, start + length + 1]
    assert through_line(spec, apart) == [start, start + length, apart[1], apart[1] + length]


def test_the_same_triggers_find_a_one_shot_without_retrigger_deaf() -> None:
    spec = one_shot(1e-3, 0)
    start, length = 10**9, 10**9
    assert through_line(spec, [start, start + length // 2, start + length]) == [start, start + length]


def test_parts_within_tolerance_set_the_pulse() -> None:
    """1 % and 10 % parts: lengths from 0.891 to 1.111 of the nominal, each line with its own."""
    spec = OneShot(Part(10e3, 0.01), Part(100e-9, 0.1), math.log(3.0), 0, 1, 0)
    source = edges_of_runs([(1, [10**9], [0])] * 4000)
    out = empty_edges(8000, 4000)
    for address in (0, 1):
        assert drive_stage(spec, 1, 0, address, source, np.full(4000, 2**60, np.int64), out) == 4000
        lengths = np.diff(out.times[:8000])[::2] / (LN_3 * 1e9)
        assert lengths.min() > 0.891 - 1e-9
        assert lengths.max() < 1.111 + 1e-9
        assert np.ptp(lengths) > 0.19
        assert abs(lengths.mean() - 1.0) < 4.0 * 0.0581 / math.sqrt(4000)
