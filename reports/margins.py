"""The key ``margins`` of the JSON: how close edges and voltages came to what is asked of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from simcore.campaigns.course import Outcome
    from simcore.engines.gauging import Probe
    from simcore.judging.margins import Margins

Export = dict[str, Any]

SHARES = {"one_in_1000": 0.001, "one_in_100": 0.01, "median": 0.5}
BEYOND = 10
"""A quantile is given only if so many values are as bad or worse: with fewer it is mere chance."""

WHY_NOT = {
    "no clock line": "the counter has no clock line",
    "no voltage": "that contact is read as a logic level, without a voltage",
    "not last": "other stages stand between that line's input and the counter",
    "not steady": "that voltage is not one exponential between two edges of its contact",
}


def margins_export(outcome: Outcome) -> Export | None:
    """The margins of all runs, None if they were left out."""
    from simcore.engines.chain import wire
    from simcore.engines.gauging import REASONS, why_not
    from simcore.judging.margins import QUANTITIES, TIME_RESOLUTION, VOLTS_RESOLUTION

    design, margins = outcome.design, outcome.tally.margins
    if margins is None:
        return None
    reasons = why_not(design, wire(design))
    labels, asked = _labels(outcome), _asked(outcome)
    return {
        "time_resolution": TIME_RESOLUTION,
        "voltage_resolution": VOLTS_RESOLUTION * design.supply.nominal,
        "values_beyond": BEYOND,
        "quantities": [
            {
                "quantity": name,
                "label": labels[number],
                **_numbers(margins, number, design.supply.nominal),
                "asked": asked[number],
                "missed": int(margins.missed[number]),
                "why_not": WHY_NOT.get(REASONS[reasons[number]]),
            }
            for number, name in enumerate(QUANTITIES)
        ],
    }


def _numbers(margins: Margins, quantity: int, supply: float) -> Export:
    """Worst value and quantiles, in seconds or volts, None where there are too few values."""
    from simcore.base.ticks import TICKS_PER_SECOND
    from simcore.judging.margins import MICROVOLTS, MOST_IS_WORST, VOLTAGES, microvolts, quantile, values

    count = values(margins, quantity)
    unit = MICROVOLTS if quantity in VOLTAGES else TICKS_PER_SECOND
    most = quantity in MOST_IS_WORST
    worst = float((margins.most if most else margins.least)[quantity]) / unit if count else None

    def at(share: float) -> float | None:
        # A share such as 0.001 is a little more than itself as a float.
        enough = count > 0 and share * count >= BEYOND * (1.0 - 1.0e-12)
        return quantile(margins, quantity, share, microvolts(supply)) / unit if enough else None

    return {
        "unit": "V" if quantity in VOLTAGES else "s",
        "worst_is": "most" if most else "least",
        "values": count,
        "worst": worst,
        **{name: at(share) for name, share in SHARES.items()},
    }


def _labels(outcome: Outcome) -> list[str]:
    """What each quantity is, in words that name the lines."""
    from simcore.base.records import LINE_NAMES
    from simcore.counters.timing import NO_CLOCK, counter_timing

    timing = counter_timing(outcome.design.counter)
    if timing.clock == NO_CLOCK:
        clocked = ["set-up time", "hold time", "clock low", "clock high"]
        voltage = "set-up voltage"
    else:
        clock, direction = LINE_NAMES[timing.clock], LINE_NAMES[1 - timing.clock]
        moves = "rises" if timing.active else "falls"
        clocked = [
            f"{direction} steady before {clock} {moves}", f"{direction} steady after {clock} {moves}",
            f"{clock} low", f"{clock} high",
        ]  # fmt: skip
        voltage = f"{direction} past its threshold"
    levels = [f"{line} {level} level" for line in LINE_NAMES for level in ("low", "high")]
    return [*clocked, "edges of A and B apart", voltage, *levels]


def _asked(outcome: Outcome) -> list[float | None]:
    """The limit of each quantity, in seconds or volts: what the counter states, nominal thresholds."""
    from simcore.base.ticks import seconds
    from simcore.counters.timing import counter_timing
    from simcore.engines.chain import wire
    from simcore.engines.gauging import GATHERED, probes, why_not
    from simcore.judging.margins import SETUP_VOLTS

    design = outcome.design
    chain, timing = wire(design), counter_timing(design.counter)
    limits = (timing.setup, timing.hold, timing.low, timing.high, timing.apart)
    setup_volts = 0.0 if why_not(design, chain)[SETUP_VOLTS] == GATHERED else None
    levels = [level for probe in probes(chain) for level in _thresholds(probe, design.supply.nominal)]
    return [*(seconds(limit) if limit else None for limit in limits), setup_volts, *levels]


def _thresholds(probe: Probe | None, supply: float) -> tuple[float | None, float | None]:
    """Falling and rising threshold (V), nominal."""
    from simcore.stages.inputs import input_thresholds

    if probe is None:
        return None, None
    nominal = input_thresholds(probe.spec.logic, supply, (0.5, 0.5, 0.5, 0.5))
    return nominal.falling, nominal.rising
