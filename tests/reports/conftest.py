"""A folder with the tests' scenario in it."""

from __future__ import annotations

import pathlib

import pytest

from tests.reports.running import KNOB


@pytest.fixture
def folder(tmp_path: pathlib.Path) -> pathlib.Path:
    """An empty folder but for ``knob.toml``."""
    (tmp_path / "knob.toml").write_text(KNOB, encoding="utf-8")
    return tmp_path
