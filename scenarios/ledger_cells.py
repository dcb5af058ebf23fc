"""What a ledger keeps, cell by cell, in the terms of the scenarios; and whether every block is whole."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scenarios.ledger_opening import torn
from scenarios.ledgers import LedgerFile, content_of
from simcore.campaigns.identity import Head, head
from simcore.campaigns.ledger import Span

TOLD_ELSEWHERE = ("title", "seed", "runs", "stop", "target")
"""Parts of a scenario that are not what is simulated, or have a column of their own."""

CELLS = "SELECT cell, identity, title, scenario, first_seen FROM cells ORDER BY cell"
BLOCKS = "SELECT first, runs, length(tally) FROM blocks WHERE cell = ?"


@dataclass(frozen=True)
class Cell:
    """All that is kept of one design under one seed.

    ``title`` is the scenario's ("" if nobody said), ``head`` the beginning of its ``identity``,
    ``values`` maps the paths of its scenario to texts; ``runs`` counts the runs that are kept at least
    once, in ``blocks`` blocks of ``size`` bytes together; ``first_seen`` is in UTC (ISO 8601).
    """

    identity: str
    head: Head
    title: str
    values: Mapping[str, str]
    first_seen: str
    runs: int
    blocks: int
    size: int


def cells_of(ledger: LedgerFile) -> list[Cell]:
    """All cells with a run in them, in the order in which they came.  LedgerError if one is damaged."""
    with ledger.reading() as connection:
        told = connection.execute(CELLS).fetchall()
        kept = {number: connection.execute(BLOCKS, (number,)).fetchall() for number, *_ in told}
    try:
        found = [_cell(words, kept[number]) for number, *words in told]
    except ValueError as error:
        raise torn(ledger.path, str(error)) from None
    return [cell for cell in found if cell.runs]


def _cell(told: Sequence[str], kept: Sequence[tuple[int, int, int]]) -> Cell:
    identity, title, scenario, first_seen = told
    runs = covered(Span(first, runs) for first, runs, _ in kept)
    size = sum(size for _, _, size in kept)
    values = dict(_leaves("", json.loads(scenario)))
    return Cell(identity, head(identity), title, values, first_seen, runs, len(kept), size)


def covered(spans: Iterable[Span]) -> int:
    """How many runs lie in one span at least."""
    count, reached = 0, 0
    for span in sorted(spans):
        count += max(0, span.end - max(span.first, reached))
        reached = max(reached, span.end)
    return count


def _leaves(path: str, value: Any) -> Iterator[tuple[str, str]]:
    """The values of a scenario that is written out, by the paths that ``--set`` takes."""
    dot = f"{path}." if path else ""
    if isinstance(value, dict):
        for key, each in value.items():
            if path or key not in TOLD_ELSEWHERE:
                yield from _leaves("" if key == "stage" and not path else f"{dot}{key}", each)
    elif isinstance(value, list) and all(isinstance(each, dict) and "name" in each for each in value):
        for each in value:
            kept = {key: inner for key, inner in each.items() if key != "name"}
            yield from _leaves(f"{dot}{each['name']}", kept)
    else:
        yield path, value if isinstance(value, str) else json.dumps(value)


def differences(cells: Sequence[Cell]) -> list[dict[str, str]]:
    """For each cell, the values that not all cells of its title have; "-" for one that it lacks."""
    alike: dict[str, list[Cell]] = {}
    for cell in cells:
        alike.setdefault(cell.title, []).append(cell)
    found = {title: _differing([cell.values for cell in group]) for title, group in alike.items()}
    return [{path: cell.values.get(path, "-") for path in found[cell.title]} for cell in cells]


def _differing(group: Sequence[Mapping[str, str]]) -> list[str]:
    paths = dict.fromkeys(path for values in group for path in values)
    return [path for path in paths if len({values.get(path) for values in group}) > 1]


def broken(ledger: LedgerFile) -> tuple[int, list[str]]:
    """How many blocks there are, and what is wrong, a text for each fault, none if all is whole.

    Every block is held against its digest, and SQLite's own check looks at the whole file.
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
