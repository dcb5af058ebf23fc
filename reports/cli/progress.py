"""Progress on standard error: a bar on a terminal, now and then a line elsewhere."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from reports.api.working import silent
from reports.cli.exits import complain
from reports.words.numbers import duration_text

if TYPE_CHECKING:
    from rich.progress import Progress

    from reports.api.working import Progress as Show
    from reports.cli.options import Output

SHORT = 1.0
"""Seconds of work that need no progress report."""
RAREST = 60.0
"""Most seconds between two lines where there is no terminal to draw a bar on."""


FIRST_USE = "First use on this machine: compiling for some 30 s, once."

Words = Callable[[int, int], str]


def run_words(done: int, asked: int) -> str:
    """How far a campaign of so many runs is."""
    return f"{done:,} of {asked:,} runs"


class Pace:
    """How long the rest will take, judged from when the first runs were done (before that, the
    program compiles).
    """

    def __init__(self) -> None:
        self.began = time.monotonic()
        self.first: tuple[float, int] | None = None

    def spent(self) -> float:
        return time.monotonic() - self.began

    def left(self, done: int, asked: int) -> float | None:
        """Seconds left, None until that can be estimated."""
        if done and self.first is None:
            self.first = (self.spent(), done)
        if self.first is None or done <= self.first[1]:
            return None
        return (self.spent() - self.first[0]) * (asked - done) / (done - self.first[1])


class Lines:
    """A plain line after 1, 2, 4, 8 ... seconds, for logs."""

    def __init__(self, words: Words = run_words) -> None:
        self.words = words
        self.pace = Pace()
        self.next = SHORT

    def begin(self, words: Words) -> None:
        self.words, self.pace.first = words, None

    def __call__(self, done: int, asked: int) -> None:
        left, spent = self.pace.left(done, asked), self.pace.spent()
        if spent < self.next or done >= asked:
            return
        self.next = min(2.0 * self.next, self.next + RAREST)
        if done:
            ending = "" if left is None else f", about {duration_text(left)} left"
            complain(f"{self.words(done, asked)} done{ending}")


class Bar:
    """A bar with the time left, drawn once the work has taken more than a moment."""

    def __init__(self, bar: Progress, words: Words = run_words) -> None:
        self.bar = bar
        self.words = words
        self.pace = Pace()
        self.task = bar.add_task("", total=None)
        self.drawn = False

    def begin(self, words: Words) -> None:
        self.words, self.pace.first = words, None

    def __call__(self, done: int, asked: int) -> None:
        self.bar.update(self.task, completed=done, total=asked, description=self.words(done, asked))
        expected = self.pace.spent() + (self.pace.left(done, asked) or 0.0)
        if not self.drawn and expected > SHORT and done < asked:
            self.drawn = True
            self.bar.start()
        elif self.drawn:
            self.bar.refresh()


@contextmanager
def watching(*, quiet: bool, colour: bool) -> Iterator[Show]:
    """What to call with (done, asked); removes the bar at the end."""
    from reports.output import console

    if quiet:
        yield silent
        return
    screen = console(colour=colour, errors=True)
    if not screen.is_terminal:
        yield Lines()
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("time left"),
        TimeRemainingColumn(),
    )
    bar = Progress(*columns, console=screen, transient=True, auto_refresh=False)
    try:
        yield Bar(bar)
    finally:
        bar.stop()


def tell_of_first_use(*, quiet: bool = False) -> None:
    """A line if nothing is compiled yet."""
    from simcore.base.compiling import is_cold

    if not quiet and is_cold():
        complain(FIRST_USE)


class FirstUse:
    """A display that says first, once the simulation has begun, that it compiles: from then on Ctrl-C
    still gives a report.
    """

    def __init__(self, show: Show) -> None:
        self.show = show
        self.told = False

    def begin(self, words: Words) -> None:
        begin: Callable[[Words], None] | None = getattr(self.show, "begin", None)
        if begin is not None:
            begin(words)

    def __call__(self, done: int, asked: int) -> None:
        if not self.told:
            self.told = True
            complain(FIRST_USE)
        self.show(done, asked)


@contextmanager
def following(output: Output) -> Iterator[Show]:
    """The progress display for a campaign of the Python interface; a first use is announced."""
    from simcore.base.compiling import is_cold

    with watching(quiet=output.quiet, colour=output.colour) as show:
        yield FirstUse(show) if is_cold() and not output.quiet else show
