"""Random time filters, interlocks and pick-up, as hypothesis strategies for the agreement tests.

Every number field keeps one type, so that compiled code of one kind serves all of that kind.
"""

from __future__ import annotations

import math

from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.design import StageEntry
from simcore.stages.interlock import Interlock
from simcore.stages.lockout import Lockout
from simcore.stages.one_shot import OneShot
from simcore.stages.pickup import PickUp
from simcore.stages.quiet_time import QuietTime

LINES = st.sampled_from([(0, 1), (0, 1), (0,), (1,)])


def _parts(*nominal: float) -> st.SearchStrategy[Part]:
    return st.builds(Part, st.sampled_from(nominal), st.sampled_from([0.0, 0.05, 0.2]))


TIMES = _parts(1e-3, 5e-3, 200e-6, 20e-6, 1e-6, 1e-12, 0.0, 50e-3, 0.2)


def quiet_times() -> st.SearchStrategy[QuietTime]:
    """From none at all to far too long."""
    return st.builds(QuietTime, TIMES)


def lockouts() -> st.SearchStrategy[Lockout]:
    """Likewise."""
    return st.builds(Lockout, TIMES)


def one_shots() -> st.SearchStrategy[OneShot]:
    """Both edges, both levels, with and without retrigger."""
    return st.builds(
        OneShot, _parts(10e3, 100e3), _parts(0.0, 1e-12, 10e-9, 100e-9, 1e-6),
        st.sampled_from([math.log(3.0), 0.55]), st.integers(0, 1), st.integers(0, 1), st.integers(0, 1),
    )  # fmt: skip


def pick_ups() -> st.SearchStrategy[PickUp]:
    """From none to more pulses than peace."""
    return st.builds(
        PickUp, st.sampled_from([20.0, 0.0, 300.0, 3000.0]), st.sampled_from([20e-6, 0.0, 1e-12, 2e-3]),
        st.sampled_from([0.0, 0.5]), st.integers(0, 2),
    )  # fmt: skip


def interlocks() -> st.SearchStrategy[Interlock]:
    """Without a delay, with that of gates, and with far too much."""
    return st.builds(Interlock, st.sampled_from([20e-9, 0.0, 1e-12, 1e-3, 10e-3]))


KINDS = {
    "quiet time": quiet_times,
    "lockout": lockouts,
    "one-shot": one_shots,
    "pick-up": pick_ups,
    "interlock": interlocks,
}
"""The strategies of this file by the name of the kind in a scenario."""


def filters() -> st.SearchStrategy[tuple[StageEntry, ...]]:
    """One to four of any kind, one after the other; the interlock takes no heed of the lines."""
    item = st.one_of(*(make() for make in KINDS.values()))
    entry = st.builds(StageEntry, st.just("stage"), item, LINES)
    return st.lists(entry, min_size=1, max_size=4).map(
        lambda entries: tuple(
            StageEntry(f"stage {number}", each.item, each.lines) for number, each in enumerate(entries)
        )
    )
