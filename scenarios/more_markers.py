"""How thresholds, rates of steps and lines are read and written back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from scenarios.loading.messages import shown
from scenarios.markers import Plugged, Quantity
from scenarios.quantities import SHARE, VOLTAGE, QuantityError, read_rate, write_quantity


class LevelValue(NamedTuple):
    """A voltage (V), or a share of the supply (a fraction) when ``of_supply`` is 1."""

    value: float
    of_supply: int


@dataclass(frozen=True)
class SupplyLevel(Plugged):
    """A threshold in volts or as a share of the supply."""

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return "voltage in V, or % of the supply"

    def read(self, value: Any) -> LevelValue:
        """The level."""
        if isinstance(value, str) and value.rstrip().endswith("%"):
            return LevelValue(Quantity(SHARE, 0.0, 10.0).read(value), 1)
        try:
            return LevelValue(Quantity(VOLTAGE, 0.0, 1000.0).read(value), 0)
        except QuantityError as error:
            raise QuantityError(error.read, f'{error.message}, or a share of the supply, "70 %"') from None

    def write(self, value: LevelValue) -> str:
        """Volts, or a share of the supply."""
        return write_quantity(value.value, SHARE if value.of_supply else VOLTAGE)


class RateValue(NamedTuple):
    """A rate of wrong steps as a fraction, and as it was written."""

    rate: float
    text: str


@dataclass(frozen=True)
class Rate(Plugged):
    """A rate of steps, "1 in 1000 steps"."""

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return "rate of steps"

    def read(self, value: Any) -> RateValue:
        """The rate with its text."""
        return RateValue(read_rate(value), " ".join(str(value).split()))

    def write(self, value: RateValue) -> str:
        """As it was written."""
        return value.text


@dataclass(frozen=True)
class Lines(Plugged):
    """The lines that a stage serves: ["A", "B"], ["A"] or ["B"]."""

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return '["A", "B"], ["A"] or ["B"]'

    def read(self, value: Any) -> tuple[int, ...]:
        """Their numbers, A 0 and B 1."""
        listing = isinstance(value, list) and all(isinstance(each, str) for each in value)
        names = [each.strip().upper() for each in value] if listing else []
        if sorted(names) not in (["A"], ["B"], ["A", "B"]):
            found = "[" + ", ".join(shown(each) for each in value[:4]) + "]" if listing else shown(value)
            raise QuantityError(found, 'allowed is ["A", "B"], ["A"] or ["B"]')
        return tuple(sorted("AB".index(name) for name in names))

    def write(self, value: tuple[int, ...]) -> list[str]:
        """Their names."""
        return ["AB"[line] for line in value]
