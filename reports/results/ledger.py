"""The result of ``steptally ledger``."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from pydantic import Field

from reports.results.common import Count, Flag, Frozen, Positive, Record, Result, Row, flat

if TYPE_CHECKING:
    from reports.documents.document import Document
    from scenarios.ledger import LedgerFile


class LedgerCell(Record):
    """The runs that are kept of one design and seed."""

    title: str = Field(description="The scenario's title; empty if none was given.")
    differs: Frozen[str, str] = Field(
        description='The values, by their paths, that not all cells of the same title have; "-" for one that '
        "this cell lacks."
    )
    seed: Count = Field(description="The seed.")
    model: str = Field(description="Version of the model that simulated the runs.")
    in_use: Flag = Field(
        description="Whether this program takes runs from the cell; false for one of another model."
    )
    pair: Flag = Field(
        description="Whether the cell holds a pair of designs on the same runs; false for a single design."
    )
    margins: Flag = Field(description="Whether the margins are kept as well.")
    runs: Positive = Field(description="Runs that are kept, each counted once.")
    blocks: Positive = Field(description="Blocks that hold them.")
    bytes: Count = Field(description="Size of the blocks (bytes).")
    first_seen: str = Field(description="When the cell was made, in UTC (ISO 8601).")
    identity: str = Field(description="Everything that determines the numbers, in the simulator's terms.")


class LedgerResult(Result):
    """The runs that a ledger keeps, a cell for each design and seed."""

    file: str = Field(description="The ledger's file.")
    format: Positive = Field(description="Number of the file's format.")
    bytes: Count = Field(description="Size of the file (bytes).")
    runs: Count = Field(description="Runs that are kept, of all cells.")
    checked: Count | None = Field(
        description="Blocks that were compared with their digests and found intact; null without --check."
    )
    cells: tuple[LedgerCell, ...] = Field(
        description="Every design and seed of which runs are kept, in the order in which they came."
    )

    @classmethod
    def of(cls, ledger: LedgerFile, checked: int | None) -> LedgerResult:
        """All cells; ``checked`` is how many blocks were found intact, None if nobody looked."""
        from scenarios.ledger import FORMAT, cells_of, differences

        cells = cells_of(ledger)
        return cls(
            file=os.fspath(ledger.path),
            format=FORMAT,
            bytes=os.stat(ledger.path).st_size,  # noqa: PTH116 - the path may be text
            runs=sum(cell.runs for cell in cells),
            checked=checked,
            cells=tuple(
                LedgerCell(
                    title=cell.title,
                    differs=differs,
                    seed=cell.head.seed,
                    model=cell.head.model,
                    in_use=cell.head.in_use,
                    pair=cell.head.pair is not None,
                    margins=cell.head.margins,
                    runs=cell.runs,
                    blocks=cell.blocks,
                    bytes=cell.size,
                    first_seen=cell.first_seen,
                    identity=cell.identity,
                )
                for cell, differs in zip(cells, differences(cells), strict=True)
            ),
        )

    def document(self) -> Document:
        from reports.documents.ledger import document

        return document(self)

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        return {
            "cells": [
                flat(
                    {**each.export, "differs": "; ".join(f"{path} = {v}" for path, v in each.differs.items())}
                )
                for each in self.cells
            ]
        }
