"""The window of a filter's capacitor: a floor only where contacts bounce, a ceiling that falls with speed.

Common practice, no source: too small a capacitor lets chatter pass, too large a one cannot follow a quick
hand.  Held against a target that is far from every rate but near the borders, with fixed seeds; each cell
is called better or worse in error with a chance of at most 5 %, and only cells far away are looked at.
"""

from __future__ import annotations

import json
from typing import Any

import pytest
from click.testing import CliRunner

from reports.cli.group import steptally as group

VALUES = "filter.capacitor=1n..10u:log 9"


def window(*more: str) -> dict[str, Any]:
    arguments = ["sweep", "panel-knob", "--vary", VALUES, "--target", "5 %", "--runs", "150", "--no-ledger"]
    result = CliRunner().invoke(group, [*arguments, *more, "--json", "-"])
    assert result.exit_code == 0, result.stderr
    export = json.loads(result.stdout)
    found: dict[str, Any] = export["window"][0]
    found["numbers"] = dict(zip(export["axes"][0]["values"], export["axes"][0]["numbers"], strict=True))
    return found


def test_bouncing_contacts_need_a_capacitor_and_clean_ones_none() -> None:
    bouncing, clean = window(), window("--set", "contacts.kind=clean")
    assert bouncing["below"]["cause"] == "chatter"
    assert bouncing["above"]["cause"] in ("swallowed", "swapped order")
    assert clean["below"]["outside"] is None
    assert clean["standings"][0] == "within"
    assert clean["above"]["cause"] in ("swallowed", "swapped order")


@pytest.mark.parametrize("slower", [4.0, 16.0])
def test_the_ceiling_rises_with_the_time_that_the_hand_takes(slower: float) -> None:
    """A hand so many times slower lets the capacitor be larger, by about as much: the borders lie within
    one value (a factor of 3.2) of that.
    """
    quick = window()
    times = [
        "--set",
        f"hand.twists.duration={12 * slower} ms",
        "--set",
        f"hand.clicks.duration={28 * slower} ms",
    ]
    slow = window(*times)
    ratio = slow["numbers"][slow["to"]] / quick["numbers"][quick["to"]]
    assert slower / 3.3 < ratio < slower * 3.3
    assert ratio > 1.0
