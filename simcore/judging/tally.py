"""Tallies: whole numbers that add, whatever order the blocks come in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from simcore.base.records import ORIGIN_NAMES, Ints
from simcore.judging.margins import Margins, joined
from simcore.judging.sums import (
    CAUSES,
    FLICKERED,
    MISSED,
    QUANTITIES,
    RIGHT,
    VERDICTS,
    WRONG,
    Sums,
    empty_sums,
)


@dataclass(frozen=True)
class Cluster:
    """A ratio's sums over runs: y of ``quantity`` on x steps, run by run.

    ``runs`` counts the runs that had such a step at all, ``runs_with`` those with y > 0 and
    ``runs_short`` those with y < x; None where they were not counted.
    """

    runs: int
    runs_with: int | None
    x: int
    xx: int
    y: int
    yy: int
    xy: int
    runs_short: int | None = None


@dataclass(frozen=True)
class Tally:
    """The verdicts on the steps of ``runs`` runs, and more.

    ``gestures`` names the hand's entries; ``errors`` maps a final error (counts) to the number
    of runs that ended with it; ``margins`` are those of all runs, None if any went without.
    """

    gestures: tuple[str, ...]
    runs: int
    sums: Sums
    errors: Mapping[int, int]
    margins: Margins | None = None

    def __post_init__(self) -> None:
        if sum(self.errors.values()) != self.runs:
            raise ValueError(f"final errors of {sum(self.errors.values())} runs in a tally of {self.runs}")

    def __add__(self, other: Tally) -> Tally:
        if self.gestures != other.gestures:
            raise ValueError(
                f"tallies of different hands do not add: {self.gestures} and {other.gestures}; "
                "usually two scenarios were mixed; tally them apart"
            )
        sums = Sums(*(mine + theirs for mine, theirs in zip(self.sums, other.sums, strict=True)))
        errors = Counter(self.errors) + Counter(other.errors)
        return Tally(self.gestures, self.runs + other.runs, sums, dict(errors), self._margins_with(other))

    def _margins_with(self, other: Tally) -> Margins | None:
        """Margins of a part of the runs would pass for those of all."""
        if self.runs == 0:
            return other.margins
        if other.runs == 0:
            return self.margins
        if self.margins is None or other.margins is None:
            return None
        return joined(self.margins, other.margins)

    @property
    def steps(self) -> int:
        return int(self.sums.steps.sum())

    @property
    def verdicts(self) -> dict[str, int]:
        return self._named(self.sums.steps.sum(axis=(0, 1, 2, 4)), VERDICTS)

    @property
    def wrong(self) -> int:
        """Steps missed, doubled or reversed."""
        return int(self.sums.steps[:, :, :, MISSED:, :].sum())

    @property
    def spurious(self) -> int:
        """Pulses that belong to no step."""
        return int(self.sums.spurious[0])

    @property
    def strays(self) -> dict[str, int]:
        """The same pulses by what made them, those that did not occur left out."""
        named = self._named(self.sums.strays[: len(ORIGIN_NAMES)], ORIGIN_NAMES)
        return {name: count for name, count in named.items() if count}

    @property
    def cut(self) -> int:
        """Bursts still running when the same contact reached its next boundary: the encoder's own limit."""
        return int(self.sums.cut[0])

    @property
    def exact_runs(self) -> int:
        """Runs that end at the expected position."""
        return int(self.errors.get(0, 0))

    @property
    def causes(self) -> dict[str, int]:
        """Wrong steps by root cause, most frequent first, without those that did not occur."""
        return self._ranked(self.sums.steps.sum(axis=(0, 1, 2, 3)))

    def gesture_causes(self, gesture: int) -> dict[str, int]:
        """The same for the steps of one entry of the hand."""
        return self._ranked(self.sums.steps[gesture].sum(axis=(0, 1, 2)))

    @property
    def excursions(self) -> tuple[int, ...]:
        """Steps by the furthest that the count strayed on the way: 0 to 7, 8 or more."""
        return tuple(int(count) for count in self.sums.excursions)

    def cluster(self, quantity: str, group: int = 0) -> Cluster:
        """Sums over runs of a verdict, or of "wrong", in a group (0: all steps)."""
        q = QUANTITIES.index(quantity)
        sums = self.sums
        short = None
        if q == RIGHT:
            # At most so many: a run with a wrong step and a flickered one is counted twice.
            others = int(sums.runs_with[group, WRONG]) + int(sums.runs_with[group, FLICKERED])
            short = min(others, int(sums.present[group]))
        return Cluster(
            int(sums.present[group]),
            int(sums.runs_with[group, q]),
            int(sums.size[group]),
            int(sums.size_squared[group]),
            int(sums.total[group, q]),
            int(sums.squared[group, q]),
            int(sums.product[group, q]),
            short,
        )

    def gesture_group(self, gesture: int) -> int:
        return 1 + gesture

    def spacing_group(self, spacing: int) -> int:
        return 1 + len(self.gestures) + spacing

    def group_steps(self, group: int) -> int:
        return int(self.sums.size[group])

    def group_verdicts(self, group: int) -> dict[str, int]:
        return self._named(self.sums.total[group, : len(VERDICTS)], VERDICTS)

    @classmethod
    def _ranked(cls, counts: Ints) -> dict[str, int]:
        named = cls._named(counts, CAUSES)
        named.pop(CAUSES[0])
        found = {name: count for name, count in named.items() if count}
        return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))

    @staticmethod
    def _named(counts: Ints, names: tuple[str, ...]) -> dict[str, int]:
        return {name: int(count) for name, count in zip(names, counts, strict=True)}


def tally_of(gestures: tuple[str, ...], sums: Sums, errors: Ints, margins: Margins | None = None) -> Tally:
    """The tally of one block: its sums, the final error of each run, its margins."""
    values, counts = np.unique(errors, return_counts=True)
    named = {int(value): int(count) for value, count in zip(values, counts, strict=True)}
    return Tally(gestures, int(errors.size), sums, named, margins)


def nothing(gestures: tuple[str, ...]) -> Tally:
    return Tally(gestures, 0, empty_sums(len(gestures)), {})
