"""Small scenarios for the tests, and how to load them."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Sequence
from pathlib import Path

from scenarios.loading.load import Scenario, load_scenario
from scenarios.loading.messages import Problem, ScenarioError

SMALL = """\
title = "small"

[encoder]
detents = 20
cycles = 20

[contacts]
kind = "clean"

[[hand]]
gesture = "click"

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


def load_text(text: str | bytes, sets: Sequence[str] = ()) -> Scenario:
    """Load a scenario from its text, through a file named sample.toml."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "sample.toml"
        file.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        return load_scenario(str(file), sets)


def problems_of(text: str | bytes, sets: Sequence[str] = ()) -> tuple[Problem, ...]:
    """All mistakes of a text; none when it loads."""
    try:
        load_text(text, sets)
    except ScenarioError as error:
        return error.problems
    return ()


def only_problem(text: str | bytes, sets: Sequence[str] = ()) -> Problem:
    """The one mistake of a text."""
    found = problems_of(text, sets)
    assert len(found) == 1, found
    return found[0]


def changed(old: str, new: str, text: str = SMALL) -> str:
    """The text with one piece, which must be there, replaced."""
    assert old in text
    return text.replace(old, new, 1)


def says(message: object, words: str) -> bool:
    """Whether a message has these words, " ... " between them standing for any others."""
    return re.search(".*".join(map(re.escape, words.split(" ... "))), str(message)) is not None
