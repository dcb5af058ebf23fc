"""The sorts of fields that the tables of a scenario are made of, with their limits."""

from __future__ import annotations

from typing import Annotated

from scenarios.markers import Chance, Quantity
from scenarios.more_markers import LevelValue, SupplyLevel
from scenarios.quantities import (
    ANGLE,
    CAPACITANCE,
    CURRENT,
    ENERGY,
    FREQUENCY,
    RESISTANCE,
    SHARE,
    SPEED,
    TIME,
    VOLTAGE,
)

HOUR = 3600.0

Duration = Annotated[float, Quantity(TIME, 0.0, HOUR, above=True)]
Pause = Annotated[float, Quantity(TIME, 0.0, HOUR)]
Burst = Annotated[float, Quantity(TIME, 0.0, 1.0)]
Timing = Annotated[float, Quantity(TIME, 0.0, 1.0)]
ClockPeriod = Annotated[float, Quantity(TIME, 1.0e-9, 1.0)]
Spread = Annotated[float, Chance()]
Share = Annotated[float, Chance()]
Tolerance = Annotated[float, Quantity(SHARE, 0.0, 0.9)]
Resistor = Annotated[float, Quantity(RESISTANCE, 0.0, 1.0e9, above=True)]
SeriesResistor = Annotated[float, Quantity(RESISTANCE, 0.0, 1.0e9)]
Capacitor = Annotated[float, Quantity(CAPACITANCE, 0.0, 1.0)]
Volts = Annotated[float, Quantity(VOLTAGE, 0.0, 1000.0, above=True)]
NoiseVolts = Annotated[float, Quantity(VOLTAGE, 0.0, 1000.0)]
Amperes = Annotated[float, Quantity(CURRENT, 0.0, 1.0)]
Rating = Annotated[float | None, Quantity(CURRENT, 0.0, 1000.0, above=True)]
EnergyRating = Annotated[float | None, Quantity(ENERGY, 0.0, 1000.0, above=True)]
SlowestEdge = Annotated[float | None, Quantity(TIME, 0.0, 1.0, above=True)]
Frequency = Annotated[float, Quantity(FREQUENCY, 0.0, 1.0e8)]
Turning = Annotated[float, Quantity(SPEED, 0.0, 1000.0, above=True)]
Span = Annotated[float, Quantity(ANGLE, 0.0, 360.0)]
Offset = Annotated[float, Quantity(ANGLE, -180.0, 180.0)]
Zone = Annotated[float, Quantity(ANGLE, 0.0, 45.0)]
Level = Annotated[LevelValue, SupplyLevel()]
