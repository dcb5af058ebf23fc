"""Troubled designs as scenario texts, and what became of their steps."""

from __future__ import annotations

from collections.abc import Sequence

from simcore.campaigns.campaign import run_campaign
from simcore.judging.tally import Tally
from tests.scenarios.samples import load_text


def scenario(*tables: str, detents: int = 20, cycles: int = 20, contacts: str = 'kind = "clean"') -> str:
    """A scenario of an exact encoder; ``tables`` are the hand, the stages and the counter."""
    table = f"[contacts]\n{contacts}\nresistance_spread = 0\n"
    head = f"[encoder]\ndetents = {detents}\ncycles = {cycles}\n{table}"
    return "\n".join((head, *tables))


def tally_of_text(text: str, runs: int = 20, sets: Sequence[str] = ()) -> Tally:
    """The tally of so many runs."""
    return run_campaign(load_text(text, sets).design, seed=1, runs=runs, threads=1).tally


def spin(rpm: float, turns: float = 1.0, direction: str = "up") -> str:
    """Turning evenly, as a machine does."""
    return (
        f'[[hand]]\nname = "spin"\ngesture = "spin"\nspeed = "{rpm} rpm"\nturns = {turns}\n'
        f'direction = "{direction}"\n'
    )


def clicks(number: int, direction: str = "up", name: str = "clicks") -> str:
    """Detents one by one, all alike."""
    return (
        f'[[hand]]\nname = "{name} {direction}"\ngesture = "click"\nclicks = {number}\n'
        f'direction = "{direction}"\nduration_spread = 0\ndwell_spread = 0\n'
    )


STEP_DIRECTION = '[counter]\nkind = "step-direction"\n'
X4 = '[counter]\nkind = "quadrature"\ndecoding = "x4"\n'


def threshold(volts: float) -> str:
    """An input with one exact threshold."""
    return f'[[stage]]\nname = "input"\nkind = "plain input"\nlow = "{volts} V"\nhigh = "{volts} V"\n'


def schmitt(rising: float, falling: float, more: str = "") -> str:
    """An input with hysteresis."""
    return (
        f'[[stage]]\nname = "input"\nkind = "schmitt input"\nrising = "{rising} V"\n'
        f'falling = "{falling} V"\n{more}\n'
    )


def rc(pull_up: str, series: str, capacitor: str, more: str = "") -> str:
    """A pull-up, a series resistor, a capacitor."""
    return (
        f'[[stage]]\nname = "filter"\nkind = "rc"\npull_up = "{pull_up}"\nseries = "{series}"\n'
        f'capacitor = "{capacitor}"\n{more}\n'
    )
