"""Kinds that must be left out."""

from __future__ import annotations

from typing import Any

from simcore.base.description import TIMING, Key, StageDescription


def build(values: Any) -> Any:
    """Never called."""
    raise NotImplementedError


CLASH = StageDescription(name="rc", meaning="A kind whose name is taken.", build=build)
NAMELESS = StageDescription(name="", meaning="A kind without a name.", build=build)
SHADOW = StageDescription(
    name="shadow",
    meaning="A kind with a key that all stages have.",
    keys=(Key("lines", TIMING, "how long"),),
    build=build,
)
unsorted_key: Any = Key("time", float, "how long", 1.0)  # type: ignore[arg-type]
UNSORTED = StageDescription(
    name="unsorted",
    meaning="A kind with a key that says nothing of its unit.",
    keys=(unsorted_key,),
    build=build,
)


def function() -> Any:
    """No description at all."""
