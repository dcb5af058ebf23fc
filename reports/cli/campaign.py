"""What the verbs that simulate campaigns share: progress, Ctrl-C, the ledger's line, and the exit code."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypeVar

from reports.cli.exits import DONE, INTERRUPTED, TARGET_MISSED, complain
from reports.cli.options import Output
from reports.cli.progress import following
from reports.errors import Interrupted
from reports.words.numbers import counted, whole

if TYPE_CHECKING:
    from reports.api.working import Progress
    from reports.results.compare import ComparisonResult
    from reports.results.run import RunResult
    from reports.results.sweep import CellsResult

CampaignResult = TypeVar("CampaignResult", bound="RunResult | CellsResult | ComparisonResult")


def report(
    simulate: Callable[[Progress], CampaignResult],
    output: Output,
    read: Sequence[str],
    *,
    covers: str,
    ledger: str | None,
    uses_ledger: bool,
    missed: Callable[[CampaignResult], bool] = lambda result: False,
) -> int:
    """Simulate, deliver the result, and return the exit code.

    No output may overwrite a file that was ``read`` or the ``ledger``.  After Ctrl-C the report ``covers``
    what was finished; otherwise ``missed`` tells whether a target is not shown to be met.
    """
    output.require(read, ledger)
    code = DONE
    with following(output) as progress:
        try:
            result = simulate(progress)
        except Interrupted as interrupted:
            result, code = interrupted.result, INTERRUPTED
            complain(f"Interrupted; the report covers {covers} until then.")
    if uses_ledger and result.kept is not None and not output.quiet:
        were = "was" if result.runs == 1 else "were"
        complain(f"{whole(result.kept)} of {counted(result.runs, 'run')} {were} in the ledger.")
    output.deliver(result)
    return TARGET_MISSED if code == DONE and missed(result) else code
