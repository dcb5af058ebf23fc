"""Files that are whole or absent, and text for whatever standard output can take."""

from __future__ import annotations

import os
import pathlib
import stat
from typing import NoReturn

import pytest

from reports.api.working import warn
from reports.cli.group import steptally
from reports.errors import BadInput
from reports.output import require_places, require_writable, write_file
from tests.reports.running import names


def test_a_file_is_written_whole_and_leaves_no_neighbour(tmp_path: pathlib.Path) -> None:
    place = tmp_path / "out.json"
    write_file(str(place), "first\n")
    write_file(str(place), "second\n")
    assert place.read_text() == "second\n"
    assert names(tmp_path) == ["out.json"]


def test_a_failed_write_leaves_the_old_file_and_no_neighbour(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "out.json"
    place.write_text("old\n")

    def full(number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(BadInput, match="No space left on device"):
        write_file(str(place), "new\n")
    assert place.read_text() == "old\n"
    assert names(tmp_path) == ["out.json"]


def test_permissions_are_the_users_or_the_old_files(tmp_path: pathlib.Path) -> None:
    new, old = tmp_path / "new.json", tmp_path / "old.json"
    mask = os.umask(0o027)
    try:
        write_file(str(new), "x")
    finally:
        os.umask(mask)
    old.write_text("x")
    old.chmod(0o604)
    write_file(str(old), "y")
    assert stat.S_IMODE(new.stat().st_mode) == 0o640
    assert stat.S_IMODE(old.stat().st_mode) == 0o604


def test_a_link_stays_a_link(tmp_path: pathlib.Path) -> None:
    real, link = tmp_path / "real.json", tmp_path / "link.json"
    real.write_text("old")
    link.symlink_to(real)
    write_file(str(link), "new")
    assert link.is_symlink()
    assert real.read_text() == "new"


def test_a_device_is_written_to_and_not_replaced() -> None:
    require_writable(os.devnull, "--json")
    write_file(os.devnull, "gone")
    assert stat.S_ISCHR(pathlib.Path(os.devnull).stat().st_mode)


def test_asking_whether_a_file_can_be_written_leaves_nothing(tmp_path: pathlib.Path) -> None:
    require_writable(str(tmp_path / "out.json"), "--json")
    assert names(tmp_path) == []


@pytest.mark.parametrize(
    ("place", "message"),
    [
        (".", "--csv: expected the name of a file, got \\., a folder$"),
        ("missing/out.json", "no folder 'missing'"),
        ("out\0.json", "cannot be written"),
        ("", '--csv: expected the name of a file, got ""$'),
    ],
)
def test_what_cannot_be_written_is_said(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, place: str, message: str
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BadInput, match=message):
        require_writable(place, "--csv")


@pytest.mark.parametrize(
    ("places", "message"),
    [
        (
            {"--json": "."},
            "--json: expected the name of a file, or - for standard output, got \\., a folder$",
        ),
        ({"--csv": "-"}, "--csv: expected the name of a file, got -; only --json can go to standard output$"),
        ({"--vcd": "out", "--csv": None, "--json": "./out"}, "named for --vcd and for --json; each needs"),
        ({"--json": "knob.toml"}, "named for --json, but it is the file that is read; give another name$"),
        ({"--json": "link.toml"}, "named for --json, but it is the file that is read; give another name$"),
    ],
)
def test_every_file_has_a_place_of_its_own(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, places: dict[str, str | None], message: str
) -> None:
    monkeypatch.chdir(tmp_path)
    pathlib.Path("knob.toml").write_text("x")
    pathlib.Path("link.toml").symlink_to("knob.toml")
    with pytest.raises(BadInput, match=message):
        require_places(places, ["knob.toml"])
    assert names(tmp_path) == ["knob.toml", "link.toml"]


def test_devices_and_standard_output_may_be_shared(tmp_path: pathlib.Path) -> None:
    require_places({"--vcd": os.devnull, "--csv": os.devnull, "--json": "-"})


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="nothing is forbidden to root")
def test_a_file_that_may_not_be_changed_is_not_replaced(tmp_path: pathlib.Path) -> None:
    place = tmp_path / "out.json"
    place.write_text("old")
    place.chmod(0o400)
    with pytest.raises(BadInput, match="Permission denied"):
        require_writable(str(place), "--json")


def test_a_notice_is_a_line_on_standard_error_where_the_group_ends_the_process_too(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def notice(scenario: str) -> NoReturn:
        warn(f"Beside {scenario}.")
        raise BadInput("nothing to show")

    monkeypatch.setattr("reports.api.loading.show", notice)
    with pytest.raises(SystemExit) as end:
        steptally.main(["show", "panel-knob"])
    assert end.value.code == 2
    assert capsys.readouterr().err == "Beside panel-knob.\nError: nothing to show\n"
