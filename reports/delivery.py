"""The results of a verb, to wherever they are asked for: a page, JSON, the terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Protocol

from reports.errors import BadInput
from reports.output import STANDARD_OUTPUT, write, write_file

Export = dict[str, Any]
Written = Callable[[Export], str]


class Places(Protocol):
    """Where results go: files named by --json (or - for standard output) and by --html, None for nowhere."""

    @property
    def json(self) -> str | None:
        """The option --json."""
        ...

    @property
    def html(self) -> str | None:
        """The option --html."""
        ...


def deliver(export: Export, places: Places, page: Written, text: Written, failed: Sequence[str] = ()) -> None:
    """Write the ``page``, the JSON and the ``text`` of a result.

    What cannot be written does not keep the rest from being; BadInput comes at the end, with what
    ``failed`` before as well.
    """
    from reports.exports import as_json

    failures = [*failed]
    if places.html is not None:
        _write_or_note(failures, places.html, page(export))
    if places.json not in (None, STANDARD_OUTPUT):
        _write_or_note(failures, str(places.json), as_json(export))
    write(as_json(export) if places.json == STANDARD_OUTPUT else text(export))
    if failures:
        raise BadInput(*failures)


def _write_or_note(failures: list[str], place: str, text: str) -> None:
    try:
        write_file(place, text)
    except BadInput as error:
        failures += error.lines
