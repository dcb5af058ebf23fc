"""Ledgers where nothing may be written or read, and where the disk is full: refused, never harmed."""

from __future__ import annotations

import os
import pathlib
import resource
from collections.abc import Callable

import pytest

from scenarios.ledger import LedgerError, LedgerFile
from simcore.campaigns.course import Course
from simcore.campaigns.ledger import Span
from simcore.statistics.stopping import ALL_RUNS, Stop
from tests.hostile.kept import RUNS, child, ended, filled, gone_through
from tests.hostile.pretended import GRID, computed, plan, told
from tests.theory.test_same_answer import same_tally

pytestmark = pytest.mark.skipif(os.name != "posix", reason="processes of POSIX")
NOBODY = 65534


def as_nobody(work: Callable[[], None]) -> int:
    """Do it as a user who may do nothing in particular."""

    def unprivileged() -> None:
        if os.getuid() == 0:
            os.setgid(NOBODY)
            os.setuid(NOBODY)
        work()

    return ended(child(unprivileged))


@pytest.fixture
def open_folder(tmp_path: pathlib.Path) -> pathlib.Path:
    """A folder that other users may enter."""
    for each in (tmp_path, *tmp_path.parents[:3]):
        if each.owner() == pathlib.Path.home().owner() and each != pathlib.Path("/tmp"):  # noqa: S108
            each.chmod(each.stat().st_mode | 0o055)
    return tmp_path


def test_a_file_or_folder_that_may_not_be_written_or_read_is_refused(open_folder: pathlib.Path) -> None:
    path = open_folder / "ledger.sqlite"
    filled(path)
    path.chmod(0o444)

    def refuses(why: str, place: pathlib.Path = path) -> Callable[[], None]:
        def work() -> None:
            with pytest.raises(LedgerError, match=why):
                LedgerFile(place)

        return work

    assert as_nobody(refuses("cannot be written")) == 0
    open_folder.chmod(0o555)
    assert as_nobody(refuses("cannot be (opened|written)", open_folder / "new.sqlite")) == 0
    open_folder.chmod(0o755)
    path.chmod(0)
    assert as_nobody(refuses("cannot be read")) == 0
    path.chmod(0o644)
    assert gone_through(path).kept == RUNS


def campaign_in(path: pathlib.Path, room: int) -> None:
    """A campaign while no file may grow beyond ``room`` bytes: as on a full disk, writing then fails."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
    with LedgerFile(path) as ledger:
        course = Course(plan(Stop(RUNS)), ledger)
        while (job := course.next()) is not None:
            course.take(job, computed(job))
        assert ledger.trouble is not None
        assert "disk" in str(ledger.trouble)
        assert course.outcome().ended_by == ALL_RUNS
        same_tally(course.outcome().tally, told(Span(0, RUNS)))


@pytest.mark.parametrize("room", [34_000, 50_000, 70_000])
def test_a_full_disk_ends_no_campaign_and_harms_no_ledger(tmp_path: pathlib.Path, room: int) -> None:
    path = tmp_path / "ledger.sqlite"
    filled(path, 2)
    assert ended(child(lambda: campaign_in(path, room))) == 0
    outcome = gone_through(path)
    assert 2 * GRID <= outcome.kept < RUNS
    same_tally(outcome.tally, told(Span(0, RUNS)))


@pytest.mark.parametrize("room", [0, 1_000, 9_000, 20_000])
def test_without_room_for_its_log_a_ledger_is_refused(tmp_path: pathlib.Path, room: int) -> None:
    path = tmp_path / "ledger.sqlite"
    filled(path, 2)

    def refuses() -> None:
        with pytest.raises(LedgerError, match="the disk"):
            campaign_in(path, room)

    assert ended(child(refuses)) == 0
    assert gone_through(path).kept == 2 * GRID
