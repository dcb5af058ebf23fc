"""The text under which ledgers keep runs stays the same, wherever classes live and whatever moves."""

from __future__ import annotations

import dataclasses
import hashlib
import re
from collections.abc import Iterator
from typing import Any

import pytest

from scenarios.loading.catalogue import ready_names
from scenarios.loading.load import load_scenario
from simcore.base.ledger_text import KEPT_AS, described

DIGESTS = {
    "capacitor-across-contact": "d992724e721b0871",
    "contact-to-supply": "713e5aa987b5d421",
    "data-sheet-limits": "08c072934a84f650",
    "fast-twist": "39f294516bc57735",
    "half-cycle-misfit": "9c1cdefc61499bba",
    "half-cycle-x2": "5322704377a656d5",
    "hesitant-turn": "16faa2b9262e375b",
    "interlock": "f3fdfc626c23d528",
    "large-capacitor": "799ca5b61127c1f6",
    "lockout": "0c0d209b9436576c",
    "long-leads": "bb0c486b9f83355f",
    "long-leads-quiet": "221a9269a4be54b0",
    "mixed-hand": "7913560ab31f316d",
    "no-filter": "7e31bca35a79c0df",
    "one-shot": "abf17bb3c161d2c8",
    "panel-knob": "a2cbc717cc1ed4d6",
    "plain-input": "1ace791ba8220559",
    "power-up": "fb39097f723a98a4",
    "quiet-time": "925e91508fd7faed",
    "recorded-bursts": "ea219ffcdd83ff01",
    "sampled-agree": "d39751f0b9d2cf39",
    "sampled-majority": "36ee5e92d8b0f0d4",
    "shaking-at-rest": "1927111c70a63e77",
    "slow-clock": "563aeca1234b511e",
    "slow-edge": "fec2868cfd138f87",
    "small-capacitor": "ad7e9c42854e6f15",
    "steering-diode": "575a78920bf10986",
    "supply-dips": "51052407980add5c",
    "synchroniser-alone": "49c69a354602dfb9",
    "tired-and-slow": "82ff8015aba2368c",
    "two-clock-gates": "0ad93103d8873e85",
    "two-section-filter": "0f97ade3955443f3",
    "well-filtered": "55c3eda37d7dcf43",
    "which-filter": "f41d36432e12d114",
    "whole-cycle-no-filter": "ce82d1986460ba3e",
    "x4-divided-by-four": "cb2d324f67c4d4b8",
    "x4-no-filter": "55e1aa05ce48de51",
}
"""Of the identity of each ready scenario's design, as ledgers were written with it from the start."""


def _digest(name: str) -> str:
    return hashlib.sha256(described(load_scenario(name).design).encode()).hexdigest()[:16]


def test_every_ready_scenario_is_held() -> None:
    """A failure shows the digests that are missing."""
    assert {name: _digest(name) for name in ready_names() if name not in DIGESTS} == {}
    assert sorted(DIGESTS) == sorted(ready_names())


@pytest.mark.parametrize("name", DIGESTS)
def test_the_identity_of_a_design_is_what_ledgers_know(name: str) -> None:
    assert _digest(name) == DIGESTS[name], described(load_scenario(name).design)


def test_every_record_of_a_ready_design_has_a_name_in_ledgers() -> None:
    named = {f"{module}.{name}" for module, names in KEPT_AS.items() for name in names}
    for scenario in ready_names():
        design = load_scenario(scenario).design
        held = {kind.__qualname__ for kind in _records(design)}
        written = set(re.findall(r"[a-z_.]+\.[A-Z]\w*(?=\()", described(design)))
        assert {name.rpartition(".")[2] for name in written} == held
        assert written <= named


def _records(value: Any) -> Iterator[type]:
    """The types of all records in a value of a design."""
    if dataclasses.is_dataclass(value):
        parts: list[Any] = [getattr(value, field.name) for field in dataclasses.fields(value)]
    elif isinstance(value, (tuple, list)):
        parts = list(value)
    else:
        return
    if not isinstance(value, list) and type(value) is not tuple:
        yield type(value)
    for part in parts:
        yield from _records(part)
