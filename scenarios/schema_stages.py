"""[[stage]]: what lies between the contacts and the counter, all kinds together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scenarios.schema_inputs import INPUTS
from scenarios.schema_networks import NETWORKS
from scenarios.schema_sampled import SAMPLED
from scenarios.schema_stage import Stage
from scenarios.schema_table import one_of

STAGES: tuple[type[Stage], ...] = (*NETWORKS, *INPUTS, *SAMPLED)
"""Every kind of stage, in the order in which messages and lists name them."""

if TYPE_CHECKING:
    AnyStage = Stage
else:
    AnyStage = one_of(STAGES)
