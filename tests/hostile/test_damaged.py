"""Files that are no whole ledger: refused with one clear line, and not a byte of them is changed."""

from __future__ import annotations

import os
import pathlib
import random
import sqlite3
import zipfile
from collections.abc import Callable

import pytest

from scenarios.ledger import APPLICATION, FORMAT, LedgerError, LedgerFile, broken
from simcore.campaigns.ledger import Span
from tests.hostile.kept import BLOCKS, IDENTITY, RUNS, filled, gone_through, lies_beside
from tests.hostile.pretended import GRID, told
from tests.theory.test_same_answer import same_tally

pytestmark = pytest.mark.skipif(os.name != "posix", reason="processes of POSIX")
NOBODY = 65534


def refusal(path: pathlib.Path) -> str:
    """The line by which a file is refused; neither it nor its folder is changed by that."""
    before, beside = path.read_bytes(), lies_beside(path)
    with pytest.raises(LedgerError) as caught:
        gone_through(path)
    assert path.read_bytes() == before
    assert lies_beside(path) == beside
    line = str(caught.value)
    assert "\n" not in line
    assert line.startswith(f"{path}: ")
    return line


def other_database(path: pathlib.Path, *, ahead: bool = False) -> None:
    connection = sqlite3.connect(path)
    if ahead:
        connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("CREATE TABLE addresses (name TEXT)")
    connection.commit()
    connection.close()


def archive(path: pathlib.Path) -> None:
    with zipfile.ZipFile(path, "w") as made:
        made.writestr("a.txt", "a" * 5000)


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda path: path.write_text("[encoder]\ndetents = 20\n"), "another kind of file"),
        (lambda path: path.write_bytes(bytes(8192)), "another kind of file"),
        (lambda path: path.write_bytes(b"S"), "damaged (it ends after 1 bytes)"),
        (archive, "another kind of file"),
        (other_database, "another program's database"),
        (lambda path: other_database(path, ahead=True), "another program's database"),
    ],
)
def test_other_files_are_refused(
    tmp_path: pathlib.Path, make: Callable[[pathlib.Path], object], why: str
) -> None:
    path = tmp_path / "ledger.sqlite"
    make(path)
    assert why in refusal(path)


def test_an_empty_file_becomes_a_ledger(tmp_path: pathlib.Path) -> None:
    path = tmp_path / "ledger.sqlite"
    path.touch()
    assert gone_through(path).kept == 0
    assert gone_through(path).kept == RUNS


def test_what_is_no_file_is_refused(tmp_path: pathlib.Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for place, why in (
        (tmp_path, "this is a folder"),
        (tmp_path / "pipe", "no ordinary file"),
        (pathlib.Path("/dev/null"), "no ordinary file"),
        (tmp_path / "missing" / "ledger.sqlite", f"there is no folder '{tmp_path / 'missing'}'"),
        ("", "needs the name of a file"),
        ("a\0b", "null"),
    ):
        with pytest.raises(LedgerError, match=why):
            LedgerFile(place)
    assert lies_beside(tmp_path / "x") == ["pipe"]


def test_a_name_that_sqlite_takes_for_something_else_is_a_file(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    names = [":memory:", "file:a?mode=memory", "a b#c%20d?e.sqlite"]
    for name in names:
        filled(pathlib.Path(name), 2)
        assert gone_through(pathlib.Path(name)).kept == 2 * GRID
    assert lies_beside(tmp_path / "x") == sorted(names)


def test_only_a_reader_needs_one_that_is_there(tmp_path: pathlib.Path) -> None:
    with pytest.raises(LedgerError, match="there is no such ledger"):
        LedgerFile(tmp_path / "none", write=False)
    (tmp_path / "empty").touch()
    with pytest.raises(LedgerError, match="this file is empty"):
        LedgerFile(tmp_path / "empty", write=False)
    assert lies_beside(tmp_path / "x") == ["empty"]


def test_a_newer_format_is_refused(tmp_path: pathlib.Path) -> None:
    path = tmp_path / "ledger.sqlite"
    filled(path)
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA user_version = {FORMAT + 1}")
    connection.close()
    assert f"format {FORMAT + 1}, made by a newer steptally; this one reads format {FORMAT}" in refusal(path)


def test_our_mark_on_other_tables_is_refused(tmp_path: pathlib.Path) -> None:
    path = tmp_path / "ledger.sqlite"
    other_database(path)
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA application_id = {APPLICATION}")
    connection.execute(f"PRAGMA user_version = {FORMAT}")
    connection.close()
    with pytest.raises(LedgerError, match="its tables are not those of a ledger"):
        gone_through(path)


def test_a_cut_file_is_refused_wherever_it_was_cut(tmp_path: pathlib.Path) -> None:
    path = tmp_path / "ledger.sqlite"
    filled(path)
    content = path.read_bytes()
    generator = random.Random(1)
    pages = range(4096, len(content), 4096)
    for length in [
        1,
        15,
        16,
        99,
        100,
        4095,
        *pages,
        *(generator.randrange(1, len(content)) for _ in range(40)),
    ]:
        path.write_bytes(content[:length])
        assert "damaged" in refusal(path)


def test_one_flipped_bit_is_refused_or_changes_nothing(tmp_path: pathlib.Path) -> None:
    """Anywhere in the file: the campaign on it either ends with the numbers that it has without a ledger,
    or is refused.  (Most of a file as small as this one is free room.)
    """
    path = tmp_path / "ledger.sqlite"
    filled(path)
    content = path.read_bytes()
    plain = told(Span(0, RUNS))
    generator = random.Random(2)
    refused = 0
    for _ in range(300):
        place = generator.randrange(len(content))
        flipped = bytearray(content)
        flipped[place] ^= 1 << generator.randrange(8)
        path.write_bytes(flipped)
        try:
            same_tally(gone_through(path).tally, plain)
        except LedgerError:
            refused += 1
        for name in lies_beside(path):
            (tmp_path / name).unlink()
    assert refused > 30


def test_a_flipped_bit_in_any_block_is_found(tmp_path: pathlib.Path) -> None:
    path = tmp_path / "ledger.sqlite"
    filled(path)
    content = path.read_bytes()
    connection = sqlite3.connect(path)
    stored = [
        mark + blob for mark, blob in connection.execute("SELECT digest, tally FROM blocks ORDER BY first")
    ]
    connection.close()
    for number, blob in enumerate(stored):
        assert content.count(blob) == 1
        flipped = bytearray(content)
        flipped[content.find(blob) + len(blob) // 2] ^= 4
        path.write_bytes(flipped)
        runs = f"runs {number * GRID} to {(number + 1) * GRID - 1}"
        with pytest.raises(LedgerError, match=f"{runs} does not match its digest"):
            gone_through(path)
        with LedgerFile(path, write=False) as ledger:
            count, faults = broken(ledger)
        assert count == BLOCKS
        assert [fault.split(" of ")[0] for fault in faults] == [runs]


def test_a_block_under_other_runs_or_another_name_is_found(tmp_path: pathlib.Path) -> None:
    path = tmp_path / "ledger.sqlite"
    for change, values in (
        ("UPDATE blocks SET first = ? WHERE first = 0", (BLOCKS * GRID,)),
        ("UPDATE cells SET identity = replace(identity, 'seed 1', 'seed 2')", ()),
    ):
        path.unlink(missing_ok=True)
        filled(path)
        connection = sqlite3.connect(path)
        connection.execute(change, values)
        connection.commit()
        connection.close()
        with LedgerFile(path, write=False) as ledger:
            assert broken(ledger)[1]


def test_another_result_for_the_same_runs_is_refused(tmp_path: pathlib.Path) -> None:
    with LedgerFile(tmp_path / "ledger.sqlite") as ledger:
        span = Span(0, GRID)
        ledger.keep(IDENTITY, span, told(span))
        ledger.keep(IDENTITY, span, told(span))
        with pytest.raises(LedgerError, match=f"runs 0 to {GRID - 1} are kept in it with another result"):
            ledger.keep(IDENTITY, span, told(Span(GRID, GRID)))
        same_tally(ledger.tally(IDENTITY, span), told(span))
