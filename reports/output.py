"""Where text goes: consoles for standard output and standard error, and files that are never half written."""

from __future__ import annotations

import contextlib
import io
import os
import pathlib
import stat
import sys
import tempfile
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from reports import interrupts
from reports.cli.exits import discard_output
from reports.errors import BadInput

if TYPE_CHECKING:
    from rich.console import Console

STANDARD_OUTPUT = "-"
STREAMED = ("--json",)
"""Options whose file may be standard output."""


class _Shadow(io.StringIO):
    """Looks like standard output to a console that only renders; nothing is written through it, so no error
    of the real stream can happen while rendering.
    """

    encoding = "utf-8"

    def __init__(self) -> None:
        super().__init__()
        self.encoding = getattr(sys.stdout, "encoding", None) or "utf-8"

    def isatty(self) -> bool:
        return sys.stdout.isatty()


def console(*, colour: bool = True, errors: bool = False) -> Console:
    """A console that renders for standard output (see `write`), or one that writes to standard error.

    Without ``colour``, or with NO_COLOR set, text has no control codes at all, not even for bold.
    """
    from rich.console import Console

    plain = not colour or bool(os.environ.get("NO_COLOR"))
    return Console(
        file=None if errors else _Shadow(),
        stderr=errors,
        color_system=None if plain else "auto",
        highlight=False,
        markup=False,
        emoji=False,
    )


def layout(width: int, encoding: str) -> Console:
    """A console that shows nothing, to lay text out for a ``width`` and an ``encoding``."""
    from rich.console import Console

    shadow = _Shadow()
    shadow.encoding = encoding
    return Console(file=shadow, width=width, color_system=None, highlight=False, markup=False, emoji=False)


def write(text: str) -> None:
    """Write to standard output; characters it cannot encode become "?", and a closed pipe is no error.
    Raises BadInput for a full disk and the like.
    """
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    try:
        sys.stdout.write(text.encode(encoding, "replace").decode(encoding))
        sys.stdout.flush()
    except BrokenPipeError:
        discard_output()
    except OSError as error:
        discard_output()
        raise BadInput(_cannot_write("standard output", error)) from None


def require_places(places: Mapping[str, str | None], read: Sequence[str] = ()) -> None:
    """Raise BadInput, before any work is done, for the first file that could not be written.

    ``places`` are the files by option, None where the option is not given; two options may not name
    one file, nor one of those that are ``read``.  Standard output is a place for STREAMED only.
    """
    taken = {os.path.realpath(each): "the file that is read" for each in read}
    for option, place in places.items():
        if place is None or (place == STANDARD_OUTPUT and option in STREAMED):
            continue
        if place == STANDARD_OUTPUT:
            raise BadInput(
                f"{option}: expected {_expected(option)}, got -; only {' and '.join(STREAMED)} can go to "
                "standard output"
            )
        require_writable(place, option)
        if not _is_replaceable(pathlib.Path(place)):
            continue
        other = taken.setdefault(os.path.realpath(place), option)
        if other != option:
            raise BadInput(
                f"{place}: named for {option}, but it is {other}; give another name"
                if not other.startswith("--")
                else f"{place}: named for {other} and for {option}; each needs a file of its own"
            )


def require_writable(place: str, option: str) -> None:
    """Raise BadInput, before any work is done, when ``place`` cannot be written.

    ``option`` is the one that named it.
    """
    path = pathlib.Path(place)
    if not place:
        raise BadInput(f'{option}: expected {_expected(option)}, got ""')
    try:
        if path.is_dir():
            raise BadInput(f"{option}: expected {_expected(option)}, got {place}, a folder")
        if path.exists() and not os.access(path, os.W_OK):
            raise PermissionError(13, "Permission denied")
        if _is_replaceable(path):
            with interrupts.unbroken():
                _temporary_beside(path).unlink()
    except (OSError, ValueError) as error:
        raise BadInput(_cannot_write(place, error)) from None


def _expected(option: str) -> str:
    return "the name of a file" + (", or - for standard output" if option in STREAMED else "")


def failures_of(work: Callable[[], None]) -> tuple[str, ...]:
    """Do ``work``, which writes a file; returns the messages of its failure, to be raised later."""
    try:
        work()
    except BadInput as error:
        return error.lines
    return ()


def write_file(place: str, text: str) -> None:
    """Write ``text`` to ``place`` whole or not at all: a temporary neighbour, then a rename.

    What is no plain file (a pipe, a device) is written straight.  Raises BadInput.
    """
    path = pathlib.Path(place)
    try:
        if _is_replaceable(path):
            with interrupts.unbroken():
                _replace(path.resolve(), text)
        else:
            path.write_text(text, encoding="utf-8")
    except BrokenPipeError:
        return
    except OSError as error:
        raise BadInput(_cannot_write(place, error)) from None


def _is_replaceable(path: pathlib.Path) -> bool:
    try:
        return stat.S_ISREG(path.stat().st_mode)
    except FileNotFoundError:
        return True


def _replace(path: pathlib.Path, text: str) -> None:
    temporary = _temporary_beside(path)
    try:
        with temporary.open("w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
        temporary.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink()
        raise


def _temporary_beside(path: pathlib.Path) -> pathlib.Path:
    target = path.resolve()
    number, name = tempfile.mkstemp(dir=target.parent, prefix=".steptally-", suffix=".part")
    os.close(number)
    return pathlib.Path(name)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _cannot_write(place: str, error: OSError | ValueError) -> str:
    reason = getattr(error, "strerror", None) or str(error)
    parent = pathlib.Path(place).parent
    if isinstance(error, FileNotFoundError) and not parent.exists():
        reason = f"there is no folder {str(parent)!r}"
    return f"{place}: cannot be written: {reason}"
