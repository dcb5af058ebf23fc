"""What a voltmeter on a line's node reads, for stages that have a voltage.

Two rules beside the six of a stage (see base), both needed only by stages between contact and logic:

* ``stage_volts(params, before, after, time, fresh)`` the node's voltage (V) at the tick at which an edge
  of the contact arrives, just before it moves on; ``before`` and ``after`` are the states on both sides
  of that edge.  ``fresh`` is 1 at the first change of a burst; a stage for which the voltage is dear
  may answer 0.0 at all others;
* ``stage_thresholds(params)`` rising and falling threshold (V) of the built unit, supply undisturbed.
"""

from __future__ import annotations

from typing import Any

from simcore.compiling import family, family_with_default


@family_with_default
def stage_volts(params: Any, before: Any, after: Any, time: int, fresh: int) -> float:
    """The node's voltage (V) as an input edge arrives; 0.0 for a stage without any."""
    return 0.0


@family
def stage_thresholds(params: Any) -> tuple[float, float]:
    """Rising and falling threshold (V) of the built unit."""
    raise NotImplementedError
