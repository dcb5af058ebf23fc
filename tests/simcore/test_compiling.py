"""The machinery that turns plain rules into compiled code."""

from __future__ import annotations

import os
import pathlib
import subprocess
import sys
from typing import NamedTuple

import pytest

from simcore.base import compiling
from simcore.networks.analogue import Pole, PoleState
from simcore.stages.base import stage_level


class Stranger(NamedTuple):
    """A record that no family knows."""

    ideal: int


def test_a_family_runs_the_rule_of_its_first_argument() -> None:
    pole = Pole(3.3, 1e-3, 0.0, 1e-4, 1.9, 1.2, 1)
    assert stage_level(pole, PoleState(0, 3.3, 0, 1)) == 0


def test_an_unknown_record_is_named_together_with_the_known_ones() -> None:
    with pytest.raises(TypeError, match=r"stage_level has no rule for Stranger; known: .*Pole"):
        stage_level(Stranger(1), Stranger(1))


def test_registering_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="Pole is registered already"):
        compiling.member(stage_level, Pole)(lambda params, state: 0)


def test_importing_the_core_does_not_import_numba() -> None:
    code = (
        "import sys, simcore.campaigns.campaign, simcore.design; "
        "sys.exit(any(name.split('.')[0] == 'numba' for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_cache_folder_hangs_on_the_sources(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STEPTALLY_CACHE", str(tmp_path))
    before = compiling.cache_folder()
    changed = tmp_path / "changed.py"
    changed.write_text("x = 1\n")
    real = compiling.sources()
    monkeypatch.setattr(compiling, "sources", lambda: [*real, changed])
    after = compiling.cache_folder()
    assert before.parent == after.parent == tmp_path
    assert before != after


@pytest.mark.skipif(os.name != "posix", reason="needs a folder that cannot be made")
def test_an_unwritable_cache_falls_back_to_a_temporary_folder(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "a file"
    blocked.write_text("")
    monkeypatch.setenv("STEPTALLY_CACHE", str(blocked))
    folder = compiling.cache_folder()
    assert folder.is_dir()
    assert blocked not in folder.parents
    folder.rmdir()
