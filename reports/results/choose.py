"""The result of ``steptally choose``."""

from __future__ import annotations

import json
import shlex
from collections.abc import Iterable, Mapping
from importlib.resources import files
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from reports.results.common import (
    Amount,
    Count,
    Decision,
    Flag,
    Frozen,
    Level,
    Number,
    Positive,
    Rate,
    Record,
    RootCause,
    Row,
    Share,
    TargetRate,
    Texts,
    flat,
)
from reports.results.sweep import (
    CELL_CAUTIONS,
    CELL_COMMAND,
    RARE,
    CellsResult,
    CellTally,
    cells_fields,
    common_words,
)
from reports.words.commands import set_words
from reports.words.numbers import counted, whole
from reports.words.sentences import ASSUMPTIONS
from simcore.campaigns.choosing import CONFIRMED

if TYPE_CHECKING:
    from reports.api.choices import SearchOutcome
    from reports.api.sweeps import SweepRequest
    from reports.documents.document import Document

CandidateVerdict = Literal["good", "bad", "undecided"]

VERDICT = "Good, bad or undecided, by all steps and those of every gesture together."
ALL_STEPS = (
    "Whether all steps together, whatever their gesture, are shown to meet the target (yes), shown to miss "
    "it (no), or neither; the acceptable range of all steps is drawn by that."
)
CHECKS_FAILED = "Electrical checks that fail, each with its subject."
SAME_VERDICT = "The verdict as yes (good), no (bad) or undecided."
MARGIN_RULE = (
    "Margin: the smaller of two distances in decades (a factor of ten is 1), from the upper bound of the "
    "worst gesture's wrong rate down to the target, and from the varied values to the nearest value that "
    "does not meet it (beyond the last one tried, the next counts as one that does not)."
)
ASSUMPTIONS_OF_CHOICES = (
    "All candidates share one seed: in the search they meet the same hands, the same bounce and the same "
    "draws of their parts; those tried again meet new ones.",
    "The target counts wrong steps: missed, doubled and reversed. Spurious counts, which no movement caused, "
    "are shown but not compared with it.",
)
MOST_CHECKED = 24
"""Good candidates, those with most room first, whose electrical checks are computed."""


class WorstGesture(Record):
    """The gesture with the highest rate of wrong steps."""

    gesture: str | None = Field(description="Its name; null where no gesture has steps.")
    wrong_rate: Rate = Field(description="Its wrong steps over its steps.")
    cause: RootCause | None = Field(
        description="The root cause of most of its wrong steps; null where none went wrong."
    )


class Candidate(CellTally):
    """A cell that was judged in the search."""

    meets_target: Decision | None = Field(description=SAME_VERDICT)
    verdict: CandidateVerdict = Field(description=VERDICT)
    all_steps_meet: Decision = Field(description=ALL_STEPS)
    cautions: Texts = Field(description=CELL_CAUTIONS)
    command: str = Field(description=CELL_COMMAND)

    @property
    def steps_meet(self) -> Decision:
        """Whether all its steps together, whatever their gesture, meet the target."""
        return self.all_steps_meet


class ClosestCandidate(Candidate):
    """The candidate that comes closest to the target where none meets it."""

    worst: WorstGesture = Field(description="Its worst gesture.")
    bound: Number = Field(
        description="The largest upper end of its 95 % confidence intervals, as a fraction."
    )


class AlternativeKind(CellTally):
    """Another kind of stage that was tried; its values are empty."""

    number: Count = Field(description="Its place among those tried, from 0.")
    values: Frozen[str, str] = Field(max_length=0, description="Empty: no key is varied.")
    meets_target: Decision | None = Field(description=SAME_VERDICT)
    verdict: CandidateVerdict = Field(description=VERDICT)
    all_steps_meet: Decision = Field(description=ALL_STEPS)
    cautions: Texts = Field(description=CELL_CAUTIONS)
    command: None = Field(description="Always null: its stages are no ready scenario.")
    name: str = Field(description="Its name.")
    what: str = Field(description="What it is, with its values.")
    toml: str = Field(description="The tables of its stages as TOML.")
    worst: WorstGesture = Field(description="Its worst gesture.")
    checks_failed: Texts = Field(description=CHECKS_FAILED)


class NeighbourValue(Record):
    """What lies next to a candidate in one direction along a key."""

    value: str | None = Field(
        description="The first value that is not good; null where every value tried is good."
    )
    decades: Number | None = Field(
        description="Its distance in decades of the ratio of values; beyond the last value tried the next "
        "one counts as not good. Null where values are no numbers above 0."
    )
    verdict: CandidateVerdict | None = Field(
        description="Its verdict in the search; null where there is none."
    )
    spoiler: WorstGesture | None = Field(description="Its worst gesture; null where there is none.")


class NeighbourValues(Record):
    """What lies next to a candidate along one key."""

    path: str = Field(description="The key.")
    below: NeighbourValue = Field(description="Towards smaller values, or those before it.")
    above: NeighbourValue = Field(description="Towards larger values, or those after it.")


class RetriedCandidate(CellTally):
    """A candidate that was tried again with new runs."""

    runs: Positive = Field(description="New runs that were finished, from first_fresh_run on.")
    meets_target: Decision | None = Field(description=SAME_VERDICT)
    verdict: CandidateVerdict = Field(
        description="Good: confirmed on the new runs; otherwise bad or undecided."
    )
    bound: Number = Field(
        description="Upper end of the interval of the wrong rate of the worst gesture, by which the "
        "candidate was confirmed or not."
    )
    bound_level: Level = Field(
        description="Confidence that the bounds of all candidates tried again hold together."
    )
    decades: Number = Field(
        description="How far that bound lies below the target, in decades; negative above it."
    )
    cautions: Texts = Field(description=CELL_CAUTIONS)
    command: str = Field(description=CELL_COMMAND)
    sides: tuple[NeighbourValues, ...] = Field(description="For each key what lies below and above.")
    room: Number | None = Field(
        description="The smallest distance in decades to a value that is not good; null where no key has "
        "numbers above 0."
    )
    checks_failed: Texts = Field(description=CHECKS_FAILED)
    margin: Number = Field(description="The smaller of decades and room.")
    margin_of: Literal["rate", "values"] = Field(
        description="Which of the two it is: decades (rate) or room (values)."
    )
    worst: WorstGesture = Field(description="The worst gesture in the new runs.")


class SearchTotals(Record):
    """Candidates by verdict, and the runs of all of them."""

    good: Count = Field(description="Good candidates.")
    bad: Count = Field(description="Bad candidates.")
    undecided: Count = Field(description="Undecided candidates.")
    runs: Count = Field(description="Runs of all candidates.")


class RefusedKind(Record):
    """A kind of stage that cannot be tried with this scenario."""

    name: str = Field(description="Its name.")
    why: str = Field(description="Why it cannot be tried.")


class AcceptanceShares(Record):
    """How often the rule of choose decided, in a campaign of repetitions with known rates."""

    repetitions: Positive = Field(description="Repetitions of the search.")
    good: Share = Field(description="Share of the repetitions that ended with the verdict good.")
    bad: Share = Field(description="Share of the repetitions that ended with the verdict bad.")
    runs: Amount | None = Field(
        description="Median of the runs that the verdict good took; null where there was none."
    )
    runs_nine_in_ten: Amount | None = Field(
        description="Runs within which nine in ten of the verdicts good came; null where there was none."
    )


class AcceptanceCase(Record):
    """How wrong steps are drawn."""

    law: str = Field(description="How wrong steps are spread over runs.")
    times: Amount = Field(description="The rate simulated, over the target.")
    both: Flag = Field(description="Whether both gestures have that rate; otherwise only the first has.")


class AcceptanceByLaw(AcceptanceShares, AcceptanceCase):
    """Shares for wrong steps drawn by a law; the case comes first, then its shares."""


class AcceptanceDesign(Record):
    """A ready scenario from whose simulated runs campaigns are drawn."""

    rate: Share = Field(description="The design's rate of wrong steps, taken as the target.")
    looks: tuple[Positive, ...] = Field(description="Runs after which there is an interim analysis.")


class AcceptanceOfDesign(AcceptanceShares, AcceptanceDesign):
    """Shares for the runs of a ready scenario; the design comes first, then its shares."""


class FalseAcceptance(Record):
    """The largest share of designs at the target that were called good."""

    worst_share: Share = Field(description="Largest share of the verdict good among the cases.")
    cases: Positive = Field(description="Number of cases.")
    repetitions: Positive = Field(description="Repetitions of each case.")


class UnseenAcceptance(Record):
    """The same where wrong steps come in units too rare to be met."""

    worst_share: Share = Field(description="Largest share of the verdict good among the cases.")
    repetitions: Positive = Field(description="Repetitions of each case.")


class AcceptanceCampaign(Record):
    """What the recorded campaign found of false acceptance and of the runs that are needed."""

    at_target: FalseAcceptance = Field(
        description="Designs whose rate is the target, with laws that runs show."
    )
    unseen: UnseenAcceptance = Field(
        description="Designs whose rate is the target, with wrong steps in units too rare to be met."
    )
    rate: Share = Field(description="The target of the campaign, as a fraction.")
    looks: tuple[Positive, ...] = Field(description="Runs after which there is an interim analysis.")
    by_chance: tuple[AcceptanceByLaw, ...] = Field(description="Rates at and above the target, by law.")
    power: tuple[AcceptanceByLaw, ...] = Field(description="Rates below the target, by law.")
    by_unseen: tuple[AcceptanceByLaw, ...] = Field(
        description="Rates at the target, with wrong steps in units too rare to be met."
    )
    real: Frozen[str, AcceptanceOfDesign] = Field(description="Ready scenarios, by name and value.")


class ChoiceResult(CellsResult):
    """The values that meet a target at every gesture of the hand, ranked; what limits them; other stages."""

    target: TargetRate = Field(description="What candidates are compared with.")
    rule: str = Field(description="How a candidate is judged, in words.")
    cells: tuple[Candidate, ...] = Field(description="The candidates whose search was finished, in order.")
    varied_by: Literal["the user", "rule"] = Field(description="Who chose what to vary: the user, or a rule.")
    confidence: Level = Field(description="Confidence of the decisions.")
    fewest_runs: Positive = Field(description="Fewest runs that can show the target, if no step goes wrong.")
    can_be_shown: Flag = Field(
        description="Whether runs_asked is at least fewest_runs; otherwise no candidate can be good."
    )
    first_fresh_run: Positive = Field(description="Number of the first of the new runs.")
    search: SearchTotals = Field(description="Candidates by verdict, and the runs of all of them.")
    recommended: RetriedCandidate | None = Field(
        description="The best of those confirmed; null if there is none."
    )
    ranked: tuple[RetriedCandidate, ...] = Field(
        description="Those tried again, the best first: good ones, without failed checks, with the larger "
        "margin."
    )
    closest: ClosestCandidate | None = Field(
        description="Where none is recommended: the candidate that comes closest; null where there is none."
    )
    alternatives: tuple[AlternativeKind, ...] = Field(
        description="Where none is recommended: other kinds of stage, the best first."
    )
    refused: tuple[RefusedKind, ...] = Field(description="Kinds that cannot be tried with this scenario.")
    margin_rule: str = Field(description="What the margin is, in words.")
    measured: AcceptanceCampaign = Field(
        description="What the recorded campaign found of false acceptance and of the runs that are needed."
    )

    @classmethod
    def of(
        cls, request: SweepRequest, found: SearchOutcome, fewest_runs: int, *, by_rule: bool
    ) -> ChoiceResult:
        """The result of a finished or interrupted choice, whose target so many runs can show at the least;
        ``by_rule`` if nobody said what to vary.
        """
        from reports.api.choices import closest

        target, stop, cells = request.target, request.options.stop, found.search.cells
        assert target is not None and stop.target is not None  # noqa: S101, PT018 - a choice has both
        command = shlex.join([*common_words("choose", request), *set_words(request.named)])
        confidence = stop.target.confidence
        return cls(
            **{
                **cells_fields(request, cells, found.search, command),
                "complete": found.complete,
                "seconds": found.seconds,
                "rule": search_rule(target.text, stop.runs, confidence),
                "assumptions": (*ASSUMPTIONS, *ASSUMPTIONS_OF_CHOICES),
            },
            varied_by="rule" if by_rule else "the user",
            confidence=confidence,
            fewest_runs=fewest_runs,
            can_be_shown=stop.runs >= fewest_runs,
            first_fresh_run=stop.runs,
            search=SearchTotals(
                **{
                    word: sum(cell.verdict == word for cell in cells) for word in ("good", "bad", "undecided")
                },
                runs=sum(cell.runs for cell in cells),
            ),
            recommended=found.recommended,
            ranked=tuple(found.retried),
            closest=closest(cells) if found.recommended is None else None,
            alternatives=tuple(found.others),
            refused=tuple(found.refused),
            margin_rule=MARGIN_RULE,
            measured=measured(),
        )

    def document(self) -> Document:
        from reports.documents.choose import document

        return document(self)

    @property
    def runs(self) -> int:
        """All runs that are reported."""
        return sum(cell.runs for part in (self.cells, self.ranked, self.alternatives) for cell in part)

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        ranked = list(enumerate(self.ranked, start=1))
        return {
            "ranked": [cell.row("sides", rank=rank) for rank, cell in ranked],
            "sides": [flat(side, rank=rank) for rank, cell in ranked for side in cell.sides],
            "alternatives": [cell.row("toml") for cell in self.alternatives],
            **super()._tables(),
        }


def measured() -> AcceptanceCampaign:
    """What the recorded campaign found of false acceptance (tests/theory/acceptance.py writes it)."""
    text = files("reports").joinpath("measured", "acceptance.json").read_text(encoding="utf-8")
    return AcceptanceCampaign.model_validate(json.loads(text))


def search_rule(target: str, runs: int, confidence: float) -> str:
    return (
        f"A candidate meets the target ({target}) if the upper bounds of its wrong rate, of all steps and of "
        "every gesture of the hand, are at or below it, misses it once a lower bound is above it, and is "
        f"undecided after {counted(runs, 'run')}. The interim analyses share the chance of an error, and no "
        "candidate meets the target with fewer runs than would show it without any wrong step. Up to "
        f"{CONFIRMED} of those that meet it (of the {MOST_CHECKED} with most room, those without a failed "
        "electrical check before those with one) are tried again on as many new runs (from number "
        f"{whole(runs)} on). What is shown of them comes from those alone; they are ranked by failed checks, "
        "then by margin. The chance that any of them is confirmed and yet misses the target is at most "
        f"{100.0 * (1.0 - confidence):.0f} %, however many were searched; it is more {RARE}."
    )


def cannot_be_shown(target: str, runs: int, fewest: int) -> str:
    """That so many runs can never show a target, and how many can."""
    return (
        f"{whole(runs)} runs can never show a rate of {target}, not even without a wrong step: that takes "
        f"{whole(fewest)} runs at least (--runs {fewest}). No candidate will be shown to meet it."
    )
