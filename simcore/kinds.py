"""Every kind of this package, by section, in the order in which messages and lists name them.

Importing this imports the kinds.  Those of other packages are found by scenarios.plugins.
"""

from __future__ import annotations

from simcore.base.description import (
    ContactsDescription,
    CounterDescription,
    GestureDescription,
    StageDescription,
)
from simcore.contacts.bursts import CLEAN, TELEGRAPH_CONTACTS, WIPING
from simcore.contacts.recorded import RECORDED_CONTACTS
from simcore.counters.clocked import CLOCKED_QUADRATURE
from simcore.counters.quadrature import QUADRATURE
from simcore.counters.step_direction import STEP_DIRECTION
from simcore.counters.two_clock import TWO_CLOCK
from simcore.counters.whole_cycle import WHOLE_CYCLE
from simcore.hand.gestures import (
    CLICK_GESTURE,
    CREEP_GESTURE,
    MIX_OF_GESTURES,
    REST_GESTURE,
    ROCK_GESTURE,
    SPIN_GESTURE,
    TWIST_GESTURE,
)
from simcore.hand.paths import PATH
from simcore.networks.diode import RC_WITH_DIODE
from simcore.networks.inputs import COMPARATOR, PLAIN_INPUT, SCHMITT_INPUT
from simcore.networks.ladder import TWO_SECTION_RC
from simcore.networks.single_pole import (
    ACROSS_CONTACT,
    BESIDE_PULL_DOWN,
    PULL_DOWN_ONLY,
    PULL_UP_ONLY,
    RC,
    RC_AT_CAPACITOR,
    RC_TO_SUPPLY,
)
from simcore.stages.delay import GATE_DELAY
from simcore.stages.interlock import INTERLOCK
from simcore.stages.lockout import LOCKOUT
from simcore.stages.one_shot import ONE_SHOT
from simcore.stages.pickup import PICK_UP_STAGE
from simcore.stages.quiet_time import QUIET_TIME
from simcore.stages.sampled import AGREE, INTEGRATE, MAJORITY
from simcore.stages.synchroniser import SYNCHRONISER

STAGES: tuple[StageDescription, ...] = (
    RC, ACROSS_CONTACT, PULL_UP_ONLY, RC_AT_CAPACITOR, RC_TO_SUPPLY, BESIDE_PULL_DOWN, PULL_DOWN_ONLY,
    RC_WITH_DIODE, TWO_SECTION_RC,
    SCHMITT_INPUT, PLAIN_INPUT, COMPARATOR,
    GATE_DELAY,
    QUIET_TIME, LOCKOUT, ONE_SHOT, INTERLOCK, PICK_UP_STAGE,
    AGREE, INTEGRATE, MAJORITY, SYNCHRONISER,
)  # fmt: skip

COUNTERS: tuple[CounterDescription, ...] = (
    STEP_DIRECTION, TWO_CLOCK, QUADRATURE, CLOCKED_QUADRATURE, WHOLE_CYCLE,
)  # fmt: skip

CONTACTS: tuple[ContactsDescription, ...] = (CLEAN, WIPING, TELEGRAPH_CONTACTS, RECORDED_CONTACTS)

GESTURES: tuple[GestureDescription, ...] = (
    CLICK_GESTURE, TWIST_GESTURE, SPIN_GESTURE, CREEP_GESTURE, ROCK_GESTURE, REST_GESTURE, PATH,
    MIX_OF_GESTURES,
)  # fmt: skip
