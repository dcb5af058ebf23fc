"""What Ctrl-C does.

Python's own way, an exception at whatever line happens to run, may land inside a
library's clean-up, which then prints a traceback.  So the handler raises nothing: while
there is nothing to lose it ends the process at once; while results are at stake it only
notes the request, and a second Ctrl-C ends the process.  It waits until a file that is
being written is whole.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import NoReturn

CODE = 130
"""128 + 2, what a shell shows for a process that Ctrl-C ended."""

_at_stake = False
_requested = False
_unbroken = False
_late = False


def install() -> None:
    """Take over Ctrl-C, unless the process was started with it ignored."""
    if signal.getsignal(signal.SIGINT) == signal.default_int_handler:
        signal.signal(signal.SIGINT, _obey)


def stop_requested() -> bool:
    """Whether Ctrl-C has been pressed while results were at stake."""
    return _requested


def request_stop() -> None:
    """Note that the work is to stop, for callers that caught a KeyboardInterrupt."""
    global _requested
    _requested = True


@contextmanager
def at_stake() -> Iterator[None]:
    """Within this, the first Ctrl-C is only noted, for `stop_requested`."""
    global _at_stake, _requested
    _at_stake, _requested = True, False
    try:
        yield
    finally:
        _at_stake = False


@contextmanager
def unbroken() -> Iterator[None]:
    """Within this, a Ctrl-C that would end the process waits for the end of it."""
    global _unbroken, _late
    _unbroken, _late = True, False
    try:
        yield
    finally:
        _unbroken = False
        if _late:
            _end()


def leave(code: int) -> NoReturn:
    """End the process without waiting for threads that still compile or simulate."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            continue
    os._exit(code)


def _obey(number: int, frame: FrameType | None) -> None:
    global _late
    if _at_stake and not _requested:
        request_stop()
    elif _unbroken:
        _late = True
    else:
        _end()


def _end() -> NoReturn:
    if os.isatty(2):
        os.write(2, b"\x1b[?25h")  # a progress bar may have hidden the cursor
    os.write(2, b"\nInterrupted.\n")
    os._exit(CODE)
