"""The entry point.  It imports next to nothing, so that Ctrl-C is obeyed from the first moment."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code (see `reports.cli.exits`).

    ``arguments`` are those after the program's name; by default the process's own.
    """
    from reports import interrupts

    interrupts.install()
    from reports.cli.exits import INTERRUPTED, guarded

    code = guarded(lambda: _run(sys.argv[1:] if arguments is None else arguments))
    if code == INTERRUPTED:
        interrupts.leave(code)
    return code


def _run(arguments: Sequence[str]) -> int | None:
    if not os.environ.get("COLUMNS", "").strip("0 "):
        os.environ.pop("COLUMNS", None)  # a width of nought, which some screens state, is none
    from reports.cli.group import steptally

    result: int | None = steptally.main(list(arguments), standalone_mode=False)
    return result
