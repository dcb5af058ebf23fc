"""``run --html`` as a user meets it: the file, its errors, and the command that gives it again."""

from __future__ import annotations

import html
import json
import pathlib
import re
import shlex
import subprocess
import sys

import pytest
from click.testing import CliRunner

from reports.cli.group import steptally as group
from tests.reports.page_reading import read_page
from tests.reports.running import environment, names, steptally

PROBE = (
    "import sys; from reports.cli import main; main(['run', 'knob.toml', '--runs', '5', '-q'{more}]); "
    "print([name for name in ('jinja2', 'plotly') if name in sys.modules])"
)


def test_the_command_on_the_page_gives_the_same_bytes(folder: pathlib.Path) -> None:
    """With other threads, another file name, and values that need quoting."""
    title = "title=A <b>bold</b> 'knob'"
    done = steptally(
        folder, "run", "knob.toml", "--set", title, "--set", "filter.capacitor=68 nF", "--runs", "60",
        "--seed", "11", "--first-run", "5", "--threads", "1", "--html", "one.html",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert names(folder) == ["knob.toml", "one.html"]
    text = (folder / "one.html").read_text(encoding="utf-8")
    assert read_page(text).one("h1").text == "A <b>bold</b> 'knob'"
    command = html.unescape(re.findall(r"<code>(steptally run [^<]*)</code>", text)[0])
    words = shlex.split(command)
    again = steptally(folder, *words[1:], "--threads", "2")
    assert again.returncode == 0, again.stderr
    assert (folder / "report.html").read_bytes() == (folder / "one.html").read_bytes()


def test_page_and_json_hold_the_same_result(folder: pathlib.Path) -> None:
    done = steptally(folder, "run", "knob.toml", "--runs", "80", "--json", "out.json", "--html", "out.html")
    assert done.returncode == 0, done.stderr
    export = json.loads((folder / "out.json").read_text(encoding="utf-8"))
    text = read_page((folder / "out.html").read_text(encoding="utf-8")).text
    for item in export["gallery"]["steps"]:
        assert item["command"] in text
    for count in export["verdicts"].values():
        assert f"{count:,}" in text


@pytest.mark.parametrize(
    ("more", "messages"),
    [
        (["--html", "."], ["--html: expected the name of a file, got ., a folder"]),
        (["--html", "missing/out.html"], ["missing/out.html", "no folder"]),
        (["--html", "-"], ["--html: expected the name of a file, got -"]),
        (["--html", "out.x", "--json", "out.x"], ["out.x", "a file of its own"]),
    ],
)
def test_a_bad_place_is_one_message_before_a_run_is_simulated(
    folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch, more: list[str], messages: list[str]
) -> None:
    monkeypatch.chdir(folder)
    monkeypatch.setattr("simcore.campaigns.campaign.run_designs", lambda *_, **__: pytest.fail("simulated"))
    result = CliRunner().invoke(group, ["run", "knob.toml", *more])
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.count("Error: ") == 1
    for message in messages:
        assert message in result.stderr
    assert names(folder) == ["knob.toml"]


def test_a_full_disk_is_told_after_the_report(folder: pathlib.Path) -> None:
    if not pathlib.Path("/dev/full").exists():
        pytest.skip("no device that is always full")
    done = steptally(folder, "run", "knob.toml", "--runs", "20", "--html", "/dev/full", "--json", "out.json")
    assert done.returncode == 2
    assert "Wrong steps: " in done.stdout
    assert done.stderr.splitlines()[-1].startswith("Error: /dev/full: cannot be written: ")
    assert json.loads((folder / "out.json").read_text(encoding="utf-8"))["runs"] == 20


@pytest.mark.parametrize(("more", "loaded"), [("", "[]"), (", '--html', 'x.html'", "['jinja2', 'plotly']")])
def test_only_a_run_that_asks_for_a_page_loads_what_makes_one(
    folder: pathlib.Path, more: str, loaded: str
) -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROBE.format(more=more)], cwd=folder, env=environment(), capture_output=True,
        text=True, check=True,
    )  # fmt: skip
    assert done.stdout.splitlines()[-1] == loaded


def test_a_run_without_a_page_traces_nothing(folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    monkeypatch.setattr("simcore.tracing.worst.search", lambda *_: pytest.fail("searched"))
    result = CliRunner().invoke(group, ["run", "knob.toml", "--runs", "5", "--json", "-"])
    assert result.exit_code == 0
    assert json.loads(result.stdout)["gallery"] is None
