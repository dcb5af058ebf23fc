"""`ledger`: what a ledger keeps, as ``steptally ledger`` tells it."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from reports.api import options
from reports.errors import BadInput

if TYPE_CHECKING:
    from reports.results.ledger import LedgerResult


def ledger(file: str | os.PathLike[str] | None = None, *, check: bool = False) -> LedgerResult:
    """What the ledger in a file keeps, or the user's own one; ``check`` compares every block with its digest
    as well.  Raises BadInput where there is no ledger, or a damaged one.
    """
    from reports.results.ledger import LedgerResult
    from scenarios.ledger import LedgerError, LedgerFile, broken, default_place, torn

    place, checked = options.file("FILE", file), None
    check = options.switch("check", check)
    try:
        with LedgerFile(default_place(make=False) if place is None else place, write=False) as kept:
            if check:
                checked, faults = broken(kept)
                if faults:
                    raise BadInput(*(str(torn(kept.path, fault)) for fault in faults))
            return LedgerResult.of(kept, checked)
    except LedgerError as error:
        raise BadInput(str(error)) from None
