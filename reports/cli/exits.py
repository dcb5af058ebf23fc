"""Exit codes, and how anything that can go wrong becomes one of them and one message.

0    done
1    the scenario states a target, and the result does not show that it is met; or a check fails
2    bad input or usage
3    a fault of the program itself, with a traceback to report
130  interrupted; what was finished so far has been reported
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import traceback
import warnings
from collections.abc import Callable
from typing import Any

from reports.errors import BadInput, LedgerNotice, Notice

DONE = 0
TARGET_MISSED = 1
CHECK_FAILED = 1
BAD_INPUT = 2
FAULT = 3
INTERRUPTED = 130

FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)
"""What the system says of a place that takes no more."""


def guarded(work: Callable[[], int | None]) -> int:
    """Do ``work``; returns its exit code, and writes its notices and whatever it raises to standard error."""
    _open_streams()
    if not os.environ.get("COLUMNS", "").strip("0 "):
        os.environ.pop("COLUMNS", None)  # some screens state a width of 0
    try:
        with warnings.catch_warnings():
            _show_notices()
            code = work() or DONE
        sys.stdout.flush()
    except KeyboardInterrupt:
        complain("Interrupted.")
        return INTERRUPTED
    except SystemExit as end:
        return _code_of(end)
    except BrokenPipeError:
        discard_output()
        return DONE
    except Exception as error:
        return _code_for(error)
    return code


def complain(*lines: str) -> None:
    """Write to standard error, whatever state it is in."""
    with contextlib.suppress(OSError, ValueError):
        for line in lines:
            sys.stderr.write(line + "\n")
        sys.stderr.flush()


def discard_output() -> None:
    """Send standard output to nowhere once nobody reads it, so that not even Python's last flush fails."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def _open_streams() -> None:
    """Give a process that was started with its outputs closed somewhere to write to."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: PTH123, SIM115


def _show_notices() -> None:
    """Make lines on standard error of notices; runs that a ledger did not take are an error at the end."""
    warnings.simplefilter("always", Notice)
    warnings.simplefilter("ignore", LedgerNotice)
    other = warnings.showwarning

    def show(message: Warning | str, category: type[Warning], *rest: Any, **more: Any) -> None:
        if issubclass(category, Notice):
            complain(str(message))
        else:
            other(message, category, *rest, **more)

    warnings.showwarning = show


def _code_of(end: SystemExit) -> int:
    if isinstance(end.__context__, BrokenPipeError):  # the command line's library met it first
        discard_output()
        return DONE
    if end.code is None or isinstance(end.code, int):
        return end.code or DONE
    complain(str(end.code))
    return BAD_INPUT


def _code_for(error: Exception) -> int:
    import click

    if isinstance(error, click.exceptions.Abort):
        complain("Interrupted.")
        return INTERRUPTED
    if isinstance(error, BadInput):
        complain(*(f"Error: {line}" for line in error.lines))
        return BAD_INPUT
    if isinstance(error, click.ClickException):
        complain(f"Error: {error.format_message()}")
        context = getattr(error, "ctx", None)
        if context is not None:
            complain(f"Help: {context.command_path} --help")
        return BAD_INPUT
    if isinstance(error, OSError) and error.errno in FULL and error.filename is None:  # help, the version
        discard_output()
        complain(f"Error: standard output: cannot be written: {error.strerror}")
        return BAD_INPUT
    complain(traceback.format_exc(), "This is a fault of steptally and not of your input; please report it.")
    return FAULT
