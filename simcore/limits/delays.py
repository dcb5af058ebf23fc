"""What the logic behind an input adds to the delay of its edges."""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.draws import Part
from simcore.counters.prescaled import Prescaled
from simcore.limits.bench import Bench
from simcore.stages.delay import GateDelay
from simcore.stages.pickup import PickUp
from simcore.stages.quiet import Lockout, QuietTime
from simcore.stages.sampled import Agree, Integrate, Majority, Sampled
from simcore.stages.synchroniser import Synchroniser


def decoder_of(counter: Any) -> Any:
    """The counter without its prescalers."""
    while isinstance(counter, Prescaled):
        counter = counter.inner
    return counter


class Delays(NamedTuple):
    """The shortest and the longest delay (s) of an edge."""

    least: float
    most: float


def logic_delay(bench: Bench, line: int) -> Delays | None:
    """The delay that the logic behind the input adds to an edge; None where it is more than a delay."""
    total = Delays(0.0, 0.0)
    for layer in bench.chain.layers:
        if not layer.serves(line):
            continue
        found = _layer_delay(None if layer.pair is not None else layer.line[line])
        if found is None:
            return None
        total = Delays(total.least + found.least, total.most + found.most)
    return total


def _part(part: Part, times: float = 1.0) -> Delays:
    seconds = times * part.nominal
    return Delays(seconds * (1.0 - part.tolerance), seconds * (1.0 + part.tolerance))


def _layer_delay(item: Any) -> Delays | None:
    """Least and most of one stage; the input itself adds nothing here."""
    if hasattr(item, "logic") or isinstance(item, (PickUp, Lockout)):
        return Delays(0.0, 0.0)
    if isinstance(item, QuietTime):
        return _part(item.time)
    if isinstance(item, GateDelay):
        least, most = _part(item.rising), _part(item.falling)
        return Delays(min(least.least, most.least), max(least.most, most.most))
    if isinstance(item, Synchroniser):
        return Delays(
            _part(item.clock.period, item.flops - 1).least, _part(item.clock.period, item.flops).most
        )
    if isinstance(item, Sampled):
        count = samples_needed(item.rule)
        if count is not None:
            return Delays(_part(item.clock.period, count - 1).least, _part(item.clock.period, count).most)
    return None


def samples_needed(rule: Any) -> int | None:
    """Samples of a settled level that turn a sampled filter over; None for a rule that is not known."""
    if isinstance(rule, Agree):
        return rule.samples
    if isinstance(rule, Integrate):
        return rule.top
    return rule.needed if isinstance(rule, Majority) else None
