"""A ledger that is killed, or runs out of room, while it is being made: there is one after that, or none.

Where the kill falls is told to the instruction: SQLite calls back every so many steps of its own machine,
and the child then kills itself.  What no call-back reaches, the writing at a commit, is left to kills from
outside at random moments, and to limits on the size of files.
"""

from __future__ import annotations

import os
import pathlib
import random
import resource
import signal
import sqlite3
import time
from collections.abc import Callable
from typing import Any

import pytest

from scenarios.ledger import LedgerError, LedgerFile
from tests.hostile.kept import FAILED, RUNS, child, dies, ended, gone_through

pytestmark = pytest.mark.skipif(os.name != "posix", reason="processes of POSIX")
KILLED = -signal.SIGKILL
EVERY = 5
"""Steps of SQLite's machine between two places to be killed at."""


def usable(path: pathlib.Path) -> None:
    """Whatever lies there, a campaign can use it, and a second one finds all of it."""
    gone_through(path)
    assert gone_through(path).kept == RUNS
    for each in path.parent.iterdir():
        each.unlink()


def dying_at(call: int, work: Callable[[], object]) -> Callable[[], None]:
    """Do ``work``, but die at so many calls back from SQLite."""

    def working() -> None:
        left, connect = [call], sqlite3.connect

        def count() -> int:
            left[0] -= 1
            if left[0] == 0:
                dies()
            return 0

        def connected(*arguments: Any, **options: Any) -> sqlite3.Connection:
            made: sqlite3.Connection = connect(*arguments, **options)
            made.set_progress_handler(count, EVERY)
            return made

        sqlite3.connect = connected  # type: ignore[assignment]
        work()

    return working


def kills(path: pathlib.Path, first: int, step: int) -> int:
    """Kill at every ``step``-th call back until the ledger is made undisturbed; the number of kills."""
    for count, call in enumerate(range(first, 100_000, step)):
        code = ended(child(dying_at(call, lambda: LedgerFile(path).close())))
        assert code in (0, KILLED)
        usable(path)
        if code == 0:
            return count
    raise AssertionError("it is never made")


def test_killed_at_steps_of_the_making(tmp_path: pathlib.Path) -> None:
    assert kills(tmp_path / "ledger.sqlite", 1, 9) > 5


@pytest.mark.campaign
def test_killed_at_every_step_of_the_making(tmp_path: pathlib.Path) -> None:
    print(f"killed at {kills(tmp_path / 'ledger.sqlite', 1, 1)} places while it was being made")


def killed_after(path: pathlib.Path, seconds: float) -> bool:
    """Whether a child that makes a ledger, killed so long after it began, was killed before its end."""
    ready, begin = os.pipe()

    def work() -> None:
        os.write(begin, b"!")
        LedgerFile(path).close()

    number = child(work)
    os.read(ready, 1)
    os.close(ready)
    os.close(begin)
    time.sleep(seconds)
    os.kill(number, signal.SIGKILL)
    code = ended(number)
    assert code != FAILED
    return code == KILLED


def killed_at_random(path: pathlib.Path, trials: int) -> int:
    """Kill children at moments around the time that making takes here; how many were still at work."""
    began = time.perf_counter()
    LedgerFile(path).close()
    took = time.perf_counter() - began
    path.unlink()
    generator, count = random.Random(5), 0
    for _ in range(trials):
        count += killed_after(path, generator.uniform(0.0, 1.5 * took))
        usable(path)
    return count


def test_killed_at_random_moments_of_the_making(tmp_path: pathlib.Path) -> None:
    assert killed_at_random(tmp_path / "ledger.sqlite", 20) > 0


@pytest.mark.campaign
def test_killed_at_many_random_moments_of_the_making(tmp_path: pathlib.Path) -> None:
    print(f"of 400 kills {killed_at_random(tmp_path / 'ledger.sqlite', 400)} came before its end")


@pytest.mark.parametrize("room", range(0, 40_000, 1777))
def test_no_room_while_it_is_being_made(tmp_path: pathlib.Path, room: int) -> None:
    """It is refused, or made whole; with room again, it can be used."""
    path = tmp_path / "ledger.sqlite"
    LedgerFile(path).close()
    whole = path.stat().st_size
    path.unlink()

    def cramped() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
        try:
            LedgerFile(path).close()
        except LedgerError as error:
            assert "the disk" in str(error)  # noqa: PT017
            os._exit(1)

    assert ended(child(cramped)) == (1 if room < whole else 0)
    usable(path)


def test_two_that_make_it_at_once_share_it(tmp_path: pathlib.Path) -> None:
    path = tmp_path / "ledger.sqlite"
    for _ in range(10):
        gate, start = os.pipe()

        def work(gate: int = gate) -> None:
            os.read(gate, 1)
            gone_through(path)

        children = [child(work) for _ in range(3)]
        os.write(start, b"!!!")
        assert [ended(number) for number in children] == [0, 0, 0]
        os.close(gate)
        os.close(start)
        assert gone_through(path).kept == RUNS
        for each in tmp_path.iterdir():
            each.unlink()
