"""Contacts that lift while they slide, and one bad pad.  All of this file: common practice, no source."""

from __future__ import annotations

import functools

import numpy as np
import pytest

from simcore.campaigns.campaign import run_campaign
from simcore.engines.batch import BatchEngine
from simcore.judging.sums import MISSED
from simcore.judging.tally import Tally
from tests.scenarios.samples import load_text

SLOW_NOISE = """\
[supply]
voltage = "5 V"
[encoder]
detents = 20
cycles = 20
[contacts]
kind = "clean"
sliding = { rate = 40, length = "1 us", spread = 0.5, most = "150 us", angle = "0.009 deg" }
[[hand]]
gesture = "click"
clicks = 20
[[hand]]
gesture = "creep"
crossings = 20
duration = "150 ms"
duration_spread = 0.1
[[stage]]
name = "filter"
kind = "capacitor across contact"
pull_up = "10k"
capacitor = "CAPACITOR"
[[stage]]
kind = "schmitt input"
rising = "2.6 V"
falling = "1.6 V"
[counter]
kind = "step-direction"
"""


@functools.cache
def slow_noise(capacitor: str) -> Tally:
    """Clicks and creeps over a contact that is lifted for a small angle now and then."""
    design = load_text(SLOW_NOISE.replace("CAPACITOR", capacitor)).design
    return run_campaign(design, seed=1, runs=200).tally


def wrong_of(found: Tally, gesture: int) -> int:
    """Wrong steps of a gesture."""
    return int(found.sums.steps[gesture][:, :, MISSED:].sum())


def test_only_slow_turning_goes_wrong() -> None:
    """A small capacitor bridges the opens of a click, which are short, but not those of a creep."""
    found = slow_noise("4.7 nF")
    assert wrong_of(found, 0) == 0
    assert wrong_of(found, 1) > 200
    assert next(iter(found.causes)) == "sliding"


def test_22_nanofarads_bridge_them() -> None:
    """10 kohm and 22 nF: an open must last 22e-9 x 1e4 x ln(5 / 2.4) = 0.16 ms to be seen."""
    assert 22e-9 * 1e4 * np.log(5.0 / 2.4) == pytest.approx(0.16e-3, rel=0.02)
    assert slow_noise("22 nF").wrong == 0


def test_without_the_angle_speed_makes_no_difference() -> None:
    text = SLOW_NOISE.replace('angle = "0.009 deg"', 'angle = "0 deg"').replace("CAPACITOR", "4.7 nF")
    assert run_campaign(load_text(text).design, seed=1, runs=50).tally.wrong == 0


WORN = """\
[encoder]
detents = 20
cycles = 20
[contacts]
kind = "telegraph"
make = { pairs = 0.02, length = "30 us", length_spread = 0.3, most = "60 us" }
break = { pairs = 0.02, length = "30 us", length_spread = 0.3, most = "60 us" }
bad_pad = { pad = 7, factor = 300 }
[[hand]]
name = "up"
gesture = "click"
clicks = 50
dwell = "60 ms"
[[hand]]
name = "down"
gesture = "click"
clicks = 50
direction = "down"
dwell = "60 ms"
[[stage]]
name = "filter"
kind = "rc"
pull_up = "4k7"
series = "1k"
capacitor = "100 nF"
[[stage]]
kind = "schmitt input"
rising = "1.9 V"
falling = "1.2 V"
[counter]
kind = "step-direction"
"""


def test_errors_of_a_bad_pad_are_locked_to_the_angle_in_both_directions() -> None:
    """Bursts of 5 to 18 ms on one pad in twenty: the same detent goes wrong at each revolution."""
    runs = 40
    design = load_text(WORN).design
    detail = BatchEngine(design, runs).detail(1, 0, runs)
    wrong = (detail.verdicts >= MISSED).reshape(runs, 100)
    up, down = wrong[:, :50], wrong[:, 50:]
    # Click number s upward goes from detent s to s + 1 over pad s + 1; downward from 50 - s to 49 - s.
    assert set(np.nonzero(up.any(axis=0))[0] % 20) == {6}
    assert set((49 - np.nonzero(down.any(axis=0))[0]) % 20) == {6}
    assert up[:, [6, 26, 46]].mean() > 0.5
    assert down[:, [3, 23, 43]].mean() > 0.5
