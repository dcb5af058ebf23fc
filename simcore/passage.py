"""Edges on their way through the layers of a chain, block by block.

The batch engine and the replay of recorded traces both send edges this way.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from simcore.blocks import Lines, as_logic
from simcore.chain import Chain, Layer
from simcore.edges import Edges, Ints, empty_edges
from simcore.gauging import is_probed
from simcore.stages.base import drive_stage
from simcore.stages.pair import drive_pair
from simcore.stages.probe import UNREAD, room_for_readings

MOST_EDGES = 200_000_000
"""No block of sane size needs more; memory (2.4 GB) would be the next to end it."""


class Store:
    """One edge array that is used again from block to block and grows when one needs more."""

    def __init__(self, room: int, runs: int) -> None:
        self.runs = runs
        self.kept = empty_edges(room, runs)

    def view(self, runs: int) -> Edges:
        """The array for a block of ``runs`` runs."""
        return self.kept._replace(offsets=self.kept.offsets[: runs + 1], first=self.kept.first[:runs])

    def grow(self) -> None:
        """Twice the room; RuntimeError once that can only come of a rule without end."""
        if self.kept.times.size > MOST_EDGES:
            raise RuntimeError(f"over {MOST_EDGES} edges in a block of {self.runs} runs: a stage without end")
        self.kept = empty_edges(2 * self.kept.times.size + 1024, self.runs)

    def fill(self, runs: int, work: Callable[[Edges], int]) -> Edges:
        """Let ``work`` (which returns the runs that found room) fill the array."""
        while True:
            out = self.view(runs)
            if work(out) == runs:
                return out
            self.grow()


class Passage:
    """Sends blocks of up to ``runs`` runs through ``chain``; results hold until the next block.

    If ``probed``, ``readings`` holds the voltages of A and of B, where a line has any.
    """

    def __init__(self, chain: Chain, room: int, runs: int, *, probed: bool = False) -> None:
        self.chain = chain
        self.probed = probed
        self.readings = [UNREAD, UNREAD]
        self.stores = [(Store(room, runs), Store(room, runs)) for _ in chain.layers]

    def send(self, contacts: tuple[Edges, Edges], ends: Ints, seed: int, first_run: int) -> Lines:
        """For both lines the contact's edges (level 1: closed), then those after each stage.

        ``ends`` (runs,) are the ticks at which the hand is done.
        """
        passed = ([contacts[0]], [contacts[1]])
        for layer, stores in zip(self.chain.layers, self.stores, strict=True):
            a, b = (
                edges[-1] if len(edges) > 1 else as_logic(self.chain, line, edges[0])
                for line, edges in enumerate(passed)
            )
            if layer.pair is not None:
                outs = self._pair(layer, stores, (a, b), ends, seed, first_run)
                for line in (0, 1):
                    passed[line].append(outs[line])
                continue
            for line, source in enumerate((a, b)):
                if layer.line[line] is not None:
                    through = partial(self._stage, layer, line, source, ends, seed, first_run)
                    passed[line].append(stores[line].fill(int(ends.size), through))
        return tuple(passed[0]), tuple(passed[1])

    def _stage(
        self, layer: Layer, line: int, source: Edges, ends: Ints, seed: int, first_run: int, out: Edges
    ) -> int:
        spec, readings = layer.line[line], UNREAD
        if self.probed and is_probed(spec):
            readings = self.readings[line] = room_for_readings(self.readings[line], source)
        return drive_stage(spec, seed, first_run, layer.address + line, source, ends, out, readings)

    def _pair(
        self,
        layer: Layer,
        stores: tuple[Store, Store],
        sources: tuple[Edges, Edges],
        ends: Ints,
        seed: int,
        first_run: int,
    ) -> tuple[Edges, Edges]:
        runs = int(ends.size)
        while True:
            outs = stores[0].view(runs), stores[1].view(runs)
            done = drive_pair(layer.pair, seed, first_run, layer.address, *sources, ends, *outs)
            if done == runs:
                return outs
            for store in stores:
                store.grow()
