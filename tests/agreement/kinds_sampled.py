"""Random sampled stages for the agreement tests, ordinary and extreme."""

from __future__ import annotations

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from simcore.base.draws import Part
from simcore.stages.clock import Clock
from simcore.stages.sampled import Agree, Integrate, Majority, Sampled
from simcore.stages.synchroniser import Synchroniser

MOST_BITS = 62
PERIODS = (1e-12, 1e-9, 1e-6, 1e-6, 20e-6, 250e-6, 250e-6, 1e-3, 5e-3, 0.3)
"""From the finest there can be, which must cost nothing, to slower than the hand."""


@st.composite
def clocks(draw: DrawFn) -> Clock:
    """One for both lines or one each, exact or not."""
    period, tolerance = draw(st.sampled_from(PERIODS)), draw(st.sampled_from([0.0, 0.0, 0.02, 0.5]))
    return Clock(Part(period, tolerance), draw(st.integers(0, 1)))


def agrees() -> st.SearchStrategy[Sampled]:
    """From every sample to a long register."""
    return st.builds(Sampled, clocks(), st.builds(Agree, st.sampled_from([1, 2, 3, 4, 8, 64])))


def integrates() -> st.SearchStrategy[Sampled]:
    """From every sample to a high stop."""
    return st.builds(Sampled, clocks(), st.builds(Integrate, st.sampled_from([1, 2, 4, 8, 100, 5000])))


@st.composite
def majorities(draw: DrawFn) -> Sampled:
    """From the barest majority to all."""
    last = draw(st.sampled_from([1, 2, 3, 5, 8, 31, MOST_BITS]))
    return Sampled(draw(clocks()), Majority(last, draw(st.integers(last // 2 + 1, last))))


@st.composite
def synchronisers(draw: DrawFn) -> Synchroniser:
    """One flip-flop to a long row; windows from none to nearly a period."""
    timing = draw(clocks())
    window = draw(st.sampled_from([0.0, 0.0, 0.001, 0.3, 0.99])) * timing.period.nominal
    window *= 1.0 - timing.period.tolerance
    return Synchroniser(timing, draw(st.sampled_from([1, 2, 2, 3, 8, MOST_BITS])), window)


def sampled_stages() -> st.SearchStrategy[Sampled | Synchroniser]:
    """Any of them."""
    return st.one_of(agrees(), integrates(), majorities(), synchronisers())
