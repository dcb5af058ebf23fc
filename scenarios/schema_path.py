"""[[hand]] of the kind "path": a table of angles over time."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from scenarios.fields import HOUR, Pause, Spread
from scenarios.list_markers import Quantities
from scenarios.markers import Quantity, Word
from scenarios.quantities import ANGLE, TIME, QuantityError
from scenarios.schema_hand import HEADINGS, Direction, Gesture, Moves
from simcore.hand.paths import path_of

MOST_POINTS = 1000
"""Points of one path."""

Times = Annotated[tuple[float, ...], Quantities(Quantity(TIME, 0.0, HOUR), 2, MOST_POINTS, rising=True)]
Angles = Annotated[tuple[float, ...], Quantities(Quantity(ANGLE, -36_000.0, 36_000.0), 2, MOST_POINTS)]


class Path(Gesture):
    """The angle of the shaft as a table over time, with as many turns back as it has."""

    gesture: Literal["path"]
    times: Times = Field(description="of the points, from 0 s on")
    angles: Angles = Field(description="of the shaft at these times; only their differences count")
    interpolation: Annotated[str, Word(("smooth", "linear"))] = Field(
        "smooth", description="between points; smooth is at rest at both ends and at turning points"
    )
    repeats: Moves = Field(default=1, description="how often the hand does it")
    direction: Direction = Field(default="up", description="up as the table has it, down the other way round")
    pace_spread: Spread = Field(
        0.0, description="standard deviation of the logarithm of a factor on all times"
    )
    dwell: Pause = Field(default=0.3, description="rest after it")
    dwell_spread: Spread = Field(default=0.0, description="standard deviation of its logarithm")

    @model_validator(mode="after")
    def _fits_together(self) -> Path:
        if len(self.times) != len(self.angles):
            raise QuantityError(
                f"{len(self.angles)} angles",
                f"allowed is one angle for each of the {len(self.times)} times",
                "angles",
            )
        if len(set(self.angles)) == 1:
            raise QuantityError(
                "the same angle throughout",
                "a path must turn the shaft; the gesture for that is rest",
                "angles",
            )
        return self

    @property
    def moves(self) -> int:
        """One for each piece between two points."""
        return self.repeats * (len(self.times) - 1)

    def build(self, steps_per_turn: int) -> Any:
        """The same in steps from where the shaft is."""
        places = [(angle - self.angles[0]) * steps_per_turn / 360.0 for angle in self.angles]
        return path_of(
            self.times, places, self.interpolation == "smooth", HEADINGS[self.direction],
            self.pace_spread, self.dwell, self.dwell_spread,
        )  # fmt: skip
