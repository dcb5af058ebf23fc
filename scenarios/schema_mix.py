"""[[hand]] of the kind "mix": at each turn one of several gestures, drawn by weight.

The gestures are tables of their own, ``[hand.of.NAME]``.  Each is like a gesture of the hand, has a
weight, and makes one movement at its turn unless it says otherwise.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field, model_validator

from scenarios.markers import Count, Number
from scenarios.quantities import QuantityError
from scenarios.schema_hand import MOST_MOVES, Click, Creep, Gesture, Moves, Rest, Rock, Spin, Twist
from scenarios.schema_path import Path
from scenarios.schema_table import Table, one_of
from simcore.design import HandEntry
from simcore.hand.kinds import Member

Weight = Annotated[float, Number(0.0, 1.0e6)]

MOST_MEMBERS = 20
"""Gestures of one mix."""


class Weighted(Table):
    """What every gesture of a mix has."""

    weight: Weight = Field(default=1.0, description="how often its turn comes, against the others' weights")


class MixedClick(Weighted, Click):
    """One detent, with a pause after it."""

    clicks: Moves = Field(default=1, description="at each turn")


class MixedTwist(Weighted, Twist):
    """Several detents in one movement."""

    twists: Moves = Field(default=1, description="at each turn")


class MixedSpin(Weighted, Spin):
    """Turning at constant speed, as a machine does."""


class MixedCreep(Weighted, Creep):
    """One detent, slowly, held by the fingers."""

    crossings: Moves = Field(default=1, description="at each turn")


class MixedRock(Weighted, Rock):
    """Turned part of the way to the next detent and let back."""

    rocks: Annotated[int, Count(1, MOST_MOVES // 2)] = Field(default=1, description="at each turn")


class MixedRest(Weighted, Rest):
    """No movement for a time, or a shaft that shakes about its rest position."""


class MixedPath(Weighted, Path):
    """The angle of the shaft as a table over time."""


MEMBERS: tuple[type[Gesture], ...] = (
    MixedClick, MixedTwist, MixedSpin, MixedCreep, MixedRock, MixedRest, MixedPath,
)  # fmt: skip
"""Every kind that a mix takes."""

if TYPE_CHECKING:
    AnyMember = MixedClick
else:
    AnyMember = one_of(MEMBERS, "gesture")


class Mix(Gesture):
    """Turn after turn one of several gestures, drawn by their weights."""

    gesture: Literal["mix"]
    turns: Moves = Field(default=12, description="how many movements are drawn in a run")
    of: dict[str, AnyMember] = Field(description="the gestures, each in a table [hand.of.NAME]")

    @model_validator(mode="after")
    def _has_weight(self) -> Mix:
        if not 1 <= len(self.of) <= MOST_MEMBERS:
            raise QuantityError(
                f"{len(self.of)} gestures",
                f"allowed is a mix of 1 to {MOST_MEMBERS}, each in [hand.of.NAME]",
                "of",
            )
        if self._total == 0.0:
            raise QuantityError(
                "weights that are all 0", "allowed is a mix in which one weight at least is above 0", "of"
            )
        return self

    @property
    def _total(self) -> float:
        return sum(member.weight for member in self.of.values())

    @property
    def moves(self) -> int:
        """Rows of all gestures, whosever turn it is."""
        return self.turns * sum(member.moves for member in self.of.values())

    def entries(self, place: int, steps_per_turn: int) -> tuple[HandEntry, ...]:
        """One entry for each gesture, under the mix's name and its own."""
        shares = [member.weight / self._total for member in self.of.values()]
        ends = [*itertools.accumulate(shares)][:-1]
        entries = []
        # The last bound lies beyond all draws, whatever the rounding of the sum.
        for (name, member), low, high in zip(self.of.items(), [0.0, *ends], [*ends, 2.0], strict=True):
            gesture = Member(member.build(steps_per_turn), member.moves, place, low, high)
            moves = self.turns * member.moves
            entries.append(HandEntry(f"{self.name}: {name}", gesture, moves, member.gesture, self.name))
        return tuple(entries)
