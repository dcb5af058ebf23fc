"""The command that gives a result again."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Asked:
    """What was named on the command line: a ready scenario or a file, and each "PATH=VALUE" laid over it."""

    scenario: str
    sets: Sequence[str] = ()


def exact_command(asked: Asked, runs: int, seed: int, first_run: int, stop: Sequence[str] = ()) -> str:
    """One line for a POSIX shell.

    All that decides a number is in it: nothing is left to the scenario file's seed and runs.  ``stop`` are
    the options that end it earlier.  The engine decides nothing.
    """
    words = ["steptally", "run", asked.scenario, "--runs", str(runs), "--seed", str(seed)]
    if first_run:
        words += ["--first-run", str(first_run)]
    return shlex.join([*words, *stop, *set_words(asked)])


def trace_command(asked: Asked, seed: int, run: int, step: int) -> str:
    """The command that tells one step of one run in full."""
    words = [
        "steptally",
        "trace",
        asked.scenario,
        "--seed",
        str(seed),
        "--run",
        str(run),
        "--step",
        str(step),
    ]
    return shlex.join(words + set_words(asked))


def compare_command(asked: Sequence[str], runs: int, seed: int) -> str:
    """The command that makes a comparison again, from the words that named its designs."""
    return shlex.join(["steptally", "compare", *asked, "--runs", str(runs), "--seed", str(seed)])


def set_words(asked: Asked) -> list[str]:
    """The options that lay values over the scenario."""
    return [word for each in asked.sets for word in ("--set", each)]
