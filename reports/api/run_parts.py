"""What a notebook shows of a run: the sentences and tables of its page, the main ones in sight."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reports.api.fragment import Part, line, more, strong, table

Export = dict[str, Any]


def run_parts(export: Export) -> list[Part]:
    """The parts, in order."""
    from reports.sentences import LASTING

    found = [strong(export["title"]), line(export["simulated"]), *_sentences(export)]
    if export["runs"]:
        found += [*_tables(export), _ended(export), *_margins(export)]
    return [*found, _checks(export), more("Mind", *(line(each) for each in LASTING))]


def _sentences(export: Export) -> Iterator[Part]:
    """The result, and what to mind in particular."""
    from reports.checks_export import summary_lines
    from reports.sentences import LASTING
    from reports.terminal.prose import headline, target_line

    yield strong(headline(export))
    if export["target"] is not None:
        yield strong(target_line(export))
    yield from (line(each) for each in export["cautions"] if each not in LASTING)
    for verdict, words, _ in summary_lines(export["checks"]):
        yield line(f"Check, {verdict}: {words}")


def _tables(export: Export) -> Iterator[Part]:
    """The tables in sight."""
    from reports.page import tables
    from reports.sentences import BOUND_NOTE

    yield table(tables.verdict_table(export))
    if any(rate["estimate"] == 0.0 for rate in export["verdict_rates"].values()):
        yield line(BOUND_NOTE)
    if export["steps"]:
        yield table(tables.gesture_table(export))
        yield table(tables.spacing_table(export))
    if export["causes"]:
        yield table(tables.cause_table(export))


def _ended(export: Export) -> Part:
    """Where the runs ended."""
    from reports.page import tables
    from reports.terminal.runs import exact_line, ohm_line

    ohms = [line(each) for each in (ohm_line(export),) if each]
    return more("Final position", line(exact_line(export)), table(tables.error_table(export)), *ohms)


def _margins(export: Export) -> Iterator[Part]:
    from reports.page import judgements

    margins = export["margins"]
    if margins is not None:
        notes = [line(each) for each in judgements.margin_remarks(margins)]
        yield more("Margins", table(judgements.margin_table(margins)), *notes)


def _checks(export: Export) -> Part:
    from reports.page import judgements

    total = line(judgements.check_line(export["checks"]))
    return more("Electrical checks", total, table(judgements.check_table(export["checks"])))
