"""Whole numbers on the command line, with a message that says what is allowed."""

from __future__ import annotations

from typing import Any

from click import Context, Parameter, ParamType

LARGEST = 2**63 - 1


class Whole(ParamType):  # type: ignore[type-arg]
    """A whole number from ``low`` to ``high``."""

    name = "N"

    def __init__(self, low: int, high: int = LARGEST) -> None:
        self.low = low
        self.high = high

    def convert(self, value: Any, param: Parameter | None, ctx: Context | None) -> int:
        """The number; digits only, for a seed such as 1_000 is more likely a slip."""
        text = str(value).strip()
        if not text.removeprefix("-").isascii() or not text.removeprefix("-").isdigit():
            self.fail(f"read {text!r}; allowed is a whole number {self._range()}", param, ctx)
        if len(text) > 20 or not self.low <= int(text) <= self.high:
            self.fail(f"read {text}; allowed is a whole number {self._range()}", param, ctx)
        return int(text)

    def _range(self) -> str:
        return f"from {self.low:,} to {self.high:,}"
