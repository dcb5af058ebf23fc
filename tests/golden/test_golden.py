"""Every verb gives what it gave when the record was made: exit codes, numbers, words, and every key."""

from __future__ import annotations

import pathlib
import re

import pytest

from tests.golden.commands import commands
from tests.golden.recording import Found, leaves, measured, pattern, read, verb

RECORD = read()
KEPT: list[Found] = RECORD["commands"]
QUICK = re.compile(r"panel-knob|which-filter|x4-no-filter\.|kept\.ledger|^list|^completion|nothing|nowhere")
"""What is held in every run of the tests; the rest is a campaign."""


def _keys(name: str) -> frozenset[str]:
    return frozenset(RECORD["keys"].get(name, ()))


def _differing(kept: list[Found], folder: pathlib.Path) -> list[str]:
    found = []
    for each in kept:
        command = tuple(each["command"])
        now = measured(command, folder, _keys(verb(command)))
        if now["exit"] != each["exit"]:
            found.append(f"{' '.join(command)}: exit {now['exit']}, was {each['exit']}")
        before, after = each["digests"] or {}, now.get("digests", {})
        parts = [key for key in before if before[key] != after.get(key)]
        if parts:
            found.append(f"{' '.join(command)}: differs in {', '.join(parts)}")
    return found


def test_commands_are_those_of_the_record() -> None:
    """Of the scenarios that there were; later ones need no record."""
    scenarios = [
        each["command"][1] for each in KEPT if each["command"][0] == "show" and "--json" in each["command"]
    ]
    assert [tuple(each["command"]) for each in KEPT] == commands(scenarios)


def test_main_commands(tmp_path: pathlib.Path) -> None:
    """Those of the main scenario, and one of every verb."""
    quick = [each for each in KEPT if QUICK.search(" ".join(each["command"]))]
    quick += [
        each
        for each in KEPT
        if each["command"][:2] == ["trace", "x4-no-filter"] and "--csv" in each["command"]
    ]
    order = [tuple(each["command"]) for each in KEPT]
    quick.sort(key=lambda each: order.index(tuple(each["command"])))
    assert not _differing(quick, tmp_path)


@pytest.mark.campaign
def test_all_commands(tmp_path: pathlib.Path) -> None:
    """All of them; some five minutes."""
    assert not _differing(KEPT, tmp_path)


def test_no_key_is_lost(tmp_path: pathlib.Path) -> None:
    """A run of the main job has every key that it had, whatever was added."""
    command = ("run", "panel-knob", "--runs", "40", "-q", "--json", "-")
    recorded = next(each for each in KEPT if tuple(each["command"]) == command)
    now = measured(command, tmp_path, None)
    keys = {pattern(path) for path, _ in leaves(now["value"])}
    mine = {key for key in _keys("run") if key.split("/")[1:2] and key.split("/")[1] in recorded["digests"]}
    assert len(mine) > 100
    missing = {
        key
        for key in mine
        if key not in keys and not any(part in key for part in ("/causes/", "/final_errors/"))
    }
    optional = {key.split("/")[1] for key in missing}
    assert all(name in now["value"] for name in optional)
