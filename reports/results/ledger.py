"""The result of ``steptally ledger``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from pydantic import Field

from reports.results.common import Count, Flag, Frozen, Positive, Record, Result, Row, flat


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

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        return {
            "cells": [
                flat(
                    {**each.export, "differs": "; ".join(f"{path} = {v}" for path, v in each.differs.items())}
                )
                for each in self.cells
            ]
        }
