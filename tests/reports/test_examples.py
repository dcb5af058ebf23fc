"""The examples of the READMEs run, and print what they are said to print."""

from __future__ import annotations

import pathlib

import pytest

from tests.reports.examples import MARK, PAGES, Example, examples, printed, read


@pytest.mark.parametrize("example", examples(), ids=lambda each: f"{each.page}-{each.number}")
def test_an_example_prints_what_the_page_says(
    example: Example, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert printed(example.code) == example.prints, "run python -m tests.reports.examples"


def test_every_mark_is_that_of_an_example() -> None:
    marks = {page: read(page).count(MARK) for page in PAGES}
    assert min(marks.values()) > 0
    assert sum(marks.values()) == len(examples())
