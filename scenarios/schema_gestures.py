"""[[hand]]: what the hand can do, all kinds together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scenarios.plugins import added
from scenarios.schema_hand import Click, Creep, Gesture, Rest, Rock, Spin, Twist
from scenarios.schema_mix import Mix
from scenarios.schema_path import Path
from scenarios.schema_table import one_of

OWN_GESTURES: tuple[type[Gesture], ...] = (Click, Twist, Spin, Creep, Rock, Rest, Path, Mix)
GESTURES = (*OWN_GESTURES, *added("hand", Gesture, OWN_GESTURES))
"""Every kind, in the order in which messages and lists name them."""

if TYPE_CHECKING:
    AnyGesture = Gesture
else:
    AnyGesture = one_of(GESTURES, "gesture")
