"""Writes the tables of all kinds into the README of scenarios: ``python -m tests.scenarios.kinds_page``."""

from __future__ import annotations

import pathlib

from scenarios.schema.reference import kinds_page

README = pathlib.Path(__file__).parents[2] / "scenarios" / "README.md"
MARK = "<!-- kinds -->\n"


def expected_page() -> str:
    """The README as it ought to be."""
    head, _, _ = README.read_text(encoding="utf-8").partition(MARK)
    return head + MARK + "\n" + kinds_page().rstrip() + "\n"


if __name__ == "__main__":
    README.write_text(expected_page(), encoding="utf-8")
