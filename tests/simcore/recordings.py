"""Recorded lines by hand."""

from __future__ import annotations

from simcore.base.records import Edges, edges_of_runs

US = 1_000_000
MS = 1000 * US
QUARTERS = (10 * MS, 20 * MS, 30 * MS, 40 * MS)
"""When A closes, B closes, A opens and B opens in one clean cycle upward."""
END = 60 * MS


def line(times: list[int], first: int = 0) -> Edges:
    """One run of one contact, open at first."""
    return edges_of_runs([(first, times, [0] * len(times))])


def chattering(crossing: int, pairs: int, pitch: int = 20 * US) -> list[int]:
    """A burst of one change and ``pairs`` more pairs, ``pitch`` apart."""
    return [crossing + k * pitch for k in range(2 * pairs + 1)]


def cycle(
    closing_a: int = 0, closing_b: int = 0, opening_a: int = 0, opening_b: int = 0
) -> tuple[Edges, Edges]:
    """A cycle upward with so many extra pairs of changes at each of its four boundaries."""
    close_a, close_b, open_a, open_b = QUARTERS
    return (
        line(chattering(close_a, closing_a) + chattering(open_a, opening_a)),
        line(chattering(close_b, closing_b) + chattering(open_b, opening_b)),
    )
