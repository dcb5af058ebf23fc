"""A contact through any network into an input, with all that may happen on the way.

One built line has its parts, its state, and a voltage that is known in closed form between two changes of its
drive (contact, supply, power-up); noise is evaluated only where it can reach a threshold.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import member, rule
from simcore.base.draws import RESISTANCE, SUPPLY, Part, four, lognormal, normal_pair, purpose, toleranced
from simcore.base.records import (
    MAIN,
    NO_TRANSITION,
    NOISE,
    POWER_UP,
    SUPPLY_DIP,
    cause_transition,
    pack_cause,
)
from simcore.base.ticks import NEVER, later
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import Thresholds, input_thresholds, leakage_current
from simcore.networks.noise import ROWS, next_window, noise_at, noise_step, noise_value, noise_window
from simcore.networks.response import (
    Drive,
    Node,
    network_parts,
    node_after,
    node_crosses,
    node_jumps,
    node_rest,
)
from simcore.networks.supply import Dips, SupplyState, supply_after_turn, supply_start
from simcore.stages.base import (
    probe_thresholds,
    probe_volts,
    stage_build,
    stage_cause,
    stage_draws,
    stage_edge,
    stage_expire,
    stage_level,
    stage_start,
    stage_thresholds,
    stage_volts,
    stage_wake,
)
from simcore.stages.facts import Delays, own_origins, stage_delay

NOTHING_OWED = -1
"""No change was pending."""


class Waveform(NamedTuple):
    """Supply, contact, network and input of one line, and the supply's dips; with ``power_up`` 1 the
    capacitors are empty at tick 0; the network's draws are at an address of its own.
    """

    supply: Part
    resistance: Resistance
    network: Any
    logic: Any
    dips: Dips
    power_up: int
    network_address: int = 0


class DrawAddress(NamedTuple):
    """Where draws come from."""

    seed: int
    run: int
    line: int


class BuiltLine(NamedTuple):
    """One built line.  ``steady`` and ``dipped`` are the thresholds (V) under ``volts`` and ``low_volts``
    of supply; ``sigma`` (V) and ``step`` (ticks, 0 for none) are the noise and its grid; ``ohms`` the
    contact's resistance, as far as it is the unit's.
    """

    place: DrawAddress
    parts: Any
    volts: float
    low_volts: float
    steady: Thresholds
    dipped: Thresholds
    resistance: Resistance
    ohms: float
    leak: float
    sigma: float
    step: int
    dips: Dips
    power_up: int


class Blame(NamedTuple):
    """Who is behind the next change: ``owner`` is what moved the voltage last (an origin; MAIN for the
    contact) and ``changes`` 1 when it has had its change; ``owed`` is what had a change coming before
    that (an origin or NOTHING_OWED); ``tag`` is whose the latest change was.
    """

    owner: int
    changes: int
    owed: int
    tag: int


class WaveState(NamedTuple):
    """The voltages ``node`` at tick ``time``, under a drive that has been ``fresh`` since then if 1; the
    level ``high`` before inversion; the first instant of the noise's grid yet to decide (``look``).
    """

    time: int
    node: Node
    closed: int
    ohms: float
    high: int
    fresh: int
    look: int
    supply: SupplyState
    blame: Blame


@member(stage_build, Waveform)
def build(spec: Waveform, seed: int, run: int, address: int) -> BuiltLine:
    """Draw one unit with the draws that `Analogue` makes: the supply is common to both lines."""
    place = DrawAddress(seed, run, address % 2)
    volts = toleranced(spec.supply, four(seed, run, purpose(SUPPLY, 0), 0)[0])
    low_volts = volts * (1.0 - spec.dips.depth)
    own = spec.network_address + place.line
    v = stage_draws(seed, run, address, 1)
    noise = spec.logic.noise
    return BuiltLine(
        place,
        network_parts(spec.network, stage_draws(seed, run, own, 0), stage_draws(seed, run, own, 2)),
        volts,
        low_volts,
        input_thresholds(spec.logic, volts, v),
        input_thresholds(spec.logic, low_volts, v),
        spec.resistance,
        closed_ohms(spec.resistance, place, place.line, 0),
        leakage_current(spec.logic.leakage, v[3]),
        noise.rms,
        noise_step(noise.bandwidth) if noise.rms > 0.0 else 0,
        spec.dips,
        spec.power_up,
    )


@rule
def closed_ohms(resistance: Resistance, place: DrawAddress, item: int, index: int) -> float:
    """A closed contact's resistance (ohm), drawn at an address."""
    w = four(place.seed, place.run, purpose(RESISTANCE, item), index)
    return lognormal(resistance.median, resistance.spread, normal_pair(w[0], w[1])[0])


@rule
def ohms_from(params: BuiltLine, ohms: float, time: int, level: int) -> float:
    """The contact's resistance from a change at ``time`` on: a new one if it closes and each closure
    has its own.
    """
    if level and params.resistance.per_closure:
        return closed_ohms(params.resistance, params.place, 2 + params.place.line, time)
    return ohms


@rule
def drive_of(params: BuiltLine, closed: int, ohms: float, low: int) -> Drive:
    return Drive(closed, params.low_volts if low else params.volts, ohms, params.leak)


@rule
def drive_now(params: BuiltLine, state: WaveState) -> Drive:
    """What acts on the network since the state's own tick."""
    return drive_of(params, state.closed, state.ohms, state.supply.low)


@rule
def node_at(params: BuiltLine, state: WaveState, time: int) -> Node:
    """The voltages at ``time``, not before the state's own."""
    return node_after(params.parts, drive_now(params, state), state.node, (time - state.time) * 1.0e-12)


@rule
def driven(params: BuiltLine, state: WaveState, time: int, drive: Drive) -> Node:
    """The voltages at ``time``, once the drive has changed there: what has no capacitance jumps."""
    return node_after(params.parts, drive, node_at(params, state, time), 0.0)


SIGMAS = 6.0
"""Beyond so many times its rms value, noise no longer decides: it would once in 10^9 instants."""

CHUNK = 4096
"""Instants looked at in one go; the stage then wakes up without a change."""


@rule
def threshold_of(params: BuiltLine, state: WaveState) -> float:
    thresholds = params.dipped if state.supply.low else params.steady
    return thresholds.falling if state.high else thresholds.rising


@rule
def margin(state: WaveState, threshold: float, volts: float) -> float:
    """How far (V) the voltage still is on this side of a threshold, below 0 beyond it."""
    return volts - threshold if state.high else threshold - volts


@rule
def crossing_of(params: BuiltLine, state: WaveState, threshold: float) -> int:
    """The tick at which the voltage passes a threshold in the direction that would turn the input over."""
    seconds = node_crosses(params.parts, drive_now(params, state), state.node, threshold, 1 - state.high)
    return NEVER if seconds < 0.0 else later(state.time, seconds)


@rule
def quiet_change(params: BuiltLine, state: WaveState) -> int:
    """When the input turns over on a line without noise.  Beyond the threshold already counts only
    just after a change of the drive, which may have moved the threshold itself.
    """
    threshold = threshold_of(params, state)
    if state.fresh and margin(state, threshold, state.node.x) < 0.0:
        return state.time
    return crossing_of(params, state, threshold)


@rule
def band(params: BuiltLine) -> float:
    """Volts from the threshold within which noise decides."""
    return SIGMAS * params.sigma


@rule
def noisy_change(params: BuiltLine, state: WaveState, limit: int) -> int:
    """When the input turns over, or has to be looked at again, on a line with noise; a number from
    ``limit`` up if not before it.
    """
    threshold, reach = threshold_of(params, state), band(params)
    side = reach if state.high else -reach
    ahead = margin(state, threshold, state.node.x)
    # As on a quiet line: a time constant below a tick may leave the voltage beyond the threshold, and
    # on its way back, at the very tick at which the input has turned over.
    if state.fresh and ahead <= -reach:
        return state.time
    enters = state.time if ahead <= reach else crossing_of(params, state, threshold + side)
    if enters >= limit:
        return enters
    sure = crossing_of(params, state, threshold - side)
    first = max(state.look, (enters + params.step - 1) // params.step)
    return scan(params, state, threshold, first, min(limit, sure))


@rule
def scan(params: BuiltLine, state: WaveState, threshold: float, first: int, until: int) -> int:
    """The first instant of the grid, from number ``first`` on, at which noise turns the input over or
    the voltage has left the band again; ``until`` if there is none before it.
    """
    place, reach = params.place, band(params)
    number = first // ROWS
    window = noise_window(place.seed, place.run, place.line, number)
    for instant in range(first, first + CHUNK):
        time = instant * params.step
        if time >= until:
            return until
        if instant // ROWS != number:
            number += 1
            window = next_window(place.seed, place.run, place.line, number, window)
        volts = node_at(params, state, time).x
        noise = params.sigma * noise_value(instant % ROWS, window)
        if margin(state, threshold, volts) > reach or margin(state, threshold, volts + noise) < 0.0:
            return time
    return min((first + CHUNK) * params.step, until)


@rule
def undecided(params: BuiltLine, state: WaveState) -> bool:
    """Whether a wake-up of a noisy line at the state's own tick turns nothing over.  A voltage that
    passes the whole band within this tick does turn it over, though it still shows its old value.
    """
    threshold, volts = threshold_of(params, state), state.node.x
    ahead = margin(state, threshold, volts)
    if ahead <= -band(params) or state.time % params.step != 0:
        return False
    side = band(params) if state.high else -band(params)
    if crossing_of(params, state, threshold - side) == state.time:
        return False
    place = params.place
    noise = params.sigma * noise_at(place.seed, place.run, place.line, state.time // params.step)
    return ahead > band(params) or margin(state, threshold, volts + noise) >= 0.0


@rule
def next_look(params: BuiltLine, state: WaveState, time: int) -> int:
    """The first instant of the grid that an event at ``time`` leaves to decide."""
    return 0 if params.step == 0 else max(state.look, (time + params.step - 1) // params.step)


@member(stage_start, BuiltLine)
def start(params: BuiltLine, level: int) -> WaveState:
    """Settled, or with empty capacitors; between the thresholds an input is taken as low."""
    supply = supply_start(params.dips, params.place.seed, params.place.run)
    ohms = ohms_from(params, params.ohms, 0, level)
    drive = drive_of(params, level, ohms, 0)
    node = node_rest(params.parts, drive)
    if params.power_up:
        node = node_after(params.parts, drive, Node(0.0, 0.0), 0.0)
    high = 1 if node.x >= params.steady.rising else 0
    owner = POWER_UP if params.power_up else MAIN
    return WaveState(
        0, node, level, ohms, high, 1, 0, supply, Blame(owner, 1 - params.power_up, NOTHING_OWED, MAIN)
    )


@member(stage_edge, BuiltLine)
def edge(params: BuiltLine, state: WaveState, time: int, level: int) -> WaveState:
    """The contact changes: the voltage goes on from where it is, under another drive."""
    ohms = ohms_from(params, state.ohms, time, level)
    node = driven(params, state, time, drive_of(params, level, ohms, state.supply.low))
    blame = Blame(MAIN, 0, NOTHING_OWED, state.blame.tag)
    look = next_look(params, state, time)
    return WaveState(time, node, level, ohms, state.high, 1, look, state.supply, blame)


@member(stage_wake, BuiltLine)
def wake(params: BuiltLine, state: WaveState, limit: int) -> int:
    turn = state.supply.turn
    if params.step == 0:
        return min(quiet_change(params, state), turn)
    return min(noisy_change(params, state, min(limit, turn)), turn)


@member(stage_expire, BuiltLine)
def expire(params: BuiltLine, state: WaveState, time: int) -> WaveState:
    """The supply turns, or the input turns over, or noise leaves it where it is."""
    if time == state.supply.turn:
        return supply_turns(params, state, time)
    here = WaveState(
        time, node_at(params, state, time), state.closed, state.ohms, state.high, 0, state.look,
        state.supply, state.blame,
    )  # fmt: skip
    look = 0 if params.step == 0 else time // params.step + 1
    if params.step != 0 and undecided(params, here):
        return looked(here, state.high, look, state.blame)
    return looked(here, 1 - state.high, look, blame_for(params, state.blame))


@rule
def looked(state: WaveState, high: int, look: int, blame: Blame) -> WaveState:
    """The state with what a wake-up found."""
    return WaveState(state.time, state.node, state.closed, state.ohms, high, 0, look, state.supply, blame)


@rule
def supply_turns(params: BuiltLine, state: WaveState, time: int) -> WaveState:
    """A dip begins or ends.  A change that was on its way already is not the dip's."""
    coming = state.blame.changes == 0 and crossing_of(params, state, threshold_of(params, state)) != NEVER
    owed = NOTHING_OWED
    if state.blame.owed != NOTHING_OWED:
        owed = state.blame.owed
    elif coming:
        owed = state.blame.owner
    supply = supply_after_turn(params.dips, params.place.seed, params.place.run, state.supply)
    node = driven(params, state, time, drive_of(params, state.closed, state.ohms, supply.low))
    look = next_look(params, state, time)
    blame = Blame(SUPPLY_DIP, 0, owed, state.blame.tag)
    return WaveState(time, node, state.closed, state.ohms, state.high, 1, look, supply, blame)


@rule
def blame_for(params: BuiltLine, blame: Blame) -> Blame:
    """Whose a change is: the first one belongs to what moved the voltage, more of them to the noise."""
    if blame.owed != NOTHING_OWED:
        return Blame(blame.owner, 0, NOTHING_OWED, blame.owed)
    if blame.changes == 0 or params.step == 0:
        return Blame(blame.owner, 1, NOTHING_OWED, blame.owner)
    return Blame(blame.owner, 1, NOTHING_OWED, NOISE)


@member(stage_volts, BuiltLine)
def volts(params: BuiltLine, state: WaveState, time: int) -> float:
    """The node that the input sees, without the noise on it."""
    return node_at(params, state, time).x


@member(stage_thresholds, BuiltLine)
def thresholds(params: BuiltLine, state: WaveState) -> tuple[float, float]:
    """They follow the supply."""
    now = params.dipped if state.supply.low else params.steady
    return now.rising, now.falling


@member(stage_cause, BuiltLine)
def cause(params: BuiltLine, state: WaveState, cause: int) -> int:
    """The contact's changes carry the cause of its latest edge; noise on a contact's edge its transition."""
    tag = state.blame.tag
    if tag == MAIN:
        return cause
    if tag == NOISE and state.blame.owner == MAIN:
        return pack_cause(cause_transition(cause), NOISE)
    return pack_cause(NO_TRANSITION, tag)


@member(stage_level, BuiltLine)
def level(params: BuiltLine, state: WaveState) -> int:
    return state.high ^ params.steady.inverting


@member(probe_volts, BuiltLine)
def read_volts(params: BuiltLine, before: WaveState, after: WaveState, time: int, fresh: int) -> float:
    """An edge has them from just after it; where the node may jump there, they are worked out, and at
    the first change of a burst only.
    """
    if not node_jumps(params.parts, after.ohms):
        return after.node.x
    return node_at(params, before, time).x if fresh else 0.0


@member(probe_thresholds, BuiltLine)
def read_thresholds(params: BuiltLine) -> tuple[float, float]:
    """Those under the steady supply."""
    return params.steady.rising, params.steady.falling


@stage_delay.register
def no_logic_delay(item: Waveform) -> Delays:
    return Delays(0.0, 0.0)


@own_origins.register
def changes_of_the_voltage(item: Waveform) -> dict[int, str]:
    return {
        NOISE: "because of noise on the line",
        POWER_UP: "as the lines rose after power-up",
        SUPPLY_DIP: "because of a dip of the supply",
    }
