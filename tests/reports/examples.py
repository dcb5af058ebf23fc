"""The examples of the READMEs: found, run, and, by ``python -m tests.reports.examples``, written anew.

An example is a block of Python after the mark, and after it a block with what it prints.
"""

from __future__ import annotations

import contextlib
import io
import pathlib
import re
import tempfile
from typing import NamedTuple

TOP = pathlib.Path(__file__).parents[2]
PAGES = ("README.md", "DEVELOPERS.md", "reports/api/README.md")
MARK = "<!-- example -->"
FORM = re.compile(MARK + r"\n```python\n(?P<code>.*?)```\n\s*```text\n(?P<prints>.*?)```", re.S)


class Example(NamedTuple):
    """One example: its page, its number there (from 1), the code, and what it is said to print."""

    page: str
    number: int
    code: str
    prints: str


def examples() -> list[Example]:
    """All examples, in order."""
    return [
        Example(page, number, found["code"], found["prints"])
        for page in PAGES
        for number, found in enumerate(FORM.finditer(read(page)), start=1)
    ]


def read(page: str) -> str:
    """The text of a page."""
    return (TOP / page).read_text(encoding="utf-8")


def printed(code: str) -> str:
    """What code prints, run by itself in the present folder."""
    with contextlib.redirect_stdout(io.StringIO()) as output:
        exec(compile(code, "example", "exec"), {"__name__": "example"})  # noqa: S102 - our own pages
    return output.getvalue()


def rewritten(page: str) -> str:
    """A page with what its examples print now."""

    def with_output(found: re.Match[str]) -> str:
        start = found.start("prints") - found.start()
        return found[0][:start] + printed(found["code"]) + "```"

    return FORM.sub(with_output, read(page))


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        pages = {page: rewritten(page) for page in PAGES}
    for page, text in pages.items():
        (TOP / page).write_text(text, encoding="utf-8")
