"""Every step and every pulse is accounted for once.

Verdicts add up to steps, in all and in each group; every pulse belongs to one step or is
spurious; positions follow from pulses.
"""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.records import NO_TRANSITION, pack_cause
from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.engines.blocks import BlockDetail, Judge
from simcore.judging.sums import FLICKERED, MISSED, NO_CAUSE, QUANTITIES, SPACINGS, VERDICTS
from simcore.judging.tally import Tally, tally_of
from tests.theory import designs as make
from tests.theory.looking import run_of

RUNS = 6


def tally_for(design: Design, detail: BlockDetail) -> Tally:
    """The block's tally."""
    names = tuple(entry.name for entry in design.hand)
    return tally_of(names, detail.result.sums, detail.result.errors)


@settings(max_examples=60, deadline=None)
@given(make.designs(), make.seeds)
def test_verdicts_add_up_to_steps(design: Design, seed: int) -> None:
    detail = BatchEngine(design, RUNS).detail(seed, 0, RUNS)
    tally = tally_for(design, detail)
    steps = int(detail.truth.steps.offsets[-1])
    counts = np.bincount(detail.verdicts, minlength=len(VERDICTS))
    assert tally.steps == steps == sum(tally.verdicts.values()) == detail.verdicts.size
    assert list(tally.verdicts.values()) == counts.tolist()
    assert tally.wrong == counts[MISSED:].sum() == sum(tally.causes.values())
    assert sum(tally.excursions) == steps
    assert tally.runs == RUNS


@settings(max_examples=60, deadline=None)
@given(make.designs(), make.seeds)
def test_groups_add_up_to_the_whole(design: Design, seed: int) -> None:
    """By gesture and by spacing of edges, each verdict adds up to that over all steps."""
    tally = tally_for(design, BatchEngine(design, RUNS).detail(seed, 0, RUNS))
    gestures = [tally.gesture_group(g) for g in range(len(design.hand))]
    spacings = [tally.spacing_group(s) for s in range(SPACINGS)]
    for groups in (gestures, spacings):
        assert sum(tally.group_steps(group) for group in groups) == tally.steps
        for name in VERDICTS:
            assert sum(tally.group_verdicts(group)[name] for group in groups) == tally.verdicts[name]
    for quantity in QUANTITIES:
        cluster = tally.cluster(quantity)
        assert cluster.x == tally.steps
        assert cluster.y == (tally.wrong if quantity == "wrong" else tally.verdicts[quantity])


@settings(max_examples=60, deadline=None)
@given(make.designs(), make.seeds)
def test_run_sums_by_their_definition(design: Design, seed: int) -> None:
    """Sums of y, y^2, x y, x and x^2 over runs, from the verdicts of single steps."""
    detail = BatchEngine(design, RUNS).detail(seed, 0, RUNS)
    tally = tally_for(design, detail)
    runs = [run_of(detail, r) for r in range(RUNS)]
    for quantity in ("wrong", "flickered"):
        wanted = (FLICKERED,) if quantity == "flickered" else tuple(range(MISSED, len(VERDICTS)))
        y = [sum(v in wanted for v in run.verdicts) for run in runs]
        x = [len(run.verdicts) for run in runs]
        cluster = tally.cluster(quantity)
        assert (cluster.y, cluster.yy) == (sum(y), sum(k * k for k in y))
        assert (cluster.x, cluster.xx) == (sum(x), sum(n * n for n in x))
        assert cluster.xy == sum(n * k for n, k in zip(x, y, strict=True))
        assert (cluster.runs, cluster.runs_with) == (RUNS, sum(k > 0 for k in y))


@settings(max_examples=60, deadline=None)
@given(make.designs(), make.seeds)
def test_only_wrong_steps_have_a_cause(design: Design, seed: int) -> None:
    detail = BatchEngine(design, RUNS).detail(seed, 0, RUNS)
    assert np.array_equal(detail.causes != NO_CAUSE, detail.verdicts >= MISSED)


@settings(max_examples=60, deadline=None)
@given(make.designs(), make.seeds)
def test_positions_follow_from_pulses(design: Design, seed: int) -> None:
    """Every move is +1, -1 or 0, stays between the stops, and is what was asked unless a stop held it."""
    detail = BatchEngine(design, RUNS).detail(seed, 0, RUNS)
    pulses, place = detail.pulses, design.range
    for r in range(RUNS):
        lo, hi = pulses.offsets[r : r + 2]
        moved, asked = pulses.moved[lo:hi].astype(int), pulses.asked[lo:hi].astype(int)
        assert set(asked) <= {-1, 0, 1}
        positions = place.start + np.cumsum(moved)
        if place.positions and not place.wrap:
            assert ((positions >= 0) & (positions < place.positions)).all()
            before = positions - moved
            held = ((before == 0) & (asked < 0)) | ((before == place.positions - 1) & (asked > 0))
            assert np.array_equal(moved, np.where(held, 0, asked))
        else:
            assert np.array_equal(moved, asked)


def estranged(detail: BlockDetail, stride: int) -> tuple[BlockDetail, int]:
    """The same block with every so many pulses caused by nothing; and how many of those counted."""
    count = int(detail.pulses.offsets[-1])
    causes = detail.pulses.causes.copy()
    causes[:count:stride] = pack_cause(NO_TRANSITION, 0)
    lost = int((detail.pulses.asked[:count:stride] != 0).sum())
    changed = BlockDetail(
        detail.truth, detail.lines, detail.pulses._replace(causes=causes),
        detail.verdicts, detail.causes, detail.result,
    )  # fmt: skip
    return changed, lost


@settings(max_examples=60, deadline=None)
@given(make.designs(), make.seeds, st.integers(1, 5))
def test_spurious_pulses_stand_apart(design: Design, seed: int, stride: int) -> None:
    """Pulses that no transition caused are counted beside the steps and never within them."""
    genuine = BatchEngine(design, RUNS).detail(seed, 0, RUNS)
    assert tally_for(design, genuine).spurious == 0
    block, lost = estranged(genuine, stride)
    judged = Judge(design, design.chain)(block.truth, block.lines, block.pulses, 0, True)
    tally = tally_for(design, judged)
    assert tally.spurious == lost
    assert tally.steps == sum(tally.verdicts.values()) == int(block.truth.steps.offsets[-1])
    if stride == 1:
        missed_all = np.abs(judged.truth.clean.net[: tally.steps]) > 0
        unbounded = design.range.positions == 0
        assert not unbounded or (judged.verdicts[missed_all] == MISSED).all()
    assert np.array_equal(judged.result.errors, genuine.result.errors)
