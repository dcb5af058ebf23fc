"""Ledgers: what is kept comes back to the last number, and is told in the scenario's terms."""

from __future__ import annotations

import json
import pathlib
import sqlite3
import struct
import zlib
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenarios.ledger import (
    LedgerError,
    LedgerFile,
    broken,
    cells_of,
    compressed,
    covered,
    decompressed,
    default_place,
    differences,
    digest,
    packed,
    trouble,
    unpacked,
)
from scenarios.loading.load import load_scenario
from simcore import MODEL_VERSION
from simcore.campaigns.campaign import run_campaign
from simcore.campaigns.computing import Job, Work
from simcore.campaigns.course import runs_per_block
from simcore.campaigns.identity import head, identity
from simcore.campaigns.ledger import Span
from simcore.judging.margins import Margins, no_margins
from simcore.judging.tally import Tally
from tests.scenarios.samples import SMALL
from tests.simcore.builders import design, filtered
from tests.theory.test_same_answer import same_tally, tallies

NAME = identity(design(), 1, True)


def with_margins(tally: Tally, seed: int) -> Tally:
    """The same with margins of any whole numbers, the largest and smallest included."""
    generator, limits = np.random.Generator(np.random.Philox(seed)), np.iinfo(np.int64)
    parts = []
    for part in no_margins():
        filled = np.where(generator.random(part.shape) < 0.1, generator.integers(0, 10**7, part.shape), part)
        filled.flat[0], filled.flat[-1] = limits.min, limits.max
        parts.append(filled.astype(np.int64))
    return Tally(tally.gestures, tally.runs, tally.sums, tally.errors, Margins(*parts))


def same(one: Tally, other: Tally) -> None:
    """All whole numbers, margins as well."""
    same_tally(one, other)
    assert (one.margins is None) == (other.margins is None)
    for mine, theirs in zip(one.margins or (), other.margins or (), strict=True):
        assert mine.dtype == theirs.dtype
        assert np.array_equal(mine, theirs)


@settings(max_examples=80, deadline=None)
@given(tallies(), st.none() | st.integers(0, 2**32))
def test_a_tally_comes_back_to_the_last_number(tally: Tally, margins: int | None) -> None:
    kept = tally if margins is None else with_margins(tally, margins)
    content = packed(kept)
    back = unpacked(decompressed(compressed(content)))
    same(back, kept)
    assert packed(back) == content
    same(back + back, kept + kept)


@settings(max_examples=40, deadline=None)
@given(tallies(), st.randoms())
def test_the_bytes_are_those_of_the_tally_alone(tally: Tally, order: Random) -> None:
    """Two processes may have come to the final errors in another order."""
    shuffled = list(tally.errors.items())
    order.shuffle(shuffled)
    assert packed(Tally(tally.gestures, tally.runs, tally.sums, dict(shuffled))) == packed(tally)


def test_the_layout_of_a_kept_tally_by_hand() -> None:
    """Blocks are kept for years: read here with struct and zlib alone, as the module's text says."""
    tally = run_campaign(design(filtered(22.0)), seed=1, runs=40).tally
    line, _, rest = zlib.decompress(compressed(packed(tally))).partition(b"\n")
    told = json.loads(line)
    assert told["gestures"] == ["clicks"]
    assert told["runs"] == sum(runs for _, runs in told["errors"]) == 40
    kept = told["kept"]
    assert len(rest) == 12 * kept

    def numbers(content: bytes, size: int, kind: str) -> list[int]:
        planes = [content[each * kept : (each + 1) * kept] for each in range(size)]
        return list(
            struct.unpack(f"<{kept}{kind}", bytes(b for row in zip(*planes, strict=True) for b in row))
        )

    values, place = [0] * told["numbers"], 0
    for step, value in zip(numbers(rest[: 4 * kept], 4, "I"), numbers(rest[4 * kept :], 8, "q"), strict=True):
        place += step
        values[place] = value
    assert tally.margins is not None
    assert values == [int(value) for part in (*tally.sums, *tally.margins) for value in part.ravel()]


def test_a_tally_of_another_layout_is_refused() -> None:
    content = packed(run_campaign(design(), seed=1, runs=4).tally)
    for was, now in ((b'"clicks"', b'"clicks","twists"'), (b'"kept":', b'"kept":1')):
        with pytest.raises(ValueError, match=r"numbers in a tally|reshape"):
            unpacked(content.replace(was, now))


def test_a_digest_tells_identity_runs_and_content_apart() -> None:
    made = {
        digest(name, span, content)
        for name in ("a", "b", "a\n1 2")
        for span in (Span(1, 2), Span(12, 2), Span(1, 22))
        for content in (b"", b"x")
    }
    assert len(made) == 18


def test_what_is_kept_is_there_for_the_next(tmp_path: pathlib.Path) -> None:
    place = tmp_path / "ledger.sqlite"
    made, size = design(filtered(22.0)), runs_per_block(design())
    plain = run_campaign(made, seed=4, runs=3 * size)
    with LedgerFile(place) as ledger:
        first = run_campaign(made, seed=4, runs=2 * size + 5, ledger=ledger)
        assert first.kept == 0
    with LedgerFile(place) as ledger:
        more = run_campaign(made, seed=4, runs=3 * size, ledger=ledger)
        assert more.kept == 2 * size + 5
        same(more.tally, plain.tally)
        assert run_campaign(made, seed=5, runs=size, ledger=ledger).kept == 0
        assert run_campaign(made, seed=4, runs=size, ledger=ledger, margins=False).kept == 0
        assert run_campaign(design(), seed=4, runs=size, ledger=ledger).kept == 0
        assert run_campaign(made, seed=4, runs=size, engine="events", ledger=ledger).kept == size


def test_many_threads_may_use_one(tmp_path: pathlib.Path) -> None:
    from concurrent.futures import ThreadPoolExecutor

    spans = [Span(at, 3) for at in range(0, 60, 3)]
    parts = {span: run_campaign(design(), seed=1, runs=3, first_run=span.first).tally for span in spans}
    with LedgerFile(tmp_path / "ledger.sqlite") as ledger, ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda span: ledger.keep(NAME, span, parts[span]), spans * 3))
        assert sorted(ledger.spans(NAME)) == spans
        for span, tally in zip(spans, pool.map(lambda span: ledger.tally(NAME, span), spans), strict=True):
            same(tally, parts[span])


def test_a_full_disk_ends_neither_a_campaign_nor_the_next(tmp_path: pathlib.Path) -> None:
    """SQLite itself says that there is no more room: it is allowed no page more than there are."""
    scenario = load_scenario("panel-knob")
    with LedgerFile(tmp_path / "ledger.sqlite") as ledger:
        with ledger.reading() as connection:
            (pages,) = connection.execute("PRAGMA page_count").fetchone()
            connection.execute(f"PRAGMA max_page_count = {pages}")
        for seed in (1, 2):
            name = identity(scenario.design, seed, True)
            ledger.announce(name, scenario.title, scenario.resolved)
            assert run_campaign(scenario.design, seed=seed, runs=20, ledger=ledger).tally.runs == 20
            assert ledger.spans(name) == []
        assert "the disk is full" in str(ledger.trouble)


@pytest.mark.parametrize(
    ("code", "said"),
    [
        (sqlite3.SQLITE_PROTOCOL, "another program keeps it locked"),
        (sqlite3.SQLITE_LOCKED, "another program keeps it locked"),
        (sqlite3.SQLITE_BUSY_SNAPSHOT, "another program keeps it locked"),
        (sqlite3.SQLITE_NOMEM, "there is not enough memory"),
        (sqlite3.SQLITE_CORRUPT, "this ledger is damaged"),
        (sqlite3.SQLITE_NOTADB, "this ledger is damaged"),
    ],
)
def test_only_a_damaged_one_is_called_so(code: int, said: str) -> None:
    """Codes of SQLite's documentation, "Result and Error Codes"."""
    error = sqlite3.OperationalError("by hand")
    error.sqlite_errorcode = code
    assert f"it.sqlite: {said}" in str(trouble("it.sqlite", error))


def test_a_closed_one_keeps_nothing(tmp_path: pathlib.Path) -> None:
    """A thread that was given up may still come with a block."""
    tally = run_campaign(design(), seed=1, runs=3).tally
    ledger = LedgerFile(tmp_path / "ledger.sqlite")
    ledger.close()
    ledger.keep(NAME, Span(0, 3), tally)
    with pytest.raises(ValueError, match="closed"):
        ledger.spans(NAME)
    with LedgerFile(tmp_path / "ledger.sqlite") as again:
        assert again.spans(NAME) == []
        with pytest.raises(LedgerError, match="runs 0 to 2 have vanished"):
            again.tally(NAME, Span(0, 3))


@settings(max_examples=200, deadline=None)
@given(st.lists(st.builds(Span, first=st.integers(0, 60), runs=st.integers(1, 20)), max_size=12))
def test_runs_are_counted_once(spans: list[Span]) -> None:
    assert covered(spans) == len({run for span in spans for run in range(span.first, span.end)})


def test_cells_are_told_by_what_sets_them_apart(tmp_path: pathlib.Path) -> None:
    (tmp_path / "small.toml").write_text(SMALL, encoding="utf-8")
    sets = ((), ("filter.capacitor=47 nF",), ("seed=9",), ("title=other", "hand.click.clicks=3"))
    with LedgerFile(tmp_path / "ledger.sqlite") as ledger:
        for each in sets:
            scenario = load_scenario(str(tmp_path / "small.toml"), each)
            name = identity(scenario.design, scenario.seed, False)
            for _ in range(2):
                ledger.announce(name, scenario.title, scenario.resolved)
            run_campaign(scenario.design, seed=scenario.seed, runs=30, margins=False, ledger=ledger)
        run_campaign(design(), seed=1, runs=10, ledger=ledger)
        ledger.announce(identity(design(), 77, True), "no run", {})
        cells = cells_of(ledger)
        assert broken(ledger) == (5, [])
    assert [cell.title for cell in cells] == ["small", "small", "small", "other", ""]
    assert [(cell.runs, cell.blocks) for cell in cells] == [(30, 1)] * 4 + [(10, 1)]
    assert [cell.head.seed for cell in cells] == [1, 1, 9, 1, 1]
    assert [cell.head.margins for cell in cells] == [False] * 4 + [True]
    assert {cell.head.model for cell in cells} == {MODEL_VERSION}
    nano = [{"filter.capacitor": f"{value} nF"} for value in (100, 47, 100)]
    assert differences(cells) == [*nano, {}, {}]
    paths = load_scenario(str(tmp_path / "small.toml")).paths
    assert set(cells[0].values) <= set(paths) | {"schmitt input.kind", "filter.kind", "hand.click.gesture"}


def test_the_usual_place_and_the_variable_that_names_another(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("STEPTALLY_LEDGER", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    place = default_place(make=False)
    assert tmp_path in place.parents
    assert list(tmp_path.iterdir()) == []
    LedgerFile(default_place()).close()
    assert place.is_file()
    monkeypatch.setenv("STEPTALLY_LEDGER", str(tmp_path / "missing" / "mine.sqlite"))
    assert default_place() == tmp_path / "missing" / "mine.sqlite"
    with pytest.raises(LedgerError, match="there is no folder"):
        LedgerFile(default_place())
    monkeypatch.delenv("STEPTALLY_LEDGER")
    (tmp_path / "file").touch()
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "file"))
    monkeypatch.setenv("HOME", str(tmp_path / "file"))
    with pytest.raises(LedgerError, match="its folder cannot be made"):
        default_place()


def test_an_identity_begins_with_what_is_told_of_a_cell() -> None:
    assert head(identity(design(), 12, False))[2:] == (12, False)
    with pytest.raises(ValueError, match="no identity"):
        head("model 2; seed 1")


def test_work_of_an_unknown_engine_is_refused() -> None:
    with pytest.raises(ValueError, match="batch and events"):
        Job(Work(design(), 1, "steam", True, 5), 0, 5)
