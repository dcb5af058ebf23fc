"""[[stage]]: what lies between the contacts and the counter, all kinds together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scenarios.plugins import added
from scenarios.schema_filters import FILTERS
from scenarios.schema_gates import GATES
from scenarios.schema_inputs import INPUTS
from scenarios.schema_networks import NETWORKS
from scenarios.schema_sampled import SAMPLED
from scenarios.schema_stage import Stage
from scenarios.schema_table import one_of

OWN_STAGES: tuple[type[Stage], ...] = (*NETWORKS, *INPUTS, *GATES, *FILTERS, *SAMPLED)
STAGES = (*OWN_STAGES, *added("stage", Stage, OWN_STAGES))
"""Every kind of stage, in the order in which messages and lists name them."""

if TYPE_CHECKING:
    AnyStage = Stage
else:
    AnyStage = one_of(STAGES)
