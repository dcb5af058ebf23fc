"""What a voltmeter on a line's node reads, for stages that have a voltage.

Two rules beside the six of a stage (see base), for stages between contact and logic:

* ``probe_volts(params, before, after, time, fresh)`` the node's voltage (V) at the tick at which an edge
  of the contact arrives, just before it moves on; ``before`` and ``after`` are the states on both sides
  of that edge.  ``fresh`` is 1 at the first change of a burst; a stage for which the voltage is dear
  may answer 0.0 at all others;
* ``probe_thresholds(params)`` rising and falling threshold (V) of the built unit, supply undisturbed.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from simcore.base.compiling import family_with_default, rule
from simcore.base.records import Edges, Floats, cause_transition


class Readings(NamedTuple):
    """Volts of one line of a block: ``volts`` of the node at each edge of the contact, and of each run's
    unit the ``rising`` and the ``falling`` threshold.
    """

    volts: Floats
    rising: Floats
    falling: Floats


UNREAD = Readings(np.zeros(0), np.zeros(0), np.zeros(0))
"""Nobody looks."""


@family_with_default
def probe_volts(params: Any, before: Any, after: Any, time: int, fresh: int) -> float:
    """The node's voltage (V) as an input edge arrives; 0.0 for a stage without any."""
    return 0.0


@family_with_default
def probe_thresholds(params: Any) -> tuple[float, float]:
    """Rising and falling threshold (V) of the built unit; zeros for a stage without any."""
    return 0.0, 0.0


@rule
def read_thresholds(readings: Readings, r: int, params: Any) -> None:
    """Note the thresholds of run ``r``, if anybody looks."""
    if readings.volts.size > 0:
        readings.rising[r], readings.falling[r] = probe_thresholds(params)


@rule
def read_volts(
    readings: Readings, source: Edges, i: int, cause: int, params: Any, before: Any, after: Any
) -> None:
    """Note the voltage at edge ``i`` of the source, which comes after one of a ``cause``, if anybody
    looks.
    """
    if readings.volts.size > 0:
        fresh = 1 if cause_transition(source.causes[i]) != cause_transition(cause) else 0
        readings.volts[i] = probe_volts(params, before, after, source.times[i], fresh)


def room_for_readings(old: Readings, source: Edges) -> Readings:
    """``old`` if it has room for the edges of ``source``, else a larger one."""
    edges, runs = source.times.size, source.first.size
    if old.volts.size >= edges and old.rising.size >= runs:
        return old
    return Readings(np.zeros(edges), np.zeros(runs), np.zeros(runs))
