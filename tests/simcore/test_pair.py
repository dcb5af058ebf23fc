"""The contract of stages that work on both lines, in both engines."""

from __future__ import annotations

import pathlib
import subprocess
import sys

import numpy as np

from simcore.base.records import edges_of_runs, empty_edges
from simcore.design import StageEntry
from simcore.engines.batch import ChainRunner
from simcore.stages.interlock import Interlock
from simcore.stages.pair import drive_pair
from tests.simcore.builders import design, filtered

TOP = pathlib.Path(__file__).parents[2]
RUNS = [(0, [10, 20, 30, 40], [16, 32, 48, 64]), (1, [5, 5, 6], [0, 16, 32]), (0, [], [])]
OTHER = [(1, [15, 25, 35], [160, 176, 192]), (0, [5, 7], [160, 176]), (1, [1], [160])]


def test_a_stage_that_waits_is_the_same_in_both_engines() -> None:
    """In a process of its own, lest compiled code know the trial's stage; nothing is compiled there."""
    command = [sys.executable, "-m", "tests.simcore.pair_trial"]
    done = subprocess.run(command, cwd=TOP, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    designs, edges, pulses = (int(word) for word in done.stdout.split())
    assert designs >= 100
    assert min(edges, pulses) > 1000


def test_a_block_that_finds_no_room_says_how_many_runs_did() -> None:
    a, b = edges_of_runs(RUNS), edges_of_runs(OTHER)
    ends = np.full(3, 100, np.int64)
    plain = drive_pair.plain  # type: ignore[attr-defined]
    whole = empty_edges(50, 3), empty_edges(50, 3)
    assert plain(Interlock(0.0), 1, 0, 0, a, b, ends, *whole) == 3
    found = [int(out.offsets[3]) for out in whole]
    assert min(found) > 3
    just = empty_edges(found[0], 3), empty_edges(found[1], 3)
    assert plain(Interlock(0.0), 1, 0, 0, a, b, ends, *just) == 3
    for room_a, room_b in [(0, 0), (1, 50), (50, 1), (found[0] - 1, 50), (50, found[1] - 1)]:
        outs = empty_edges(room_a, 3), empty_edges(room_b, 3)
        assert plain(Interlock(0.0), 1, 0, 0, a, b, ends, *outs) < 3


def test_a_passage_makes_room_until_it_is_enough() -> None:
    chain = design((StageEntry("interlock", Interlock(0.0)),)).chain
    a, b = edges_of_runs(RUNS), edges_of_runs(OTHER)
    ends = np.full(3, 100, np.int64)
    small = ChainRunner(chain, 1, 3).send((a, b), ends, 1, 0)
    large = ChainRunner(chain, 100, 3).send((a, b), ends, 1, 0)
    for line in (0, 1):
        assert len(small[line]) == 2
        for one, two in zip(small[line], large[line], strict=True):
            used = int(two.offsets[-1])
            assert used > 3
            assert np.array_equal(one.times[:used], two.times[:used])
            assert np.array_equal(one.causes[:used], two.causes[:used])
            assert np.array_equal(one.offsets, two.offsets)
            assert np.array_equal(one.first, two.first)


def test_both_lines_are_logic_levels_in_front_of_a_pair() -> None:
    only_a = tuple(StageEntry(entry.name, entry.item, (0,)) for entry in filtered(100.0))
    chain = design((*only_a, StageEntry("interlock", Interlock(0.0)))).chain
    assert chain.turned == (0, 1)
    assert [layer.serves(1) for layer in chain.layers] == [False, True]
