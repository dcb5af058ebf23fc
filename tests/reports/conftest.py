"""A folder with the tests' scenario in it, and a ledger that is nobody's own."""

from __future__ import annotations

import pathlib

import pytest

from tests.reports.running import KNOB


@pytest.fixture
def folder(tmp_path: pathlib.Path) -> pathlib.Path:
    """An empty folder but for ``knob.toml``."""
    (tmp_path / "knob.toml").write_text(KNOB, encoding="utf-8")
    return tmp_path


@pytest.fixture(autouse=True)
def usual_ledger(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is kept where nobody says otherwise goes into a folder of the test's own."""
    monkeypatch.setenv("STEPTALLY_LEDGER", str(tmp_path_factory.mktemp("ledger") / "usual.sqlite"))
