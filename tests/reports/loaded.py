"""Imported by the server of `tests.reports.forked`: the program, with what one run of the main job loads."""

import reports.group
import reports.verbs.run
from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import run_campaign

run_campaign(load_scenario("panel-knob").design, seed=1, runs=1)
__all__ = ["reports"]
