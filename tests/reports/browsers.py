"""A real browser for the tests of the page; skipped where there is none."""

from __future__ import annotations

import contextlib
import os
import pathlib
import shutil
from collections.abc import Iterator
from typing import Any

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome")
PATIENCE = 120_000
"""Milliseconds that a busy machine may take."""
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]


def browser_path() -> str:
    """The program: what STEPTALLY_BROWSER names, else the first that is found; skips without one."""
    found = os.environ.get("STEPTALLY_BROWSER") or next(filter(None, map(shutil.which, NAMES)), None)
    if not found:
        pytest.skip("no Chromium is installed")
    return found


@contextlib.contextmanager
def browser() -> Iterator[Any]:
    """A headless browser."""
    driver = pytest.importorskip("playwright.sync_api")
    with driver.sync_playwright() as started:
        launched = started.chromium.launch(executable_path=browser_path(), args=ARGUMENTS)
        yield launched
        launched.close()


class Visit:
    """One page opened from disk with the network refused; notes what it asks for and complains of."""

    def __init__(self, launched: Any, file: pathlib.Path, width: int, scheme: str, **more: Any) -> None:
        self.context = launched.new_context(
            viewport={"width": width, "height": 800}, color_scheme=scheme, offline=True, **more
        )
        self.page = self.context.new_page()
        self.page.set_default_timeout(PATIENCE)
        self.complaints: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(file.as_uri())

    def range(self, place: str) -> tuple[float, float]:
        """What a diagram's time axis shows (us)."""
        low, high = self.page.evaluate(f"document.getElementById('{place}').layout.xaxis.range.map(Number)")
        return float(low), float(high)

    def colour(self, selector: str, name: str) -> str:
        """A computed colour."""
        return str(self.page.evaluate(f"getComputedStyle(document.querySelector('{selector}')).{name}"))

    def cut_tables(self) -> list[str]:
        """The labels of tables that are wider than their place."""
        found: list[str] = self.page.evaluate(
            "[...document.querySelectorAll('.sheet')].filter(each => each.scrollWidth > each.clientWidth)"
            ".map(each => each.getAttribute('aria-labelledby'))"
        )
        return found
