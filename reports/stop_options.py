"""The options that say when a simulation ends, and back: the options that say the same again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

import rich_click as click
from click import Context, Parameter, ParamType

from reports.whole import Whole

if TYPE_CHECKING:
    from simcore.statistics.stopping import Stop

Command = TypeVar("Command", bound=Callable[..., Any])

NONE = "none"
MOST_ERRORS = 1_000_000_000


@dataclass(frozen=True)
class Rules:
    """What the options say: None where the scenario decides, 0 for "none"."""

    errors: int | None = None
    precision: float | None = None
    seconds: float | None = None

    def over(self, stop: Stop, runs: int) -> Stop:
        """The scenario's rules with these in their place; ``runs`` end it at the latest."""
        said = {key: value or None for key, value in vars(self).items() if value is not None}
        return replace(stop, runs=runs, **said)


class Errors(Whole):
    """A number of wrong steps, or "none" (0)."""

    def __init__(self) -> None:
        super().__init__(1, MOST_ERRORS)

    def convert(self, value: Any, param: Parameter | None, ctx: Context | None) -> int:
        """The number."""
        return 0 if str(value).strip().casefold() == NONE else super().convert(value, param, ctx)

    def _range(self) -> str:
        return f"{super()._range()}, or {NONE}"


class Measured(ParamType):  # type: ignore[type-arg]
    """A quantity as [stop] of a scenario takes it, or "none" (0)."""

    def __init__(self, name: str, marker: str) -> None:
        self.name = name
        self.marker = marker

    def convert(self, value: Any, param: Parameter | None, ctx: Context | None) -> float:
        """The number: a share as a fraction, a time in seconds."""
        if isinstance(value, float):
            return value
        if value.strip().casefold() == NONE:
            return 0.0
        from scenarios import schema_stop
        from scenarios.quantities import QuantityError

        try:
            found: float = getattr(schema_stop, self.marker).read(value)
        except QuantityError as error:
            self.fail(f"{error}, or {NONE}", param, ctx)
        return found


def stop_options(command: Command) -> Command:
    """Give a command the options ``errors``, ``precision`` and ``time``."""
    for option in reversed((
        click.option(
            "--errors", type=Errors(), metavar="N",
            help="Stop once N steps went wrong; none: not even if the scenario says so.",
        ),
        click.option(
            "--precision", type=Measured("share", "PRECISION"), metavar="SHARE",
            help="Stop once the interval is within SHARE, such as '10 %', of the rate of wrong steps.",
        ),
        click.option(
            "--time", type=Measured("duration", "LASTING"), metavar="DURATION",
            help="Stop after DURATION, such as '30 s'.",
        ),
    )):  # fmt: skip
        command = option(command)
    return command


def stop_words(scenario: Stop, stop: Stop, *, by_runs: bool) -> list[str]:
    """The options that make a simulation of the scenario end where it did under ``stop``; ``by_runs`` says
    that it is told by its runs alone, for time or a person ended it.
    """
    from scenarios.schema_stop import PRECISION

    errors, precision = (None, None) if by_runs else (stop.errors, stop.precision)
    told = (
        ("--errors", scenario.errors, None if errors is None else str(errors)),
        ("--precision", scenario.precision, None if precision is None else PRECISION.write(precision)),
        ("--time", scenario.seconds, None),
    )
    return [
        word
        for option, stated, text in told
        if stated is not None or text is not None
        for word in (option, text or NONE)
    ]
