"""READMEs show what the program prints and send people to what is there; the top level stays bare."""

from __future__ import annotations

import pathlib
import re
import shlex
import subprocess

import pytest

from tests.reports.running import steptally

TOP = pathlib.Path(__file__).parents[1]
ALLOWED = {"README.md", "DEVELOPERS.md", "pyproject.toml", "simcore", "scenarios", "tests", "reports"}


def test_the_files_that_contributors_are_sent_to_exist() -> None:
    """Paths in DEVELOPERS.md are there; capitals stand for a name."""
    page = (TOP / "DEVELOPERS.md").read_text()
    named = set(re.findall(r"`((?:simcore|scenarios|reports|tests)/[a-z_/]+\.py)`", page))
    assert len(named) > 20
    assert [name for name in sorted(named) if not (TOP / name).is_file()] == []


def test_the_sample_in_the_readme_is_what_the_program_prints(tmp_path: pathlib.Path) -> None:
    page = (TOP / "README.md").read_text()
    command = page[page.index("<!-- sample -->") :].split("`")[1].split()
    sample = page.partition("```text\n")[2].partition("```")[0]
    assert command[0] == "steptally"
    done = steptally(tmp_path, *command[1:], changes={"COLUMNS": "80"})
    assert done.returncode == 0, done.stderr
    assert len(sample.splitlines()) > 50
    assert done.stdout.startswith(sample)


def test_the_sample_of_a_sweep_is_what_the_program_prints(tmp_path: pathlib.Path) -> None:
    page = (TOP / "README.md").read_text()
    part = page[page.index("<!-- sweep sample -->") :]
    command = shlex.split(part.split("`")[1])
    sample = part.partition("```text\n")[2].partition("```")[0]
    assert command[:2] == ["steptally", "sweep"]
    done = steptally(tmp_path, *command[1:], "--no-ledger", changes={"COLUMNS": "80"})
    assert done.returncode == 0, done.stderr
    assert len(sample.splitlines()) > 10
    assert sample in done.stdout


def test_nothing_else_lies_at_the_top_level() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    tops = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in tops if not name.startswith(".")} <= ALLOWED
