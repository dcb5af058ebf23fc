"""When progress is told, and how the time left is judged."""

from __future__ import annotations

import pytest

from reports.cli import progress
from reports.cli.progress import Lines, Pace


class Clock:
    """A clock that goes when told."""

    def __init__(self) -> None:
        self.now = 100.0

    def monotonic(self) -> float:
        """What it shows."""
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(progress, "time", made)
    return made


def test_the_time_left_does_not_count_the_time_before_the_first_runs(clock: Clock) -> None:
    pace = Pace()
    clock.now += 15.0
    assert pace.left(0, 1000) is None
    assert pace.left(100, 1000) is None
    clock.now += 2.0
    assert pace.left(300, 1000) == pytest.approx(7.0)


def test_lines_come_after_one_second_and_ever_more_rarely(
    clock: Clock, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = Lines()
    seconds = []
    for second in range(1, 400):
        clock.now += 1.0
        lines(1000 * second, 1_000_000)
        if capsys.readouterr().err:
            seconds.append(second)
    assert seconds == [1, 2, 4, 8, 16, 32, 64, 124, 184, 244, 304, 364]


def test_a_line_says_how_far_and_how_long(clock: Clock, capsys: pytest.CaptureFixture[str]) -> None:
    lines = Lines()
    lines(1000, 100_000)
    clock.now += 1.0
    lines(3000, 100_000)
    assert capsys.readouterr().err == "3,000 of 100,000 runs done, about 48 s left\n"


def test_nothing_is_said_before_the_first_and_after_the_last_run(
    clock: Clock, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = Lines()
    clock.now += 5.0
    lines(0, 10)
    clock.now += 50.0
    lines(10, 10)
    assert capsys.readouterr().err == ""
