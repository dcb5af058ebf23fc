"""How often `choose` calls a design good that is not: a small part of the campaign, and the recorded one.

Shares are held against the binomial law: a design just at the target may be called good in 5 % of cases;
the limit below is exceeded by chance in one of a thousand if it is just that.  Fixed seeds.
"""

from __future__ import annotations

import math
import pathlib

import pytest

from reports.results.choose import measured
from tests.theory.acceptance import LAWS, RATE, Case, by_chance, campaign, limit, real, real_designs

FEW = 150


@pytest.mark.parametrize("law", LAWS)
def test_designs_just_at_the_target_are_seldom_called_good(law: str) -> None:
    found = by_chance(Case(law, RATE, both=False), FEW, 1)
    assert found["good"] <= limit(FEW)


@pytest.mark.parametrize("law", ["alike", "bad units all wrong"])
def test_designs_far_better_are_called_good(law: str) -> None:
    """At a tenth of the target, with twice the fewest runs, most are found."""
    assert by_chance(Case(law, 0.1 * RATE, both=True), 60, 2)["good"] > 0.5


def test_designs_at_twice_the_target_never_are() -> None:
    found = by_chance(Case("alike", 2.0 * RATE, both=True), 60, 3)
    assert found["good"] == 0.0
    assert found["bad"] > 0.9


def test_a_real_design_just_at_the_target() -> None:
    design = real_designs()["panel-knob, 47 nF"]
    assert real(design, 20, FEW, 4)["good"] <= limit(FEW)


def test_the_recorded_campaign_is_what_people_are_told() -> None:
    found = measured()
    at = found.at_target
    assert at.repetitions >= 2000
    shares = [each.good for each in found.by_chance if math.isclose(each.times, 1.0)]
    shares += [each.good for each in found.real.values()]
    assert at.worst_share == max(shares)
    assert at.cases == len(shares)
    assert at.worst_share <= 0.05
    page = (pathlib.Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    unseen = [each.good for each in found.by_unseen]
    assert found.unseen.export == {"worst_share": max(unseen), "repetitions": at.repetitions}
    for share in (at.worst_share, max(unseen)):
        assert f"{100.0 * share:.1f} %" in page


@pytest.mark.campaign
def test_the_whole_campaign() -> None:
    found = campaign(2000, print)
    assert found["at_target"]["worst_share"] <= limit(2000)
