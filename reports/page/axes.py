"""What the charts of a sweep share: places along an axis, wide scales of rates, texts that stay text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from reports.numbers import PER, estimate_text, interval_text
from reports.page.figures import DECADE, axis

Export = dict[str, Any]
MOST_LABELS = 13
"""Values written along an axis; of more, every second, third and so on."""
CROWDED = 24
"""Letters along an axis from which on labels stand aslant, lest they meet on a phone."""


def plain_text(text: str) -> str:
    """A text for the chart library, which would take angle brackets for markup."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def places(values: Sequence[str], title: str, *, aslant: bool = True, **more: Any) -> Export:
    """An axis with one place for each value, evenly spaced, whatever the values are; where many are
    written, they may stand ``aslant``.
    """
    every = math.ceil(len(values) / MOST_LABELS)
    shown = range(0, len(values), every)
    return axis(
        plain_text(title),
        tickmode="array",
        tickvals=list(shown),
        ticktext=[plain_text(values[i]) for i in shown],
        range=[-0.5, len(values) - 0.5],
        fixedrange=True,
        showgrid=False,
        tickangle=-45 if aslant and sum(len(values[i]) for i in shown) > CROWDED else 0,
        **more,
    )


def scale_of(rates: Sequence[Any]) -> tuple[str, float]:
    """Kind of axis for some rates, and the value per thousand at which what reaches to nought is cut."""
    seen = [value * PER for rate in rates for value in (rate["estimate"], rate["high"]) if value]
    if not seen or max(seen) <= DECADE * min(seen):
        return "linear", 0.0
    return "log", 0.5 * min(seen)


def rate_hover(rate: Any) -> str:
    """A rate with its interval, for a label under the pointer."""
    if rate["estimate"] is None:
        return "no data"
    return f"{estimate_text(rate)} per {PER:,} (95 %: {interval_text(rate)})"
