"""How values that are lists are read, checked against their limits, and written back."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

from scenarios.loading.messages import shown
from scenarios.markers import Plugged, Quantity
from scenarios.quantities import QuantityError


@dataclass(frozen=True)
class Quantities(Plugged):
    """A list of ``least`` to ``most`` quantities, each as ``each`` has it; ``rising`` ones begin with 0
    and go up.
    """

    each: Quantity
    least: int
    most: int
    rising: bool = False

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return f"list of {self.each.takes}"

    def read(self, value: Any) -> tuple[float, ...]:
        """The numbers in the dimension's unit."""
        if not isinstance(value, list) or not self.least <= len(value) <= self.most:
            found = f"a list of {len(value)}" if isinstance(value, list) else shown(value)
            raise QuantityError(
                found,
                f"allowed is a list of {self.least} to {self.most} {self.each.dimension.name}s, "
                f"each such as {self.each.dimension.example}",
            )
        numbers: list[float] = []
        for number, item in enumerate(value, start=1):
            try:
                numbers.append(self.each.read(item))
            except QuantityError as error:
                raise QuantityError(error.read, f"number {number} of the list: {error.message}") from None
        if self.rising:
            self._check_rise(numbers)
        return tuple(numbers)

    def _check_rise(self, numbers: list[float]) -> None:
        if numbers[0] != 0.0:
            raise QuantityError(
                self.each.write(numbers[0]), f"the list must begin with {self.each.write(0.0)}, then rise"
            )
        for number, (before, after) in enumerate(itertools.pairwise(numbers), start=2):
            if after <= before:
                raise QuantityError(
                    self.each.write(after),
                    f"number {number} of the list must be above the one before, "
                    f"which is {self.each.write(before)}",
                )

    def write(self, value: tuple[float, ...]) -> list[str]:
        """Texts with their units."""
        return [self.each.write(number) for number in value]


@dataclass(frozen=True)
class BurstList(Plugged):
    """A library of bursts: a list of lists of times of changes, as ``burst`` has one, each of an odd
    number.
    """

    burst: Quantities
    most: int
    example = '["0 s", "12 us", "20 us"]'

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return "list of bursts, each a list of times"

    def read(self, value: Any) -> tuple[tuple[float, ...], ...]:
        """The bursts in seconds."""
        if not isinstance(value, list) or not 1 <= len(value) <= self.most:
            found = f"a list of {len(value)}" if isinstance(value, list) else shown(value)
            raise QuantityError(
                found, f"allowed is a list of 1 to {self.most} bursts, each such as {self.example}"
            )
        bursts = []
        for number, item in enumerate(value, start=1):
            try:
                bursts.append(self.read_burst(item))
            except QuantityError as error:
                raise QuantityError(error.read, f"burst {number}: {error.message}") from None
        return tuple(bursts)

    def read_burst(self, value: Any) -> tuple[float, ...]:
        """One burst."""
        burst = self.burst.read(value)
        if len(burst) % 2 == 0:
            raise QuantityError(
                f"{len(burst)} changes",
                "a burst ends in the new state, so allowed is an odd number of changes",
            )
        return burst

    def write(self, value: tuple[tuple[float, ...], ...]) -> list[list[str]]:
        """Texts with their units."""
        return [self.burst.write(burst) for burst in value]
