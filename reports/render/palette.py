"""The page's own colours, light and dark.

Text keeps a contrast of at least 4.5:1 to what it stands on, lines and marks of 3:1; no meaning hangs
on a colour alone (see the tests).
"""

from __future__ import annotations

LIGHT = {
    "ground": "#faf8f3",
    "sheet": "#fffefb",
    "text": "#20262b",
    "quiet": "#535c63",
    "rule": "#c9c5ba",
    "line-a": "#17558f",
    "line-b": "#96420a",
    "count": "#4a3f78",
    "good": "#1d6339",
    "bad": "#97183a",
    "band": "#b9cfe3",
    "bar": "#5d7f9e",
    "head": "#efece3",
    "heat-0": "#f7eecb",
    "heat-1": "#ebd299",
    "heat-2": "#e2b46f",
    "heat-3": "#dc9351",
    "heat-4": "#d47041",
    "heat-5": "#c25042",
    "heat-6": "#a73646",
    "heat-7": "#832548",
    "heat-8": "#5b1d42",
    "low-ink": "#15191c",
    "high-ink": "#ffffff",
}
DARK = {
    "ground": "#16191b",
    "sheet": "#1e2225",
    "text": "#e9e6df",
    "quiet": "#b1b7bb",
    "rule": "#4a5156",
    "line-a": "#8cc0f2",
    "line-b": "#f0ab72",
    "count": "#c3b6f0",
    "good": "#90d3a8",
    "bad": "#f59cb1",
    "band": "#2f4d69",
    "bar": "#7fa6c9",
    "head": "#282d31",
    "heat-0": "#42213a",
    "heat-1": "#662747",
    "heat-2": "#8a2f49",
    "heat-3": "#a74043",
    "heat-4": "#bd583d",
    "heat-5": "#c9753e",
    "heat-6": "#d2924a",
    "heat-7": "#d9ad60",
    "heat-8": "#e0c87e",
    "low-ink": "#ffffff",
    "high-ink": "#0b0d0e",
}
HEAT = tuple(f"heat-{number}" for number in range(9))
"""Colours of a heat map, from what is nearest to the paper to what is furthest from it, in even steps."""
LOW = 5
"""How many of them bear text in the ink for low ones; the others in that for high ones."""
ON_PAPER = ("ground", "sheet", "head")
"""What text stands on."""
FOR_TEXT = ("text", "quiet", "line-a", "line-b", "count", "good", "bad")


def style(colours: dict[str, str]) -> str:
    return " ".join(f"--{name}: {value};" for name, value in colours.items())


def swaps() -> dict[str, str]:
    """Each light colour with its dark one; charts are drawn in light colours and swapped in the page."""
    return {LIGHT[name]: DARK[name] for name in LIGHT}
