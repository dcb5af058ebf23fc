"""Small designs by hand, for tests of single rooms."""

from __future__ import annotations

from simcore.base.draws import Part
from simcore.contacts.bursts import Clean, Telegraph, TelegraphSide
from simcore.contacts.crossing import Sliding
from simcore.counters.base import Range
from simcore.counters.step_direction import StepDirection
from simcore.design import Design, HandEntry, StageEntry
from simcore.hand.base import CLICK, UP, Gesture
from simcore.hand.geometry import Geometry
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import Level, SchmittInput
from simcore.networks.single_pole import SeriesCapacitor

WHOLE_CYCLE = Geometry(20, 1.0, 0.5, 0.0, 0.25, 0.0, 0.0, 0.0)
CLICKS = Gesture(CLICK, 4, 1.0, 1.0, UP, 0.028, 0.2, 0.1, 0.2, 0, 0.0)
NO_SLIDES = Sliding(0.0, 1e-4, 0.5, 2e-3)
BOUNCY = Telegraph(TelegraphSide(3.0, 2e-4, 0.5, 1e-3), TelegraphSide(2.0, 1e-4, 0.5, 1e-3))
PLAIN_COUNTER = StepDirection(0, 0, 1, 0, 0, 0, 0, 0, 0)


def filtered(nanofarads: float) -> tuple[StageEntry, ...]:
    """Pull-up, series resistor and capacitor into a Schmitt input."""
    network = SeriesCapacitor(Part(4700.0, 0.05), Part(1000.0, 0.05), Part(nanofarads * 1e-9, 0.2))
    logic = SchmittInput(Level(Part(1.9, 0.05), 0), Level(Part(1.2, 0.05), 0), 0)
    return (StageEntry("filter", network), StageEntry("input", logic))


def design(
    stages: tuple[StageEntry, ...] = (),
    contact: object = BOUNCY,
    counter: object = PLAIN_COUNTER,
    hand: tuple[HandEntry, ...] = (HandEntry("clicks", CLICKS, 4),),
    place: Range = Range(0, 0, 0),  # noqa: B008
) -> Design:
    """A design with sensible rest."""
    return Design(
        WHOLE_CYCLE, hand, contact, NO_SLIDES, Resistance(0.5, 0.0), Part(3.3, 0.0), stages, counter, place
    )


CLEAN = Clean(1)
