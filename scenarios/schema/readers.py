"""How values are read, checked against their limits, and written back: one reader for each sort of value
that a description may name (see simcore.base.description), and two for sorts that only scenarios have.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Any, ClassVar, NamedTuple

from pydantic_core import core_schema

from scenarios.loading.messages import hint, is_one_line, listed, quoted, shown
from scenarios.quantities import (
    DIMENSIONS,
    SHARE,
    VOLTAGE,
    Dimension,
    QuantityError,
    read_quantity,
    read_rate,
    write_quantity,
)
from simcore.base.description import (
    BurstList,
    Count,
    LevelValue,
    LineNumbers,
    PlainNumber,
    Quantities,
    Quantity,
    Share,
    Sort,
    SupplyLevel,
    Switch,
    Text,
    Word,
)


@dataclass(frozen=True)
class Name(Text):
    """A text that can be part of a path: not empty, without "." and "=", no section's name."""

    reserved: tuple[str, ...] = ()


@dataclass(frozen=True)
class Rate:
    """A rate of steps, "1 in 1000 steps": a RateValue."""


class RateValue(NamedTuple):
    """A rate of wrong steps as a fraction, and as it was written."""

    rate: float
    text: str


@dataclass(frozen=True)
class Reader:
    """Reads and writes the values of one sort; stands behind a field of a table."""

    sort: Any

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        raise NotImplementedError

    @property
    def unit(self) -> str:
        """The unit that values are in, "" where they have none."""
        return ""

    def read(self, value: Any) -> Any:
        """The checked value of what a file says; QuantityError when it is not allowed."""
        raise NotImplementedError

    def write(self, value: Any) -> Any:
        """What a file would say."""
        return value

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)


class QuantityReader(Reader):
    """A quantity with its unit."""

    @property
    def dimension(self) -> Dimension:
        """Its dimension with its units."""
        return DIMENSIONS[self.sort.dimension]

    @property
    def takes(self) -> str:
        return f"{self.dimension.name} in {self.unit}"

    @property
    def unit(self) -> str:
        return self.dimension.unit

    def read(self, value: Any) -> float:
        number, sort = read_quantity(value, self.dimension), self.sort
        if not sort.low <= number <= sort.high or (sort.above and number == sort.low):
            least = "above" if sort.above else "from"
            raise QuantityError(
                shown(value),
                f"allowed is {self.dimension.called} {least} {self.write(sort.low)} "
                f"{'and up ' if sort.above else ''}to {self.write(sort.high)}",
            )
        return number

    def write(self, value: float, digits: int | None = None) -> str:
        return write_quantity(value, self.dimension, digits)


class PlainNumberReader(Reader):
    """A number without a unit."""

    takes = "number"

    def read(self, value: Any) -> float:
        sort = self.sort
        plain = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not plain or not sort.low <= value <= sort.high or (sort.below and value == sort.high):
            most = f"below {sort.high:g}" if sort.below else f"to {sort.high:g}"
            raise QuantityError(
                shown(value), f"allowed is a plain number, without unit or quotes, from {sort.low:g} {most}"
            )
        return float(value) + 0.0

    def write(self, value: float) -> float | int:
        return int(value) if value.is_integer() else value


class ShareReader(Reader):
    """0 to 1 as a plain number, or "0 %" to "100 %" as a text."""

    takes = "share, 0 to 1 or %"

    def read(self, value: Any) -> float:
        number, sort = math.nan, self.sort
        if isinstance(value, str):
            number = read_quantity(value, SHARE)
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            number = float(max(min(value, 2), -1))
        if not sort.low <= number <= sort.high:
            raise QuantityError(
                shown(value),
                f'allowed is a share from {sort.low:g} to {sort.high:g}, for example 0.5 or "50 %"',
            )
        return number + 0.0

    def write(self, value: float) -> str:
        return write_quantity(value, SHARE)


class CountReader(Reader):
    """A whole number."""

    takes = "whole number"

    def read(self, value: Any) -> int:
        low, high = self.sort.low, self.sort.high
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise QuantityError(
                shown(value), f"allowed is a whole number from {low} to {high}, without quotes"
            )
        return value


class WordReader(Reader):
    """One of a few words; case does not count."""

    @property
    def takes(self) -> str:
        return ", ".join(self.sort.allowed)

    def read(self, value: Any) -> str:
        allowed: tuple[str, ...] = self.sort.allowed
        if isinstance(value, str):
            for word in allowed:
                if " ".join(value.split()).casefold() == word.casefold():
                    return word
        known = hint(value, allowed) if isinstance(value, str) else ""
        raise QuantityError(shown(value), f"allowed is {quoted(allowed)}{known}")


class SwitchReader(Reader):
    """true or false."""

    takes = "true or false"

    def read(self, value: Any) -> bool:
        if not isinstance(value, bool):
            raise QuantityError(shown(value), "allowed is true or false, without quotes")
        return value


class TextReader(Reader):
    """A text without the space around it."""

    takes = "text"

    def read(self, value: Any) -> str:
        most = self.sort.most
        if not isinstance(value, str):
            raise QuantityError(shown(value), 'allowed is a text in quotes, for example "a knob"')
        if len(value) > most or not is_one_line(value):
            raise QuantityError(shown(value), f"allowed is a text of up to {most} characters on one line")
        return value.strip()


class NameReader(TextReader):
    """The name of a stage or gesture."""

    def read(self, value: Any) -> str:
        name, reserved = super().read(value), self.sort.reserved
        if not name or "." in name or "=" in name:
            raise QuantityError(shown(value), 'allowed is a name of one or more letters, without "." and "="')
        if name in reserved:
            raise QuantityError(
                shown(value), f"that is the name of a section; allowed is any name but {listed(reserved)}"
            )
        return name


class LevelReader(Reader):
    """Volts, or a share of the supply."""

    takes = "voltage in V, or % of the supply"

    def read(self, value: Any) -> LevelValue:
        if isinstance(value, str) and value.rstrip().endswith("%"):
            return LevelValue(QuantityReader(Quantity("share", 0.0, 10.0)).read(value), 1)
        try:
            return LevelValue(QuantityReader(Quantity("voltage", 0.0, 1000.0)).read(value), 0)
        except QuantityError as error:
            raise QuantityError(error.read, f'{error.message}, or a share of the supply, "70 %"') from None

    def write(self, value: LevelValue) -> str:
        return write_quantity(value.value, SHARE if value.of_supply else VOLTAGE)


class RateReader(Reader):
    """A rate of steps, kept as it was written."""

    takes = "rate of steps"

    def read(self, value: Any) -> RateValue:
        return RateValue(read_rate(value), " ".join(str(value).split()))

    def write(self, value: RateValue) -> str:
        return value.text


class LineReader(Reader):
    """["A", "B"], ["A"] or ["B"]."""

    takes = '["A", "B"], ["A"] or ["B"]'

    def read(self, value: Any) -> tuple[int, ...]:
        listing = isinstance(value, list) and all(isinstance(each, str) for each in value)
        names = [each.strip().upper() for each in value] if listing else []
        if sorted(names) not in (["A"], ["B"], ["A", "B"]):
            found = "[" + ", ".join(shown(each) for each in value[:4]) + "]" if listing else shown(value)
            raise QuantityError(found, f"allowed is {self.takes}")
        if self.sort.both and len(names) < 2:
            raise QuantityError(
                f'["{names[0]}"]',
                'this stage works on both lines together; allowed is ["A", "B"], which need not be written',
            )
        return tuple(sorted("AB".index(name) for name in names))

    def write(self, value: tuple[int, ...]) -> list[str]:
        return ["AB"[line] for line in value]


class QuantitiesReader(Reader):
    """A list of quantities."""

    @property
    def each(self) -> QuantityReader:
        """What reads one of them."""
        return QuantityReader(self.sort.each)

    @property
    def takes(self) -> str:
        return f"list of {self.each.takes}"

    def read(self, value: Any) -> tuple[float, ...]:
        sort, each = self.sort, self.each
        if not isinstance(value, list) or not sort.least <= len(value) <= sort.most:
            found = f"a list of {len(value)}" if isinstance(value, list) else shown(value)
            raise QuantityError(
                found,
                f"allowed is a list of {sort.least} to {sort.most} {each.dimension.name}s, "
                f"each such as {each.dimension.example}",
            )
        numbers: list[float] = []
        for number, item in enumerate(value, start=1):
            try:
                numbers.append(each.read(item))
            except QuantityError as error:
                raise QuantityError(error.read, f"number {number} of the list: {error.message}") from None
        if sort.rising:
            self._check_rise(numbers)
        return tuple(numbers)

    def _check_rise(self, numbers: list[float]) -> None:
        write = self.each.write
        if numbers[0] != 0.0:
            raise QuantityError(write(numbers[0]), f"the list must begin with {write(0.0)}, then rise")
        for number, (before, after) in enumerate(itertools.pairwise(numbers), start=2):
            if after <= before:
                raise QuantityError(
                    write(after),
                    f"number {number} of the list must be above the one before, which is {write(before)}",
                )

    def write(self, value: tuple[float, ...]) -> list[str]:
        return [self.each.write(number) for number in value]


class BurstListReader(Reader):
    """A library of bursts: a list of lists of times."""

    takes = "list of bursts, each a list of times"
    example: ClassVar[str] = '["0 s", "12 us", "20 us"]'

    def read(self, value: Any) -> tuple[tuple[float, ...], ...]:
        if not isinstance(value, list) or not 1 <= len(value) <= self.sort.most:
            found = f"a list of {len(value)}" if isinstance(value, list) else shown(value)
            raise QuantityError(
                found, f"allowed is a list of 1 to {self.sort.most} bursts, each such as {self.example}"
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
        burst = QuantitiesReader(self.sort.burst).read(value)
        if len(burst) % 2 == 0:
            raise QuantityError(
                f"{len(burst)} changes",
                "a burst ends in the new state, so allowed is an odd number of changes",
            )
        return burst

    def write(self, value: tuple[tuple[float, ...], ...]) -> list[list[str]]:
        return [QuantitiesReader(self.sort.burst).write(burst) for burst in value]


READERS: dict[type, type[Reader]] = {
    Quantity: QuantityReader,
    PlainNumber: PlainNumberReader,
    Share: ShareReader,
    Count: CountReader,
    Word: WordReader,
    Switch: SwitchReader,
    Text: TextReader,
    Name: NameReader,
    SupplyLevel: LevelReader,
    Rate: RateReader,
    LineNumbers: LineReader,
    Quantities: QuantitiesReader,
    BurstList: BurstListReader,
}


def reader_of(sort: Sort | Name | Rate) -> Any:
    """The reader of a sort; KeyError for one that is no single value."""
    return READERS[type(sort)](sort)
