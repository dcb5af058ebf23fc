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
from collections.abc import Callable

from reports.errors import BadInput

DONE = 0
TARGET_MISSED = 1
CHECK_FAILED = 1
BAD_INPUT = 2
FAULT = 3
INTERRUPTED = 130

FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)
"""What the system says of a place that takes no more."""


def guarded(work: Callable[[], int | None]) -> int:
    """Do ``work``; returns its exit code and reports whatever it raises on standard error."""
    _open_streams()
    try:
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
    """Nobody reads standard output any more: let nothing, not even Python's last flush, mind."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def _open_streams() -> None:
    """Give a process that was started with its outputs closed somewhere to write to."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: PTH123, SIM115


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
        complain(*_usage_lines(error))
        return BAD_INPUT
    if isinstance(error, OSError) and error.errno in FULL and error.filename is None:  # help, the version
        discard_output()
        complain(f"Error: standard output: cannot be written: {error.strerror}")
        return BAD_INPUT
    complain(traceback.format_exc(), "This is a fault of steptally and not of your input; please report it.")
    return FAULT


def _usage_lines(error: object) -> list[str]:
    import click

    assert isinstance(error, click.ClickException)  # noqa: S101 - narrows the type
    lines = [f"Error: {error.format_message()}"]
    context = getattr(error, "ctx", None)
    if context is not None:
        lines.append(f"Help: {context.command_path} --help")
    return lines
