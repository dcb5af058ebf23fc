"""The entry point.  It imports next to nothing, so that Ctrl-C is obeyed from the first moment."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Any


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
    _tell_warnings()
    from reports.cli.group import steptally

    result: int | None = steptally.main(list(arguments), standalone_mode=False)
    return result


def _tell_warnings() -> None:
    """Notices beside a result become lines on standard error; runs that could not be kept are told as a
    failure at the end.
    """
    import warnings

    from reports.cli.exits import complain
    from reports.errors import Notice, NotKept

    warnings.simplefilter("always", Notice)
    warnings.simplefilter("ignore", NotKept)
    plain = warnings.showwarning

    def tell(message: Warning | str, category: type[Warning], *rest: Any, **more: Any) -> None:
        if issubclass(category, Notice):
            complain(str(message))
        else:
            plain(message, category, *rest, **more)

    warnings.showwarning = tell
