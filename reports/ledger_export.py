"""What a ledger keeps, as the object that ``ledger --json`` writes, see ``schemas/ledger.schema.json``."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scenarios.ledger import Cell, LedgerFile

Export = dict[str, Any]


def ledger_export(ledger: LedgerFile, checked: int | None) -> Export:
    """All cells; ``checked`` is how many blocks were found whole, None if nobody looked."""
    from scenarios.ledger import FORMAT, cells_of, differences

    cells = cells_of(ledger)
    return {
        "file": os.fspath(ledger.path),
        "format": FORMAT,
        "bytes": os.stat(ledger.path).st_size,  # noqa: PTH116 - the path may be text
        "runs": sum(cell.runs for cell in cells),
        "checked": checked,
        "cells": [_cell(*pair) for pair in zip(cells, differences(cells), strict=True)],
    }


def _cell(cell: Cell, differs: dict[str, str]) -> Export:
    from simcore import MODEL_VERSION
    from simcore.campaigns.identity import layout

    return {
        "title": cell.title,
        "differs": differs,
        "seed": cell.head.seed,
        "model": cell.head.model,
        "in_use": (cell.head.model, cell.head.layout) == (MODEL_VERSION, layout()),
        "margins": cell.head.margins,
        "runs": cell.runs,
        "blocks": cell.blocks,
        "bytes": cell.size,
        "first_seen": cell.first_seen,
        "identity": cell.identity,
    }
