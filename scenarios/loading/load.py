"""File or ready scenario to a checked Scenario.

Importing this module is cheap; the schema is imported with the first scenario.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scenarios.loading.overrides import Variant
    from scenarios.loading.sources import Source
    from simcore.base.description import FormulaValue
    from simcore.design import Design
    from simcore.statistics.stopping import Stop


@dataclass(frozen=True)
class StatedTarget:
    """What the user wants to reach: a rate of wrong steps (a fraction), and as it was written."""

    rate: float
    text: str


@dataclass(frozen=True)
class Scenario:
    """A checked scenario.

    ``stop`` says what ends a simulation, ``runs`` runs at the latest;
    ``source`` is the file or ready name, ``text`` its TOML as read (before options);
    ``resolved`` the whole of it as plain tables, every quantity as text with its unit and parts
    written out, which as TOML loads again to an equal design; ``paths`` what ``--set`` takes;
    ``cautions`` sentences that the user should read beside any result; ``figures`` what can be
    computed without simulating, each with the name of its stage; ``variants`` are designs that the file
    makes of itself.
    """

    name: str
    title: str
    source: str
    text: str
    seed: int
    runs: int
    stop: Stop
    target: StatedTarget | None
    design: Design
    resolved: dict[str, Any]
    paths: tuple[str, ...]
    cautions: tuple[str, ...]
    figures: tuple[tuple[str, FormulaValue], ...] = ()
    variants: tuple[Variant, ...] = ()


def load_scenario(name_or_file: str, sets: Sequence[str] = ()) -> Scenario:
    """Load a ready scenario by name, or a file, with ``sets`` ("PATH=VALUE") overriding values.

    ScenarioError with all mistakes at once.
    """
    from scenarios.loading.sources import find_source

    return load_source(find_source(name_or_file), sets)


def load_source(source: Source, sets: Sequence[str] = ()) -> Scenario:
    """Load a source, from a file or from a program, with ``sets`` overriding values.

    ScenarioError with all mistakes at once.
    """
    from scenarios.loading.pipeline import read_scenario

    return read_scenario(source, sets)
