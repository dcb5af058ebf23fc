"""How single values are read, checked against their limits, and written back.

Each class here stands behind fields of one sort; `fields` lists the sorts in use.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Protocol, runtime_checkable

from pydantic_core import core_schema

from scenarios.loading.messages import hint, is_one_line, listed, quoted, shown
from scenarios.quantities import (
    SHARE,
    Dimension,
    QuantityError,
    read_quantity,
    write_quantity,
)


@runtime_checkable
class Field(Protocol):
    """What stands behind a field: from the value in the file to the one in the model, and back."""

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        ...

    def read(self, value: Any) -> Any:
        """The checked value; QuantityError when it is not allowed."""
        ...

    def write(self, value: Any) -> Any:
        """What the file would say."""
        ...


class Plugged:
    """Lets pydantic read a value with ``read``."""

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        raise NotImplementedError

    def read(self, value: Any) -> Any:
        """The checked value; QuantityError when it is not allowed."""
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)


@dataclass(frozen=True)
class Quantity(Plugged):
    """A quantity between ``low`` and ``high`` (in the dimension's unit); ``above`` excludes ``low``."""

    dimension: Dimension
    low: float
    high: float
    above: bool = False

    @property
    def unit(self) -> str:
        """The unit that values are in."""
        return self.dimension.unit

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return f"{self.dimension.name} in {self.dimension.unit}"

    def read(self, value: Any) -> float:
        """The number in the dimension's unit."""
        number = read_quantity(value, self.dimension)
        if not self.low <= number <= self.high or (self.above and number == self.low):
            least = "above" if self.above else "from"
            raise QuantityError(
                shown(value),
                f"allowed is {self.dimension.called} {least} {self.write(self.low)} "
                f"{'and up ' if self.above else ''}to {self.write(self.high)}",
            )
        return number

    def write(self, value: float) -> str:
        """Text with a unit that reads back as the same number."""
        return write_quantity(value, self.dimension)


@dataclass(frozen=True)
class Number(Plugged):
    """A plain number, such as a mean count, between ``low`` and ``high``."""

    low: float
    high: float
    below: bool = False

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return "number"

    def read(self, value: Any) -> float:
        """The number itself."""
        plain = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not plain or not self.low <= value <= self.high or (self.below and value == self.high):
            most = f"below {self.high:g}" if self.below else f"to {self.high:g}"
            raise QuantityError(
                shown(value), f"allowed is a plain number, without unit or quotes, from {self.low:g} {most}"
            )
        return float(value) + 0.0

    def write(self, value: float) -> float | int:
        """A whole number without its point."""
        return int(value) if value.is_integer() else value


@dataclass(frozen=True)
class Chance(Plugged):
    """A probability or fraction, 0 to 1 as a plain number or "0 %" to "100 %" as a text."""

    low: float = 0.0
    high: float = 1.0

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return "share, 0 to 1 or %"

    def read(self, value: Any) -> float:
        """The fraction."""
        number = math.nan
        if isinstance(value, str):
            number = read_quantity(value, SHARE)
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            number = float(max(min(value, 2), -1))
        if not self.low <= number <= self.high:
            raise QuantityError(
                shown(value),
                f'allowed is a share from {self.low:g} to {self.high:g}, for example 0.5 or "50 %"',
            )
        return number + 0.0

    def write(self, value: float) -> str:
        """In per cent."""
        return write_quantity(value, SHARE)


@dataclass(frozen=True)
class Count(Plugged):
    """A whole number between ``low`` and ``high``."""

    low: int
    high: int

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return "whole number"

    def read(self, value: Any) -> int:
        """The number itself."""
        if isinstance(value, bool) or not isinstance(value, int) or not self.low <= value <= self.high:
            raise QuantityError(
                shown(value), f"allowed is a whole number from {self.low} to {self.high}, without quotes"
            )
        return value

    def write(self, value: int) -> int:
        """As it is."""
        return value


@dataclass(frozen=True)
class Word(Plugged):
    """One of a few words; case does not count."""

    allowed: tuple[str, ...]

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return ", ".join(self.allowed)

    def read(self, value: Any) -> str:
        """The word as it is listed."""
        if isinstance(value, str):
            for word in self.allowed:
                if " ".join(value.split()).casefold() == word.casefold():
                    return word
        known = hint(value, self.allowed) if isinstance(value, str) else ""
        raise QuantityError(shown(value), f"allowed is {quoted(self.allowed)}{known}")

    def write(self, value: str) -> str:
        """As it is."""
        return value


@dataclass(frozen=True)
class Switch(Plugged):
    """true or false."""

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return "true or false"

    def read(self, value: Any) -> bool:
        """The value itself."""
        if not isinstance(value, bool):
            raise QuantityError(shown(value), "allowed is true or false, without quotes")
        return value

    def write(self, value: bool) -> bool:
        """As it is."""
        return value


@dataclass(frozen=True)
class Text(Plugged):
    """Any text of up to ``most`` characters, on one line."""

    most: int

    @property
    def takes(self) -> str:
        """What may be written, in few words."""
        return "text"

    def read(self, value: Any) -> str:
        """The text without space around it."""
        if not isinstance(value, str):
            raise QuantityError(shown(value), 'allowed is a text in quotes, for example "a knob"')
        if len(value) > self.most or not is_one_line(value):
            raise QuantityError(
                shown(value), f"allowed is a text of up to {self.most} characters on one line"
            )
        return value.strip()

    def write(self, value: str) -> str:
        """As it is."""
        return value


@dataclass(frozen=True)
class Name(Text):
    """A text that can be part of a path: not empty, without "." and "=", no section's name."""

    reserved: tuple[str, ...] = ()

    def read(self, value: Any) -> str:
        """The name."""
        name = super().read(value)
        if not name or "." in name or "=" in name:
            raise QuantityError(shown(value), 'allowed is a name of one or more letters, without "." and "="')
        if name in self.reserved:
            raise QuantityError(
                shown(value),
                f"that is the name of a section; allowed is any name but {listed(self.reserved)}",
            )
        return name
