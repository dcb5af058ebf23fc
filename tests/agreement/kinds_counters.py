"""Random counters of the kinds two-clock, clocked quadrature, whole-cycle and prescaled.

The numbers of a kind keep one type each; a prescaler stands before a kind of its own choice, so
that few combinations are compiled.
"""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from simcore.base.draws import Part
from simcore.counters.clocked import ClockedQuadrature
from simcore.counters.prescaled import Prescaled
from simcore.counters.two_clock import TwoClock
from simcore.counters.whole_cycle import WholeCycle

from .designs import MICROSECOND, either, quadratures

signs = st.sampled_from([1, -1])


@st.composite
def two_clocks(draw: DrawFn) -> TwoClock:
    """Either clock line, edge and sense; pulses from a nanosecond to longer than a click's edges are
    apart, and any shortest length up to the whole of it.
    """
    pulse = draw(
        st.sampled_from([1_000, 5 * MICROSECOND, 5 * MICROSECOND, 300 * MICROSECOND, 20_000_000_000])
    )
    minimum = draw(st.sampled_from([0, pulse // 50, pulse // 2, pulse]))
    return TwoClock(draw(st.integers(0, 1)), draw(st.integers(0, 1)), draw(st.integers(0, 1)), pulse, minimum)


@st.composite
def clocked_quadratures(draw: DrawFn) -> ClockedQuadrature:
    """Clocks that keep up and clocks that do not, from 1 us to 20 ms; what chatter there is, sampled."""
    period = Part(draw(either(1e-6, 100e-6, 1e-3, 5e-3, 20e-3)), draw(either(0.0, 0.05, 0.2)))
    return ClockedQuadrature(draw(st.sampled_from([1, 2, 4])), draw(signs), period, draw(st.integers(0, 2)))


def whole_cycles() -> st.SearchStrategy[WholeCycle]:
    """Counting from both high or both low, also where the encoder rests elsewhere."""
    return st.builds(WholeCycle, st.integers(0, 1), signs)


@st.composite
def prescaled(draw: DrawFn, inner: st.SearchStrategy[Any] | None = None) -> Prescaled:
    """A counter, x1, x2 or x4 if none is given, divided by 1 to 64 from any phase."""
    divisor = draw(st.sampled_from([1, 2, 2, 3, 4, 4, 16, 64]))
    phase = draw(st.integers(0, divisor - 1))
    return Prescaled(draw(quadratures() if inner is None else inner), divisor, phase)


def kinds() -> dict[str, st.SearchStrategy[Any]]:
    """A strategy for each kind, and for prescalers before two of them."""
    return {
        "two-clock": two_clocks(),
        "clocked quadrature": clocked_quadratures(),
        "whole-cycle": whole_cycles(),
        "prescaled quadrature": prescaled(),
        "prescaled clocked": prescaled(clocked_quadratures()),
    }
