"""The report of ``steptally check``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.documents.document import Document, Section, Sentence
from reports.documents.shared import CHECK_METHOD, check_details, check_table, totals_line

if TYPE_CHECKING:
    from reports.results.check import CheckResult

NO_NETWORK = "No network and no input: the counter reads the contacts as logic levels."


def document(result: CheckResult) -> Document:
    networks = tuple(
        Sentence(
            each.words, lead=f"{'Lines' if len(each.lines) > 1 else 'Line'} {' and '.join(each.lines)}  "
        )
        for each in result.networks
    )
    job = networks or (Sentence(NO_NETWORK),)
    table = (Sentence(totals_line(result.checks), "headline"), check_table(result.checks))
    return Document(
        result.title or result.name,
        "electrical checks",
        job,
        (
            Section("result", "", table, "Result"),
            Section("details", "", (*check_details(result.checks), Sentence(CHECK_METHOD, "quiet"))),
        ),
        brief=table,
    )
