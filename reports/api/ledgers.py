"""`ledger`: what a ledger keeps, as ``steptally ledger`` tells it."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.api.fragment import Part, grid_table, line, strong
from reports.api.options import switched
from reports.api.result import Result, Row, flat
from reports.errors import refusing

if TYPE_CHECKING:
    from rich.console import Console, RenderableType


@dataclass(frozen=True, repr=False, eq=False)
class Ledger(Result):
    """The runs that a ledger keeps, a cell for each design and seed."""

    @property
    def file(self) -> str:
        """Where it is."""
        return str(self.export["file"])

    @property
    def runs(self) -> int:
        """All runs that it keeps."""
        return int(self.export["runs"])

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        return {"cells": [flat({**cell, "differs": _told(cell["differs"])}) for cell in self.export["cells"]]}

    def _blocks(self, console: Console) -> Iterable[RenderableType]:
        from reports.terminal.ledger import blocks

        return blocks(self.export, console)

    def _parts(self) -> Sequence[Part]:
        from reports.terminal.ledger import NAMELESS, OUT_OF_USE, cell_columns

        cells = self.export["cells"]
        found = [strong(self._line())]
        for title in dict.fromkeys(cell["title"] for cell in cells):
            own = [cell for cell in cells if cell["title"] == title]
            found.append(grid_table(title or NAMELESS, cell_columns(own)))
        return found if all(cell["in_use"] for cell in cells) else [*found, line(OUT_OF_USE)]

    def _line(self) -> str:
        from reports.terminal.ledger import headline

        return headline(self.export)


def _told(values: Mapping[str, str]) -> str:
    return "; ".join(f"{path} = {value}" for path, value in values.items())


def ledger(file: str | os.PathLike[str] | None = None, *, check: bool = False) -> Ledger:
    """What the ledger in a file keeps, or the user's own one; ``check`` holds every block against its digest
    as well.  Raises BadInput where there is no ledger, or a broken one.
    """
    from reports.verbs.ledger import looked_up

    with refusing():
        place = None if file is None else os.fspath(file)
        return Ledger(looked_up(place, switched("check", check)))
