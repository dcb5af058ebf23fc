"""What can be said of a stage by a formula, without simulating."""

from __future__ import annotations

from typing import NamedTuple


class Figure(NamedTuple):
    """What it is, its ``value`` in ``unit`` (never infinite), and the ``source`` of the formula."""

    label: str
    value: float
    unit: str
    source: str
