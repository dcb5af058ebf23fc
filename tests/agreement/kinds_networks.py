"""Random networks of the kinds beyond the first three, ordinary and extreme."""

from __future__ import annotations

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from simcore.base.draws import Part
from simcore.networks.diode import DiodeCapacitor
from simcore.networks.ladder import TwoSection
from simcore.networks.single_pole import AtCapacitor, PullDownAcross, PullDownDirect, PullDownSeries

from .designs import either, parts


def pulls() -> st.SearchStrategy[Part]:
    """A pull-up or pull-down."""
    return parts(4.7e3, 10e3, 100e3)


def resistors() -> st.SearchStrategy[Part]:
    """A series resistor, or a wire in its place."""
    return parts(1e3, 10e3, 0.0)


def capacitors() -> st.SearchStrategy[Part]:
    """Usual ones, none, and far too much."""
    return parts(100e-9, 100e-9, 10e-9, 1e-6, 0.0, 1e-15, 1e-3, 1.0, 1e3)


def at_capacitors() -> st.SearchStrategy[AtCapacitor]:
    """Pull-up at the capacitor."""
    return st.builds(AtCapacitor, pulls(), resistors(), capacitors())


def pull_downs() -> st.SearchStrategy[PullDownDirect]:
    """A contact to the supply and nothing but a pull-down."""
    return st.builds(PullDownDirect, pulls())


def series_downs() -> st.SearchStrategy[PullDownSeries]:
    """A contact to the supply, and a series resistor into a capacitor."""
    return st.builds(PullDownSeries, pulls(), resistors(), capacitors())


def across_downs() -> st.SearchStrategy[PullDownAcross]:
    """A contact to the supply, and a capacitor beside the pull-down."""
    return st.builds(PullDownAcross, pulls(), capacitors())


def diodes() -> st.SearchStrategy[DiodeCapacitor]:
    """Either way round, from no drop at all to one that never conducts."""
    drops = parts(0.6, 0.6, 0.2, 0.0, 1.8, 100.0)
    return st.builds(DiodeCapacitor, pulls(), resistors(), capacitors(), drops, st.integers(0, 1))


@st.composite
def two_sections(draw: DrawFn) -> TwoSection:
    """Sections alike, unlike, and with parts missing."""
    first = draw(resistors()), draw(capacitors())
    second = (draw(resistors()), draw(capacitors())) if draw(st.booleans()) else first
    if draw(either(0.0, 0.0, 1.0)):
        second = second[0], Part(first[1].nominal * 1e-9, 0.2)
    return TwoSection(draw(pulls()), *first, *second)


KINDS: dict[str, st.SearchStrategy[object]] = {
    "at capacitor": at_capacitors(),
    "pull-down": pull_downs(),
    "rc to supply": series_downs(),
    "beside pull-down": across_downs(),
    "diode": diodes(),
    "two sections": two_sections(),
}
"""A strategy for each kind, by a short name."""
