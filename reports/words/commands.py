"""The command that gives a result again."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simcore.statistics.stopping import Stop


@dataclass(frozen=True)
class NamedScenario:
    """A ready scenario or a file as a command names it, and each "PATH=VALUE" that overrides its values."""

    scenario: str
    sets: Sequence[str] = ()


def exact_command(
    named: NamedScenario, runs: int, seed: int, first_run: int, stop: Sequence[str] = ()
) -> str:
    """One line for a POSIX shell.

    All that decides a number is in it: nothing is left to the scenario file's seed and runs.  ``stop`` are
    the options that end it earlier.  The engine decides nothing.
    """
    words = ["steptally", "run", named.scenario, "--runs", str(runs), "--seed", str(seed)]
    if first_run:
        words += ["--first-run", str(first_run)]
    return shlex.join([*words, *stop, *set_words(named)])


def trace_command(named: NamedScenario, seed: int, run: int, step: int) -> str:
    words = [
        "steptally",
        "trace",
        named.scenario,
        "--seed",
        str(seed),
        "--run",
        str(run),
        "--step",
        str(step),
    ]
    return shlex.join(words + set_words(named))


def compare_command(designs: Sequence[str], runs: int, seed: int) -> str:
    """The command that makes a comparison again, from the words that named its designs."""
    return shlex.join(["steptally", "compare", *designs, "--runs", str(runs), "--seed", str(seed)])


def set_words(named: NamedScenario) -> list[str]:
    return [word for each in named.sets for word in ("--set", each)]


def ending_words(stated: Stop, stop: Stop, *, by_runs: bool) -> list[str]:
    """The options that make a simulation of a scenario with the rules ``stated`` end where it did under
    ``stop``; ``by_runs`` says that it is told by its runs alone, for time or a person ended it.
    """
    from scenarios.schema.document import PRECISION

    errors, precision = (None, None) if by_runs else (stop.errors, stop.precision)
    told = (
        ("--errors", stated.errors, None if errors is None else str(errors)),
        ("--precision", stated.precision, None if precision is None else PRECISION.write(precision)),
        ("--time", stated.seconds, None),
    )
    return [
        word
        for option, rule, text in told
        if rule is not None or text is not None
        for word in (option, text or "none")
    ]
