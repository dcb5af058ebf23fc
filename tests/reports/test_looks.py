"""Colour, width and encoding of what the process prints."""

from __future__ import annotations

import pathlib

import pytest

from tests.reports.running import steptally

ESCAPE = "\x1b"


def shown(folder: pathlib.Path, *options: str, **changes: str) -> str:
    done = steptally(folder, "run", "knob.toml", "--runs", "100", *options, changes=changes)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_a_pipe_gets_no_control_codes(folder: pathlib.Path) -> None:
    assert ESCAPE not in shown(folder)


def test_colour_can_be_forced_and_forbidden(folder: pathlib.Path) -> None:
    assert ESCAPE in shown(folder, FORCE_COLOR="1")
    assert ESCAPE not in shown(folder, FORCE_COLOR="1", NO_COLOR="1")
    assert ESCAPE not in shown(folder, "--no-color", FORCE_COLOR="1")
    assert ESCAPE not in steptally(folder, "list", "--no-color", changes={"FORCE_COLOR": "1"}).stdout
    assert ESCAPE in steptally(folder, "list", changes={"FORCE_COLOR": "1"}).stdout


@pytest.mark.parametrize("width", [40, 80, 120])
def test_the_report_keeps_to_the_width_and_shows_its_intervals(folder: pathlib.Path, width: int) -> None:
    text = shown(folder, COLUMNS=str(width))
    assert max(len(line) for line in text.splitlines()) <= width
    assert text.replace("\N{NO-BREAK SPACE}", " ").count("95 % CI") == (4 if width > 40 else 3)
    assert " ".join(text.split()).count("95 % confidence interval") == 2
    assert "…" not in text


def test_a_width_of_nought_is_none(folder: pathlib.Path) -> None:
    assert shown(folder, COLUMNS="0").splitlines()[1:8] == shown(folder).splitlines()[1:8]
    assert "Usage: steptally run" in steptally(folder, "run", "--help", changes={"COLUMNS": "0"}).stdout


def test_a_file_gets_lines_of_80(folder: pathlib.Path) -> None:
    assert max(len(line) for line in shown(folder).splitlines()) <= 80


def test_an_output_that_knows_ascii_only_gets_ascii_only(folder: pathlib.Path) -> None:
    title = 'title = "Lautstärke 音量"'
    knob = folder / "knob.toml"
    knob.write_text(title + "\n" + knob.read_text().partition("\n")[2].partition("\n")[2], encoding="utf-8")
    text = shown(folder, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert text.isascii()
    assert text.startswith("Lautst?rke ??\n")
    assert "----" in text
    assert "Lautstärke 音量" in shown(folder)


def test_list_keeps_to_the_width_a_line_each(folder: pathlib.Path) -> None:
    lines = steptally(folder, "list", changes={"COLUMNS": "40"}).stdout.splitlines()
    assert max(len(line) for line in lines) <= 40
