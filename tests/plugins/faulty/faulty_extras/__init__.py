"""Kinds that must be left out."""

from __future__ import annotations

from typing import Any, Literal

from scenarios.schema_stage import Stage


class Clash(Stage):
    """A kind whose name is taken."""

    kind: Literal["rc"]


class Nameless(Stage):
    """A kind without a name."""


class Unsorted(Stage):
    """A kind with a key that says nothing of its unit."""

    kind: Literal["unsorted"]
    time: float = 1.0


def function() -> Any:
    """No class at all."""
