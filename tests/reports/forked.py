"""The command line in a process that need not import and load everything anew.

A server, which has imported the program and simulated one run, is copied for each command; each gets the
folder, the environment and the outputs that a process of its own would have.
"""

from __future__ import annotations

import functools
import os
import pathlib
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from multiprocessing import forkserver, get_context
from typing import Any
from unittest import mock

SETTINGS = ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "LINES", "PYTHONIOENCODING", "TTY_COMPATIBLE")
"""Variables that would change what is printed."""
READY = "tests.reports.loaded"
"""What the server imports before it is copied."""


@functools.cache
def _started() -> Any:
    """The server's side of multiprocessing, begun in an environment without what changes output."""
    kept = {name: value for name, value in os.environ.items() if name not in SETTINGS}
    context = get_context("forkserver")
    context.set_forkserver_preload([READY])
    with mock.patch.dict(os.environ, kept, clear=True):
        forkserver.ensure_running()
    return context


def forked(
    folder: pathlib.Path, arguments: tuple[str, ...], environment: Mapping[str, str], seconds: float
) -> subprocess.CompletedProcess[str]:
    """As `subprocess.run` has it, with both outputs as text."""
    with tempfile.TemporaryDirectory() as place:
        files = [str(pathlib.Path(place, name)) for name in ("output", "errors")]
        asked = (str(folder), arguments, dict(environment), files)
        process = _started().Process(target=_serve, args=asked)
        process.start()
        process.join(seconds)
        if process.exitcode is None:
            process.kill()
            raise subprocess.TimeoutExpired(arguments, seconds)
        output, errors = (pathlib.Path(file).read_text(encoding="utf-8") for file in files)
    return subprocess.CompletedProcess(arguments, process.exitcode, output, errors)


def _serve(folder: str, arguments: tuple[str, ...], environment: dict[str, str], files: list[str]) -> None:
    from reports import cli

    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)
    for number, file in enumerate(files, start=1):
        place = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(place, number)
        os.close(place)
    sys.stdout, sys.stderr = (os.fdopen(number, "w", encoding="utf-8", closefd=False) for number in (1, 2))
    sys.argv = [str(pathlib.Path(cli.__file__).parents[1] / "__main__.py"), *arguments]
    code = cli.main()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)
