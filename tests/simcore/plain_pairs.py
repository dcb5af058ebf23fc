"""The sums of a comparison, step by step in plain Python, from each design simulated by itself."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.judging.sums import CAUSES, QUANTITIES, VERDICTS

WRONG = ("missed", "doubled", "reversed")


@dataclass(frozen=True)
class Step:
    """What became of one step."""

    gesture: int
    verdict: str
    cause: str

    def has(self, quantity: str) -> bool:
        """Whether it counts towards a quantity."""
        return self.verdict in WRONG if quantity == "wrong" else self.verdict == quantity


@dataclass
class Sums:
    """Sums of one quantity in one group; ``table`` by whether a run has it in the first and in the other."""

    runs: int = 0
    numbers: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    table: dict[tuple[bool, bool], int] = field(default_factory=lambda: defaultdict(int))


def runs_of(design: Design, seed: int, first_run: int, runs: int) -> list[list[Step]]:
    """The steps of each run, one run at a time."""
    engine = BatchEngine(design, 1)
    found = []
    for run in range(first_run, first_run + runs):
        detail = engine.detail(seed, run, 1)
        rows = zip(detail.truth.steps.gestures.tolist(), detail.verdicts, detail.causes, strict=False)
        found.append([Step(gesture, VERDICTS[verdict], CAUSES[cause]) for gesture, verdict, cause in rows])
    return found


def sums_of(one: list[list[Step]], other: list[list[Step]], quantity: str, group: int) -> Sums:
    """Sums over runs of a quantity in a group: 0 for all steps, then the gestures."""
    sums = Sums()
    for mine, theirs in zip(one, other, strict=True):
        pairs = [(a, b) for a, b in zip(mine, theirs, strict=True) if group in (0, 1 + a.gesture)]
        if not pairs:
            continue
        in_first = [a.has(quantity) for a, _ in pairs]
        in_other = [b.has(quantity) for _, b in pairs]
        x = len(pairs)
        p = sum(b and not a for a, b in zip(in_first, in_other, strict=True))
        m = sum(a and not b for a, b in zip(in_first, in_other, strict=True))
        sums.runs += 1
        for name, value in {
            "x": x, "xx": x * x, "p": p, "pp": p * p, "xp": x * p,
            "m": m, "mm": m * m, "xm": x * m, "pm": p * m,
        }.items():  # fmt: skip
            sums.numbers[name] += value
        sums.table[any(in_first), any(in_other)] += 1
    return sums


def same_sums(pairs: Any, one: list[list[Step]], other: list[list[Step]], gestures: int) -> int:
    """Assert that a comparison's sums are these; returns the discordant steps, all quantities together."""
    seen = 0
    for quantity in QUANTITIES:
        for group in range(1 + gestures):
            plain, pair = sums_of(one, other, quantity, group), pairs.pair(quantity, group)
            assert pair.runs == plain.runs
            assert {name: getattr(pair, name) for name in plain.numbers} == plain.numbers
            table = {
                (False, False): pair.both_right, (False, True): pair.b_wrong,
                (True, False): pair.a_wrong, (True, True): pair.both_wrong,
            }  # fmt: skip
            assert {key: count for key, count in table.items() if count} == plain.table
            assert pairs.only(quantity, group) == (pair.m, pair.p)
            seen += pair.p + pair.m
    return seen


def partings_of(
    one: list[list[Step]], other: list[list[Step]], first_run: int
) -> dict[Any, tuple[int, int, int]]:
    """Every pair of unlike outcomes: how many steps, and run and number of the first."""
    found: dict[Any, tuple[int, int, int]] = {}
    for run, (mine, theirs) in enumerate(zip(one, other, strict=True), start=first_run):
        for number, (a, b) in enumerate(zip(mine, theirs, strict=True), start=1):
            key = (a.verdict, a.cause), (b.verdict, b.cause)
            if key[0] != key[1]:
                count, *place = found.get(key, (0, run, number))
                found[key] = (count + 1, place[0], place[1])
    return found


def spurious_of(design: Design, seed: int, first_run: int, runs: int) -> list[int]:
    """Counts of each run that no movement caused, as each run's own tally has them."""
    engine = BatchEngine(design, 1)
    return [int(engine.run(seed, run, 1).sums.spurious[0]) for run in range(first_run, first_run + runs)]


def same_spurious(pairs: Any, one: list[int], other: list[int]) -> int:
    """Assert that a comparison's sums of spurious counts are these; returns how many there are."""
    more = [max(0, b - a) for a, b in zip(one, other, strict=True)]
    fewer = [max(0, a - b) for a, b in zip(one, other, strict=True)]
    pair = pairs.spurious_pair()
    assert (pair.runs, pair.x, pair.xx) == (len(one),) * 3
    assert (pair.p, pair.pp, pair.xp) == (sum(more), sum(p * p for p in more), sum(more))
    assert (pair.m, pair.mm, pair.xm, pair.pm) == (sum(fewer), sum(m * m for m in fewer), sum(fewer), 0)
    kinds = [(a > 0, b > 0) for a, b in zip(one, other, strict=True)]
    table = pair.both_right, pair.b_wrong, pair.a_wrong, pair.both_wrong
    assert table == tuple(
        kinds.count(k) for k in ((False, False), (False, True), (True, False), (True, True))
    )
    return sum(one) + sum(other)
