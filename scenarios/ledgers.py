"""A ledger in a file: finished blocks of runs, kept for whoever wants the same ones again.

`LedgerFile` is what simcore.campaigns.ledger asks for.  Several processes may use one file at the same
time.  Each block is written on its own, as soon as it is finished: that costs a two-hundredth of what the
block itself did (`python -m tests.benchmarks.ledger`), and what a block was lost with is then that block
alone.
"""

from __future__ import annotations

import datetime
import json
import os
import sqlite3
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from types import TracebackType
from typing import Any

from scenarios.ledger_blocks import compressed, decompressed, digest, packed, unpacked
from scenarios.ledger_opening import LedgerError, default_place, opened, refused, torn, trouble
from simcore.campaigns.identity import head
from simcore.campaigns.ledger import Span
from simcore.judging.tally import Tally

__all__ = ["LedgerError", "LedgerFile", "default_place"]


KEPT = 64
"""Cells whose numbers are kept at hand; identities are long, and a sweep may have very many cells."""


class LedgerFile:
    """A ledger in the file at ``path``, made if there is none; for any number of threads.

    Without ``write`` there must be one, and it is only read.  LedgerError, here and in every method, for
    whatever is no whole ledger.  One that can no longer be written does not end a campaign: `announce`
    and `keep` then write nothing more, and ``trouble`` says why.
    """

    def __init__(self, path: str | os.PathLike[str], *, write: bool = True) -> None:
        self.path = path
        self.trouble: LedgerError | None = None
        self._cells: dict[str, int] = {}
        self._lock = threading.RLock()
        self._connection: sqlite3.Connection | None = opened(path, write=write)

    def __enter__(self) -> LedgerFile:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file.  A thread that still works for it finds that nothing is kept any more."""
        with self._lock:
            if self._connection is not None:
                self._connection.close()
            self._connection = None

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """The connection, for this thread alone; LedgerError for whatever SQLite raises.

        ValueError once the ledger is closed.
        """
        with self._lock:
            if self._connection is None:
                raise ValueError("the ledger is closed")
            try:
                yield self._connection
            except sqlite3.Error as error:
                raise trouble(self.path, error) from None

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection | None]:
        """The connection, for this thread alone; None once nothing can be written any more.  What SQLite
        raises becomes the ``trouble``.
        """
        with self._lock:
            try:
                yield None if self.trouble is not None else self._connection
            except sqlite3.Error as error:
                self.trouble = trouble(self.path, error)

    def announce(self, identity: str, title: str, scenario: Mapping[str, Any]) -> None:
        """Say, before anything is kept under an identity, what a person calls it: the scenario's title, and
        the scenario with everything written out.  What can no longer be written is left out, as in `keep`.
        """
        with self._writing() as connection:
            if connection is not None:
                _announce(connection, identity, title, scenario)

    def spans(self, identity: str) -> list[Span]:
        """What is kept under an identity, in any order; spans may overlap."""
        with self.reading() as connection:
            cell = self._cell(connection, identity)
            if cell is None:
                return []
            rows = connection.execute("SELECT first, runs FROM blocks WHERE cell = ?", (cell,))
            return [Span(*row) for row in rows]

    def tally(self, identity: str, span: Span) -> Tally:
        """One of them.  LedgerError if a single bit of it is not what was kept."""
        with self.reading() as connection:
            row = connection.execute(
                "SELECT digest, tally FROM blocks WHERE cell = ? AND first = ? AND runs = ?",
                (self._cell(connection, identity), *span),
            ).fetchone()
        if row is None:
            raise torn(self.path, f"{_runs(span)} have vanished")
        content = content_of(identity, span, *row)
        if content is None:
            raise torn(self.path, f"what it keeps of {_runs(span)} does not match its digest")
        return unpacked(content)

    def keep(self, identity: str, span: Span, tally: Tally) -> None:
        """Keep a finished one; keeping it again changes nothing.

        LedgerError if it is kept already with another result.
        """
        content = packed(tally)
        mark, same = digest(identity, span, content), True
        with self._writing() as connection:
            if connection is not None:
                same = self._insert(connection, identity, span, mark, content)
        if not same:
            raise refused(
                self.path,
                f"{_runs(span)} are kept in it with another result than they gave now; another processor or "
                "library may round otherwise; name another file",
            )

    def _insert(
        self, connection: sqlite3.Connection, identity: str, span: Span, mark: bytes, content: bytes
    ) -> bool:
        """Whether this, and nothing else, is kept now."""
        cell = self._cell(connection, identity)
        if cell is None:
            _announce(connection, identity, "", {})
            cell = self._cell(connection, identity)
        done = connection.execute(
            "INSERT INTO blocks (cell, first, runs, digest, tally) VALUES (?, ?, ?, ?, ?) "
            "ON CONFLICT (cell, first, runs) DO NOTHING",
            (cell, *span, mark, compressed(content)),
        )
        if done.rowcount:
            return True
        known = connection.execute(
            "SELECT digest FROM blocks WHERE cell = ? AND first = ? AND runs = ?", (cell, *span)
        ).fetchone()
        return bool(known[0] == mark)

    def _cell(self, connection: sqlite3.Connection, identity: str) -> int | None:
        if identity not in self._cells:
            row = connection.execute("SELECT cell FROM cells WHERE identity = ?", (identity,)).fetchone()
            if row is None:
                return None
            if len(self._cells) == KEPT:
                del self._cells[next(iter(self._cells))]
            self._cells[identity] = int(row[0])
        return self._cells[identity]


def _announce(connection: sqlite3.Connection, identity: str, title: str, scenario: Mapping[str, Any]) -> None:
    connection.execute(
        "INSERT INTO cells (identity, model, title, scenario, first_seen) VALUES (?, ?, ?, ?, ?) "
        "ON CONFLICT (identity) DO UPDATE SET title = excluded.title, scenario = excluded.scenario "
        "WHERE cells.title = ''",
        (identity, head(identity).model, title, json.dumps(scenario), _now()),
    )


def content_of(identity: str, span: Span, mark: Any, stored: Any) -> bytes | None:
    """A stored tally, not yet unpacked; None unless it matches its digest."""
    try:
        content = decompressed(stored)
    except (TypeError, ValueError):
        return None
    return content if digest(identity, span, content) == mark else None


def _runs(span: Span) -> str:
    return f"runs {span.first} to {span.end - 1}"


def _now() -> str:
    """The time of day in UTC, to the second."""
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")
