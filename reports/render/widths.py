"""How wide a table is before any of its cells is broken into lines, for renderers that count characters."""

from __future__ import annotations

from rich.cells import cell_len

from reports.documents.document import Table

BAR = 24
"""Characters of the longest bar; only columns without texts have bars where characters are counted."""
GAP = 2
TEXT_ROOM = 36
"""Characters that a column of text has at least before other columns give way to it."""
NOTEBOOK_WIDTH = 120
"""Characters of a usual notebook."""


def natural_width(table: Table, most_text: int | None = None) -> int:
    """Characters that a table takes with no cell broken into lines, but for columns of text of more than
    ``most_text``.
    """
    total = GAP * (len(table.columns) - 1)
    for column in table.columns:
        head = max(cell_len(line) for line in column.head.split("\n"))
        cells = max((cell_len(cell) for cell in column.cells), default=0)
        if column.sort == "text" and most_text is not None:
            cells = min(cells, most_text)
        total += max(head, BAR if column.bars and not cells else cells)
    return total
