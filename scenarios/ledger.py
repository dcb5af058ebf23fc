"""A ledger in a file: completed blocks of runs, cached for later campaigns that need the same ones.

`LedgerFile` implements simcore.campaigns.ledger.  Several processes may use one file at the same time.  Each
block is written as soon as it is complete, which costs 0.5 % of its own simulation
(`python -m tests.benchmarks.ledger`), so an interruption loses one block at most.

The file is an SQLite database with an application id of our own: created if missing, refused if it is
anything but a whole ledger.  Its first bytes are checked before SQLite opens it, so that no other program's
file is changed, not even by a recovery.

A tally is kept as bytes: exact, small, and the same bytes for the same tally on every machine.  A line of
JSON (hand, runs, final errors), then the whole numbers of the sums and margins that are not 0: how far
each lies from the one before, and its value, least significant bytes first and the bytes of equal weight
together, which compresses well.
"""

from __future__ import annotations

import contextlib
import datetime
import hashlib
import json
import os
import pathlib
import sqlite3
import stat
import threading
import time
import urllib.parse
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from types import TracebackType
from typing import Any, ClassVar

import numpy as np
import numpy.typing as npt

from scenarios.loading.messages import printable
from simcore.base.records import Ints
from simcore.campaigns.identity import Head, head
from simcore.campaigns.ledger import Span
from simcore.campaigns.pairing import PairedSums, Parting, nothing_paired
from simcore.judging.margins import Margins, no_margins
from simcore.judging.sums import Sums
from simcore.judging.tally import Tally, nothing

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
"""SQLite's codes while another process holds a lock."""


class LedgerError(Exception):
    """A ledger that cannot be used; the text names the file, what was found, and what to do."""


class Handle(sqlite3.Connection):
    """A connection that records which file it has open.

    The first bytes of such a file are not read past SQLite, for closing it after that would release the locks
    that SQLite holds on it in this process.
    """

    open: ClassVar[Counter[tuple[int, int]]] = Counter()
    file: tuple[int, int] | None = None

    def attach(self, state: os.stat_result) -> None:
        self.file = (state.st_dev, state.st_ino)
        self.open[self.file] += 1

    def close(self) -> None:
        super().close()
        if self.file is not None:
            self.open[self.file] -= 1
            self.file = None


def default_place(*, make: bool = True) -> pathlib.Path:
    """The user's own ledger, or what STEPTALLY_LEDGER names.  Creates the folder of the user's own if
    ``make``; LedgerError if that fails.
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
    return LedgerError(f"{printable(os.fspath(path))}: {why}")


def torn(path: str | os.PathLike[str], what: str) -> LedgerError:
    return refused(
        path,
        f"this ledger is damaged ({printable(what)}); what is in it was left as it is; put a copy in its "
        "place, or move it away: its runs are then simulated again",
    )


def trouble(path: str | os.PathLike[str], error: sqlite3.Error) -> LedgerError:
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
    """A connection to a whole ledger; without ``write`` it must exist and is not changed.

    Any thread may use it, but only one at a time.  LedgerError for any other file.
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
    """Create the tables of an empty file in one transaction."""
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
    """Allow readers beside a writer (write-ahead log), where the file system supports that."""
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


LEVEL = 1
"""zlib's fastest: the next ones take three times as long and save 5 %."""
NARROW, WIDE = "<i4", "<i8"
"""Kinds of values: the narrow one if it holds them all, for there is then less to compress."""
DIGEST = 16
"""Bytes of a digest."""


def packed(sums: Tally | PairedSums) -> bytes:
    """A tally, or paired sums, as bytes, not yet compressed."""
    if isinstance(sums, PairedSums):
        partings = [
            [*first, *other, parting.steps, parting.run, parting.step]
            for (first, other), parting in sorted(sums.partings.items())
        ]
        head = {"paired": len(sums.sizes) - 1, "runs": sums.runs, "partings": partings}
        return _packed(head, [sums.sizes, sums.sums, sums.tables, sums.spurious])
    head = {
        "gestures": sums.gestures,
        "runs": sums.runs,
        "errors": sorted(sums.errors.items()),
        "margins": sums.margins is not None,
    }
    return _packed(head, [*sums.sums, *(sums.margins or ())])


def _packed(head: dict[str, Any], parts: list[Ints]) -> bytes:
    numbers = np.concatenate([part.ravel() for part in parts])
    places = np.flatnonzero(numbers)
    values = numbers[places]
    kind = NARROW if values.size == 0 or np.abs(values).max() <= np.iinfo(NARROW).max else WIDE
    line_head = {**head, "numbers": numbers.size, "kept": places.size, "kind": kind}
    line = json.dumps(line_head, separators=(",", ":")).encode() + b"\n"
    return line + _planes(np.diff(places, prepend=0), "<u4") + _planes(values, kind)


def unpacked(content: bytes) -> Tally:
    """The tally that was packed.  ValueError for what no tally of this layout gives."""
    head, rest = _split(content)
    gestures = tuple(head["gestures"])
    sums = nothing(gestures).sums
    margins = no_margins() if head["margins"] else None
    shaped = _unpacked(head, rest, [*sums, *(margins or ())])
    errors = {int(error): int(runs) for error, runs in head["errors"]}
    found = Sums(*shaped[: len(sums)])
    return Tally(gestures, head["runs"], found, errors, Margins(*shaped[len(sums) :]) if margins else None)


def unpacked_pair(content: bytes) -> PairedSums:
    """The paired sums that were packed.  ValueError for what none of this layout give."""
    head, rest = _split(content)
    empty = nothing_paired(head["paired"])
    parts = [empty.sizes, empty.sums, empty.tables, empty.spurious]
    sizes, sums, tables, spurious = _unpacked(head, rest, parts)
    partings = {
        ((verdict, cause), (other_verdict, other_cause)): Parting(steps, run, step)
        for verdict, cause, other_verdict, other_cause, steps, run, step in head["partings"]
    }
    return PairedSums(head["runs"], sizes, sums, tables, spurious, partings)


def _split(content: bytes) -> tuple[dict[str, Any], bytes]:
    line, _, rest = content.partition(b"\n")
    return json.loads(line), rest


def _unpacked(head: dict[str, Any], rest: bytes, parts: list[Ints]) -> list[Ints]:
    numbers = np.zeros(head["numbers"], np.int64)
    if numbers.size != sum(part.size for part in parts):
        raise ValueError(f"{numbers.size} numbers in a tally of {sum(part.size for part in parts)}")
    kept, border = head["kept"], 4 * head["kept"]
    numbers[np.cumsum(_flat(rest[:border], "<u4", kept))] = _flat(rest[border:], head["kind"], kept)
    filled = np.split(numbers, np.cumsum([part.size for part in parts])[:-1])
    return [each.reshape(part.shape) for each, part in zip(filled, parts, strict=True)]


def _planes(numbers: Ints, kind: str) -> bytes:
    flat = numbers.astype(kind)
    return flat.view(np.uint8).reshape(flat.size, flat.itemsize).T.tobytes()


def _flat(content: bytes, kind: str, count: int) -> Ints:
    size = np.dtype(kind).itemsize
    planes: npt.NDArray[np.uint8] = np.frombuffer(content, np.uint8).reshape(size, count)
    return np.ascontiguousarray(planes.T).view(kind).ravel().astype(np.int64)


def compressed(content: bytes) -> bytes:
    return zlib.compress(content, LEVEL)


def decompressed(stored: bytes) -> bytes:
    """ValueError if the bytes were changed."""
    try:
        return zlib.decompress(stored)
    except zlib.error as error:
        raise ValueError(str(error)) from None


def digest(identity: str, span: Span, content: bytes) -> bytes:
    """Identifies a block: what was simulated, which runs, and their tally."""
    place = f"{identity}\n{span.first} {span.runs}\n".encode()
    return hashlib.blake2b(place + content, digest_size=DIGEST).digest()


MOST_CELLS = 64
"""Cells whose numbers are cached; identities are long, and a sweep may have very many cells."""


class LedgerFile:
    """A ledger in the file at ``path``, made if there is none; for any number of threads.

    Without ``write`` there must be one, and it is only read.  LedgerError, here and in every method, for
    a file that is no whole ledger.  One that can no longer be written does not end a campaign: `announce`
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
        """Close the file.  A thread that still works for it then keeps nothing more."""
        with self._lock:
            if self._connection is not None:
                self._connection.close()
            self._connection = None

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """The connection, for this thread alone; LedgerError for what SQLite raises.

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
        """Record the title and the resolved scenario of an identity, before anything is kept under it.  What
        can no longer be written is left out, as in `keep`.
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
        """One of them, of a design.  LedgerError if its digest does not match."""
        return unpacked(self._content(identity, span))

    def pair(self, identity: str, span: Span) -> PairedSums:
        """One of them, of two designs.  LedgerError as `tally` raises it."""
        return unpacked_pair(self._content(identity, span))

    def _content(self, identity: str, span: Span) -> bytes:
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
        return content

    def keep(self, identity: str, span: Span, sums: Tally | PairedSums) -> None:
        """Keep a finished one; keeping it again changes nothing.

        LedgerError if it is kept already with another result.
        """
        content = packed(sums)
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
        """Whether the ledger now holds this tally, and no other for the span."""
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
            if len(self._cells) == MOST_CELLS:
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
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")


NOT_LISTED = ("title", "seed", "runs", "stop", "target")
"""Parts of a scenario that are not what is simulated, or have a column of their own."""

ABSENT = "-"
"""The value of a path that a scenario does not have."""
PAIRED = "{} -> {}"
"""Values of the first and the other of two designs."""

CELLS = "SELECT cell, identity, title, scenario, first_seen FROM cells ORDER BY cell"
BLOCKS = "SELECT first, runs, length(tally) FROM blocks WHERE cell = ?"


@dataclass(frozen=True)
class StoredCell:
    """All that is kept of one design, or of a pair of designs, under one seed.

    ``title`` is the scenario's ("" if unknown), ``head`` the beginning of its ``identity``,
    ``values`` maps the paths of its scenario to texts, of a pair to both texts where they are not the same
    (PAIRED); ``runs`` counts the runs that are kept at least once, in ``blocks`` blocks of ``size`` bytes
    together; ``first_seen`` is in UTC (ISO 8601).
    """

    identity: str
    head: Head
    title: str
    values: Mapping[str, str]
    first_seen: str
    runs: int
    blocks: int
    size: int


def cells_of(ledger: LedgerFile) -> list[StoredCell]:
    """All cells with a run in them, in the order in which they came.  LedgerError if one is damaged."""
    with ledger.reading() as connection:
        rows = connection.execute(CELLS).fetchall()
        kept = {number: connection.execute(BLOCKS, (number,)).fetchall() for number, *_ in rows}
    try:
        found = [_cell(words, kept[number]) for number, *words in rows]
    except ValueError as error:
        raise torn(ledger.path, str(error)) from None
    return [cell for cell in found if cell.runs]


def _cell(row: Sequence[str], kept: Sequence[tuple[int, int, int]]) -> StoredCell:
    identity, title, scenario, first_seen = row
    runs = covered(Span(first, runs) for first, runs, _ in kept)
    size = sum(size for _, _, size in kept)
    resolved = json.loads(scenario)
    if head(identity).pair is None:
        values = dict(_leaves("", resolved))
    else:
        values = _paired(*(dict(_leaves("", resolved.get(side, {}))) for side in ("first", "other")))
    return StoredCell(identity, head(identity), title, values, first_seen, runs, len(kept), size)


def _paired(first: Mapping[str, str], other: Mapping[str, str]) -> dict[str, str]:
    """The values of two scenarios, path by path."""
    both = ((path, first.get(path, ABSENT), other.get(path, ABSENT)) for path in {**first, **other})
    return {path: one if one == two else PAIRED.format(one, two) for path, one, two in both}


def covered(spans: Iterable[Span]) -> int:
    """How many runs lie in one span at least."""
    count, reached = 0, 0
    for span in sorted(spans):
        count += max(0, span.end - max(span.first, reached))
        reached = max(reached, span.end)
    return count


def _leaves(path: str, value: Any) -> Iterator[tuple[str, str]]:
    """The values of a resolved scenario, by the paths that ``--set`` takes."""
    dot = f"{path}." if path else ""
    if isinstance(value, dict):
        for key, each in value.items():
            if path or key not in NOT_LISTED:
                yield from _leaves("" if key == "stage" and not path else f"{dot}{key}", each)
    elif isinstance(value, list) and all(isinstance(each, dict) and "name" in each for each in value):
        for each in value:
            kept = {key: inner for key, inner in each.items() if key != "name"}
            yield from _leaves(f"{dot}{each['name']}", kept)
    else:
        yield path, value if isinstance(value, str) else json.dumps(value)


def differences(cells: Sequence[StoredCell]) -> list[dict[str, str]]:
    """For each cell, the values that not all cells of its title have, or not both designs of a pair; "-" for
    one that it lacks.
    """
    groups: dict[str, list[StoredCell]] = {}
    for cell in cells:
        groups.setdefault(cell.title, []).append(cell)
    found = {title: _differing([cell.values for cell in group]) for title, group in groups.items()}
    return [{path: cell.values.get(path, ABSENT) for path in found[cell.title]} for cell in cells]


def _differing(group: Sequence[Mapping[str, str]]) -> list[str]:
    paths = dict.fromkeys(path for values in group for path in values)
    between = PAIRED.format("", "")
    return [
        path
        for path in paths
        for texts in [{values.get(path) for values in group}]
        if len(texts) > 1 or any(between in (text or "") for text in texts)
    ]


def broken(ledger: LedgerFile) -> tuple[int, list[str]]:
    """How many blocks there are, and what is wrong, a text for each fault, none if all is whole.

    Every block is compared with its digest, and SQLite's own check covers the whole file.
    """
    with ledger.reading() as connection:
        found = [text for (text,) in connection.execute("PRAGMA integrity_check(20)") if text != "ok"]
        count = 0
        rows = connection.execute(
            "SELECT identity, title, first, runs, digest, tally FROM blocks JOIN cells USING (cell)"
        )
        for identity, title, first, runs, mark, stored in rows:
            count += 1
            span = Span(first, runs)
            if content_of(identity, span, mark, stored) is None:
                found.append(f"runs {first} to {span.end - 1} of {title!r} do not match their digest")
        lost = connection.execute("SELECT count(*) FROM blocks WHERE cell NOT IN (SELECT cell FROM cells)")
        orphans = lost.fetchone()[0]
    if orphans:
        found.append(f"{orphans} blocks belong to no cell")
    return count, found
