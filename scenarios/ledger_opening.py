"""Opening a ledger's file: made if there is none, refused if it is anything but a whole ledger.

The file is an SQLite database with an application id of our own.  What stands in its first bytes is looked
at before SQLite is let near it, so that no other program's file is touched, not even to be recovered.
"""

from __future__ import annotations

import contextlib
import os
import pathlib
import sqlite3
import stat
import time
import urllib.parse
from collections import Counter
from typing import Any, ClassVar

from scenarios.words import printable

APPLICATION = 0x73747465
"""Marks the file as a ledger ("stte"), in the place that SQLite's file format gives to such a mark."""
FORMAT = 1
"""Raised whenever an older program could not use what a newer one keeps."""
TABLES = (
    "CREATE TABLE cells (cell INTEGER PRIMARY KEY, identity TEXT NOT NULL UNIQUE, model TEXT NOT NULL, "
    "title TEXT NOT NULL, scenario TEXT NOT NULL, first_seen TEXT NOT NULL)",
    "CREATE TABLE blocks (cell INTEGER NOT NULL REFERENCES cells (cell), first INTEGER NOT NULL, "
    "runs INTEGER NOT NULL, digest BLOB NOT NULL, tally BLOB NOT NULL, UNIQUE (cell, first, runs))",
)
OBJECTS = "SELECT count(*) FROM sqlite_master"

PATIENCE = 60.0
"""Seconds to wait for another process that writes."""
MAGIC = b"SQLite format 3\0"
HEAD = 100
"""Bytes of the head of an SQLite file (its file format, section 1.3: version at 60, application at 68)."""

PLACE = "STEPTALLY_LEDGER"
"""Variable that names a ledger in place of the usual one."""

ELSEWHERE = "or name another file"
LOCKED = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_PROTOCOL)
"""What SQLite says while others have a file and do not let go of it."""


class LedgerError(Exception):
    """A ledger that cannot be used; the text names the file, what was found, and what to do."""


class Handle(sqlite3.Connection):
    """A connection that knows which file it has open.

    The first bytes of such a file are not read past SQLite, for closing it after that would release the locks
    that SQLite holds on it in this process.
    """

    open: ClassVar[Counter[tuple[int, int]]] = Counter()
    file: tuple[int, int] | None = None

    def attach(self, state: os.stat_result) -> None:
        """Note the file."""
        self.file = (state.st_dev, state.st_ino)
        self.open[self.file] += 1

    def close(self) -> None:
        """Let go of it."""
        super().close()
        if self.file is not None:
            self.open[self.file] -= 1
            self.file = None


def default_place(*, make: bool = True) -> pathlib.Path:
    """The user's own ledger, or what STEPTALLY_LEDGER names.  The folder of the user's own is made, unless
    ``make`` forbids; LedgerError if that cannot be done.
    """
    named = os.environ.get(PLACE)
    if named:
        return pathlib.Path(named)
    import platformdirs

    place = pathlib.Path(platformdirs.user_data_dir("steptally", appauthor=False)) / "ledger.sqlite"
    if not make:
        return place
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise refused(place, f"its folder cannot be made ({error.strerror}); name another file") from None
    return place


def refused(path: str | os.PathLike[str], why: str) -> LedgerError:
    """The error that says why, of which file."""
    return LedgerError(f"{printable(os.fspath(path))}: {why}")


def torn(path: str | os.PathLike[str], what: str) -> LedgerError:
    """The error of a ledger that is damaged."""
    return refused(
        path,
        f"this ledger is damaged ({printable(what)}); what is in it was left as it is; put a copy in its "
        "place, or move it away: its runs are then simulated again",
    )


def trouble(path: str | os.PathLike[str], error: sqlite3.Error) -> LedgerError:
    """What SQLite says, in our words."""
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF
    reasons = {
        sqlite3.SQLITE_FULL: f"the disk is full; make room there, {ELSEWHERE}",
        sqlite3.SQLITE_READONLY: f"it cannot be written; allow that, {ELSEWHERE}",
        sqlite3.SQLITE_CANTOPEN: f"it cannot be opened; look at its folder and its permissions, {ELSEWHERE}",
        sqlite3.SQLITE_IOERR: f"the disk does not read or write it ({error}); look at the disk, {ELSEWHERE}",
        **dict.fromkeys(LOCKED, f"another program keeps it locked; end that, {ELSEWHERE}"),
        sqlite3.SQLITE_NOMEM: "there is not enough memory to work with it; end other programs",
    }
    return refused(path, reasons[code]) if code in reasons else torn(path, str(error))


def opened(path: str | os.PathLike[str], *, write: bool) -> Handle:
    """A connection to a whole ledger; without ``write`` there must be one, and nothing is changed in it.

    Any thread may use it, but only one at a time.  LedgerError for whatever else is there.
    """
    _look_at(path, write=write)
    place = "file:" + urllib.parse.quote(str(pathlib.Path(path).absolute())) + ("" if write else "?mode=ro")
    try:
        connection = sqlite3.connect(
            place, timeout=PATIENCE, isolation_level=None, check_same_thread=False, uri=True, factory=Handle
        )
        try:
            if write:
                _make_tables(connection)
            connection.attach(pathlib.Path(path).stat())
            _require_whole(connection, path)
            if write:
                _log_ahead(connection)
        except BaseException:
            connection.close()
            raise
    except sqlite3.Error as error:
        raise trouble(path, error) from None
    return connection


def _look_at(path: str | os.PathLike[str], *, write: bool) -> None:
    """LedgerError unless a file is absent, empty or begins as a ledger does."""
    place = pathlib.Path(path)
    if not os.fspath(path):
        raise LedgerError("a ledger needs the name of a file")
    try:
        state = place.stat()
    except (FileNotFoundError, NotADirectoryError):
        if not write:
            raise refused(path, "there is no such ledger") from None
        if not place.parent.is_dir():
            why = f"it cannot be made: there is no folder {str(place.parent)!r}"
            raise refused(path, why) from None
        return
    except (OSError, ValueError) as error:
        raise refused(path, f"it cannot be read ({_reason(error)}); name another file") from None
    if not stat.S_ISREG(state.st_mode):
        what = "a folder" if stat.S_ISDIR(state.st_mode) else "no ordinary file"
        raise refused(path, f"this is {what}; name a file")
    if state.st_size == 0 and not write:
        raise refused(path, "this file is empty; it becomes a ledger once runs are kept in it")
    if not Handle.open[state.st_dev, state.st_ino]:
        _require_head(path, _first_bytes(place))
    if write and not os.access(path, os.W_OK):
        raise refused(path, f"it cannot be written; allow that, {ELSEWHERE}")


def _reason(error: OSError | ValueError) -> str:
    return getattr(error, "strerror", None) or str(error)


def _first_bytes(place: pathlib.Path) -> bytes:
    try:
        with place.open("rb") as file:
            return file.read(HEAD)
    except OSError as error:
        raise refused(place, f"it cannot be read ({_reason(error)}); name another file") from None


def _require_head(path: str | os.PathLike[str], head: bytes) -> None:
    """LedgerError unless these bytes, the first of a file, are those of a ledger of this format."""
    if not head:
        return
    if not head.startswith(MAGIC[: len(head)]):
        raise refused(path, "this is another kind of file and no ledger; name a new file, or a ledger")
    if len(head) < HEAD:
        raise torn(path, f"it ends after {len(head)} bytes")
    mark, version = (int.from_bytes(head[at : at + 4], "big") for at in (68, 60))
    if mark != APPLICATION:
        raise refused(path, "this is another program's database and no ledger; name a new file, or a ledger")
    if version > FORMAT:
        raise refused(
            path,
            f"this ledger is of format {version}, made by a newer steptally; this one reads format {FORMAT}; "
            f"use the newer one, {ELSEWHERE}",
        )


def _make_tables(connection: Handle) -> None:
    """All at once, if there is nothing yet: SQLite's first journal makes that whole or void."""
    connection.execute("PRAGMA synchronous = NORMAL")
    connection.execute("BEGIN IMMEDIATE")
    try:
        if _one(connection, "PRAGMA application_id") == 0 and not _one(connection, OBJECTS):
            for table in TABLES:
                connection.execute(table)
            connection.execute(f"PRAGMA application_id = {APPLICATION}")
            connection.execute(f"PRAGMA user_version = {FORMAT}")
        connection.execute("COMMIT")
    except BaseException:
        with contextlib.suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise


def _one(connection: Handle, query: str) -> Any:
    return connection.execute(query).fetchone()[0]


def _require_whole(connection: Handle, path: str | os.PathLike[str]) -> None:
    """LedgerError unless marks and tables are ours and SQLite finds nothing wrong."""
    if _one(connection, "PRAGMA application_id") != APPLICATION:
        raise torn(path, "it lacks its mark")
    if _one(connection, "PRAGMA user_version") != FORMAT:
        raise torn(path, "it lacks its format's number")
    found = connection.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY rowid")
    if [sql for (sql,) in found] != list(TABLES):
        raise torn(path, "its tables are not those of a ledger")
    first = str(_one(connection, "PRAGMA quick_check(1)"))
    if first != "ok":
        raise torn(path, " ".join(first.split()))


def _log_ahead(connection: Handle) -> None:
    """Let readers and a writer work at once.  Where a disk's kind does not allow that, they take turns."""
    last = time.monotonic() + PATIENCE
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
                raise
            if time.monotonic() > last:
                return
            time.sleep(0.02)
