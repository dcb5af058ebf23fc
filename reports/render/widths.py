"""How wide a table is before any of its cells is broken into lines, for renderers that count characters."""

from __future__ import annotations

from rich.cells import cell_len

from reports.documents.document import Table

BAR = 24
"""Characters of the longest bar; only columns without texts have bars where characters are counted."""
GAP = 2
NOTEBOOK_WIDTH = 120
"""Characters of a usual notebook."""


def natural_width(table: Table) -> int:
    """Characters that a table takes with no cell broken into lines."""
    total = GAP * (len(table.columns) - 1)
    for column in table.columns:
        head = max(cell_len(line) for line in column.head.split("\n"))
        cells = max((cell_len(cell) for cell in column.cells), default=0)
        total += max(head, BAR if column.bars and not cells else cells)
    return total
