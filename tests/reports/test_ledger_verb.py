"""``run --ledger`` and ``steptally ledger``: what is kept, how it is told, and every mistake."""

from __future__ import annotations

import json
import pathlib
import sqlite3

import jsonschema
import pytest
from click.testing import CliRunner, Result

from reports.cli.group import steptally as group
from reports.documents.ledger import cell_table
from reports.results import schema_of
from reports.results.ledger import LedgerCell
from reports.words.numbers import size_text
from scenarios.ledger import LedgerFile
from tests.reports.running import names


def invoked(*words: str) -> Result:
    """A command in this process, which never ends in a traceback."""
    done = CliRunner().invoke(group, list(words))
    assert done.exit_code in (0, 2), done.stderr
    assert done.stderr.count("Error: ") == (done.exit_code == 2)
    return done


@pytest.fixture
def kept(folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> pathlib.Path:
    """A folder with a ledger of two designs in it, of one title."""
    monkeypatch.chdir(folder)
    for sets in ((), ("--set", "filter.capacitor=220 nF", "--no-margins")):
        invoked("run", "knob.toml", "--runs", "120", "--ledger", "it.sqlite", *sets)
    return folder


def test_a_line_says_how_many_runs_were_there(kept: pathlib.Path) -> None:
    more = invoked("run", "knob.toml", "--runs", "150", "--ledger", "it.sqlite")
    assert more.stderr == "120 of 150 runs were in the ledger.\n"
    one = invoked("run", "knob.toml", "--runs", "1", "--first-run", "9999", "--ledger", "it.sqlite")
    assert one.stderr == "0 of 1 run was in the ledger.\n"
    assert invoked("run", "knob.toml", "--ledger", "it.sqlite", "--quiet").stderr == ""
    plain = invoked("run", "knob.toml", "--runs", "150")
    assert plain.stderr == ""
    assert [line for line in more.stdout.splitlines() if "engine" not in line] == [
        line for line in plain.stdout.splitlines() if "engine" not in line
    ]


def test_the_list_tells_cells_by_what_sets_them_apart(kept: pathlib.Path) -> None:
    text = invoked("ledger", "it.sqlite").stdout
    assert text.startswith("it.sqlite: 2 cells, 240 runs, ")
    assert "Volume knob [bold]in brackets[/bold]" in text
    rows = {line.split()[2]: line for line in text.splitlines() if line.startswith("filter.capacitor = ")}
    assert set(rows) == {"47", "220"}
    assert " kept " in rows["47"]
    assert " - " in rows["220"]
    assert all(len(line) <= 80 for line in text.splitlines())


def test_the_list_as_json_is_valid(kept: pathlib.Path) -> None:
    done = invoked("ledger", "it.sqlite", "--json", "-", "--check")
    found = json.loads(done.stdout)
    jsonschema.validate(found, schema_of("ledger"))
    assert [cell["differs"] for cell in found["cells"]] == [
        {"filter.capacitor": "47 nF"}, {"filter.capacitor": "220 nF"},
    ]  # fmt: skip
    assert [(cell["seed"], cell["runs"], cell["margins"]) for cell in found["cells"]] == [
        (7, 120, True), (7, 120, False),
    ]  # fmt: skip
    assert found["checked"] == sum(cell["blocks"] for cell in found["cells"])
    assert found["runs"] == 240
    assert json.loads(invoked("ledger", "it.sqlite", "--json", "-").stdout)["checked"] is None
    invoked("ledger", "it.sqlite", "--json", "list.json")
    assert json.loads((kept / "list.json").read_text(encoding="utf-8"))["cells"] == found["cells"]


def test_cells_of_another_model_stay_and_are_marked(kept: pathlib.Path) -> None:
    connection = sqlite3.connect("it.sqlite")
    connection.execute("UPDATE cells SET identity = replace(identity, 'model ', 'model 0.') WHERE cell = 2")
    connection.commit()
    connection.close()
    text = invoked("ledger", "it.sqlite").stdout
    assert "(0." in text
    assert "are no longer used" in " ".join(text.split())
    cells = json.loads(invoked("ledger", "it.sqlite", "--json", "-").stdout)["cells"]
    assert [cell["in_use"] for cell in cells] == [True, False]


def test_a_damaged_block_is_named(kept: pathlib.Path) -> None:
    connection = sqlite3.connect("it.sqlite")
    connection.execute("UPDATE blocks SET tally = zeroblob(length(tally)) WHERE cell = 1")
    connection.commit()
    connection.close()
    assert invoked("ledger", "it.sqlite").exit_code == 0
    wrong = "it.sqlite: this ledger is damaged (runs 0 to 119 of "
    assert wrong in invoked("ledger", "it.sqlite", "--check").stderr
    done = invoked("run", "knob.toml", "--runs", "120", "--ledger", "it.sqlite", "--json", "out.json")
    assert (done.exit_code, done.stdout) == (2, "")
    assert "what it keeps of runs 0 to 119 does not match its digest" in done.stderr
    assert "out.json" not in names(kept)


def test_mistakes(kept: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STEPTALLY_LEDGER", str(kept / "none.sqlite"))
    before = names(kept)
    for words, message in (
        (("ledger",), "none.sqlite: there is no such ledger"),
        (("ledger", "knob.toml"), "knob.toml: this is another kind of file and no ledger"),
        (("ledger", "."), ".: this is a folder"),
        (("run", "knob.toml", "--ledger", "knob.toml"), "knob.toml: this is another kind of file"),
        (("run", "knob.toml", "--ledger", ""), "a ledger needs the name of a file"),
        (("run", "knob.toml", "--ledger", "a/b"), "a/b: it cannot be made: there is no folder 'a'"),
        (
            ("run", "knob.toml", "--ledger", "it.sqlite", "--json", "./it.sqlite"),
            "./it.sqlite: named for --json and for --ledger; each needs a file of its own",
        ),
        (
            ("run", "knob.toml", "--ledger", "x.html", "--html", "x.html"),
            "x.html: named for --html and for --ledger; each needs a file of its own",
        ),
    ):
        done = invoked(*words)
        assert (done.exit_code, done.stdout) == (2, "")
        assert message in done.stderr
    assert names(kept) == before
    monkeypatch.setenv("STEPTALLY_LEDGER", str(kept / "it.sqlite"))
    assert "2 cells" in invoked("ledger").stdout


def test_an_empty_ledger_keeps_nothing_yet(folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    LedgerFile("it.sqlite").close()
    text = invoked("ledger", "it.sqlite", "--check").stdout
    assert ": 0 cells, 0 runs, " in text
    assert "Checked: 0 blocks" in text


@pytest.mark.filterwarnings("ignore::reports.errors.LedgerNotice")
def test_a_result_that_could_not_all_be_kept_is_shown_first(
    kept: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> bool:
        error = sqlite3.OperationalError("database or disk is full")
        error.sqlite_errorcode = sqlite3.SQLITE_FULL
        raise error

    plain = invoked("run", "knob.toml", "--runs", "130", "--quiet").stdout
    monkeypatch.setattr(LedgerFile, "_insert", full)
    done = invoked("run", "knob.toml", "--runs", "130", "--ledger", "it.sqlite", "--quiet")
    assert (done.exit_code, done.stdout) == (2, plain)
    assert "it.sqlite: the disk is full; make room there" in done.stderr
    assert "the result is whole, but not all of its runs were kept" in done.stderr


def test_sizes() -> None:
    assert [size_text(size) for size in (0, 999, 1_000, 41_234, 1_250_000, 3 * 10**9)] == [
        "0 B", "999 B", "1.0 kB", "41 kB", "1.2 MB", "3.0 GB",
    ]  # fmt: skip


def test_values_of_a_stage_that_some_cells_lack_do_not_fill_the_list() -> None:
    """Two designs with a filter and one with a lockout: its kind tells the lockout, and nothing is told of
    what a design has not; a key that is missing from a stage that is there still sets its cell apart.
    """
    rc = {"filter.kind": "rc", "filter.pull_up": "4.7 kohm", "lockout.kind": "-", "lockout.time": "-"}
    alone = {"filter.kind": "-", "filter.pull_up": "-", "filter.capacitor": "-", "filter.leak": "-"}
    cells = [
        {**rc, "filter.capacitor": "47 nF", "filter.leak": "-"},
        {**rc, "filter.capacitor": "100 nF", "filter.leak": "1 uA"},
        {**alone, "lockout.kind": "lockout", "lockout.time": "15 ms"},
    ]
    assert differing(*cells) == [
        "filter.kind = rc\nfilter.capacitor = 47 nF",
        "filter.kind = rc\nfilter.capacitor = 100 nF\nfilter.leak = 1 uA",
        "lockout.kind = lockout",
    ]
    assert differing({}) == ["-"]


def differing(*cells: dict[str, str]) -> list[str]:
    """What the table tells of cells with these values."""
    plain = LedgerCell.model_construct(
        seed=1, model="1", in_use=True, pair=False, margins=False, runs=1, bytes=1, first_seen=""
    )
    table = cell_table([plain.model_copy(update={"differs": each}) for each in cells])
    return [*table.columns[0].cells]
