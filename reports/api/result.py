"""What every result can do: its object, its tables, and its looks in a terminal and in a notebook."""

from __future__ import annotations

import functools
from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from reports.api.readonly import ReadOnlyDict, read_only

if TYPE_CHECKING:
    import os

    from rich.console import Console, ConsoleOptions, RenderableType, RenderResult

    from reports.api.fragment import Part

Export = dict[str, Any]
Row = Mapping[str, Any]
Rows = tuple[ReadOnlyDict, ...]


class Estimate(NamedTuple):
    """An estimate between ``low`` and ``high``, both at the confidence ``level``, by a ``method`` in words.

    Shares and rates are fractions: 0.008 is 8 per 1,000.  None where there is no data.
    """

    estimate: float | None
    low: float | None
    high: float | None
    level: float
    method: str


@dataclass(frozen=True, repr=False, eq=False)
class Result(ABC):
    """A result that cannot be changed.  ``export`` is the object that the verb's ``--json`` writes."""

    export: Export

    def __post_init__(self) -> None:
        object.__setattr__(self, "export", read_only(self.export))

    def json(self) -> str:
        """The text that the verb's ``--json`` writes."""
        from reports.exports import as_json

        return as_json(self.export)

    @functools.cached_property
    def tables(self) -> Mapping[str, Rows]:
        """Plain tables by name: tuples of dictionaries, all of a table with the same keys, values without
        anything nested.  Keys are those of the JSON, joined by dots.
        """
        return ReadOnlyDict({name: even([*rows]) for name, rows in self._tables().items()})

    def table(self, name: str) -> Rows:
        """One of `tables`.  Raises BadInput with the nearest name for one that does not exist."""
        from reports.api.errors import BadInput
        from scenarios.loading.messages import hint, listed, shown

        if name not in self.tables:
            known = hint(str(name), self.tables)
            raise BadInput(f"table: read {shown(name)}; allowed is {listed(list(self.tables))}{known}")
        return self.tables[name]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """The verb's own report, as wide as there is room."""
        from reports.output import layout
        from reports.terminal.blocks import stacked

        yield from stacked(self._blocks(layout(options.max_width, options.encoding)))

    def _repr_html_(self) -> str:
        """A part of a page for a notebook: it loads nothing, and takes the colours of what is around it."""
        from reports.api.fragment import html

        return html(self._parts())

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self._line()}>"

    @abstractmethod
    def _tables(self) -> Mapping[str, Iterable[Row]]:
        """The plain tables."""

    @abstractmethod
    def _blocks(self, console: Console) -> Iterable[RenderableType]:
        """The verb's report; ``console`` tells how wide it may be and what it can show."""

    @abstractmethod
    def _parts(self) -> Sequence[Part]:
        """What a notebook shows."""

    @abstractmethod
    def _line(self) -> str:
        """The result in one line."""


class Paged(Result):
    """A result with an HTML page of its own."""

    @abstractmethod
    def page(self) -> str:
        """The page that the verb's ``--html`` writes."""

    @abstractmethod
    def _read(self) -> Sequence[str]:
        """Files that the result was made of, which no page may overwrite."""

    def save_page(self, file: str | os.PathLike[str]) -> None:
        """Write the page, whole or not at all.  Raises BadInput if it cannot be written."""
        import os

        from reports.api.errors import refusing
        from reports.output import require_places, write_file

        with refusing():
            require_places({"a page": os.fspath(file)}, self._read())
            write_file(os.fspath(file), self.page())


def even(rows: Sequence[Row]) -> Rows:
    """The rows with the same keys in all: what a row lacks is None.  A key under which other rows have keys
    of their own ("below" beside "below.cause") is left out.
    """
    keys = dict.fromkeys(key for row in rows for key in row)
    parents = {key[:at] for key in keys for at, letter in enumerate(key) if letter == "."}
    kept = [key for key in keys if key not in parents or any(row.get(key) is not None for row in rows)]
    return tuple(ReadOnlyDict({key: row.get(key) for key in kept}) for row in rows)


def flat(record: Mapping[str, Any], **first: Any) -> dict[str, Any]:
    """A nested record as one row: keys joined by dots, a list of plain values as text; lists of tables are
    left out.  ``first`` are columns in front.
    """
    row = dict(first)
    for key, value in record.items():
        if isinstance(value, Mapping):
            row |= {f"{key}.{inner}": each for inner, each in flat(value).items()}
        elif not isinstance(value, list):
            row[key] = value
        elif not any(isinstance(each, (Mapping, list)) for each in value):
            row[key] = ", ".join(str(each) for each in value)
    return row
