"""The entry point.  It imports next to nothing, so that Ctrl-C is obeyed from the first moment."""

from __future__ import annotations

import sys
from collections.abc import Sequence


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code (see `reports.cli.exits`).

    ``arguments`` are those after the program's name; by default the process's own.
    """
    from reports import interrupts

    interrupts.install()
    from reports.cli.exits import INTERRUPTED, guarded

    def work() -> int | None:
        from reports.cli.group import steptally

        words = sys.argv[1:] if arguments is None else arguments
        code: int | None = steptally.main(list(words), standalone_mode=False)
        return code

    code = guarded(work)
    if code == INTERRUPTED:
        interrupts.leave(code)
    return code
