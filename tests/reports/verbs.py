"""A small result of every verb, made once, for the tests of what all results have."""

from __future__ import annotations

import functools
import pathlib
import tempfile
from collections.abc import Callable

from reports import api
from reports.results.common import Result
from reports.results.ledger import LedgerResult
from reports.results.replay import ReplayResult
from tests.reports.replays import recording

KNOB = "panel-knob"


def _kept() -> LedgerResult:
    """A ledger of two designs."""
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "kept.ledger"
        for capacitor in ("100 nF", "150 nF"):
            api.run(KNOB, sets={"filter.capacitor": capacitor}, runs=5, ledger=file)
        return api.ledger(file)


def _replayed() -> ReplayResult:
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "trace.csv"
        file.write_text(recording(pairs_a=2, pairs_b=1), encoding="utf-8")
        return api.replay(file, KNOB)


MAKERS: dict[str, Callable[[], Result]] = {
    "run": lambda: api.run(KNOB, runs=60),
    "page": lambda: api.run(KNOB, runs=60).with_gallery(),
    "check": lambda: api.check(KNOB),
    "trace": lambda: api.trace(KNOB, run=2),
    "worst": lambda: api.trace("no-filter", worst=True, runs=20),
    "replay": _replayed,
    "compare": lambda: api.compare("no-filter", with_=["encoder.detents=20", "counter.setup=1 ms"], runs=30),
    "sweep": lambda: api.sweep(
        KNOB, {"filter.capacitor": "22n..220n:E3"}, runs=200, target="1 in 50 steps", use_ledger=False
    ),
    "choose": lambda: api.choose(
        "no-filter", target="1 in 100 steps", vary="counter.setup=1 us, 2 us", runs=500, use_ledger=False
    ),
    "ledger": _kept,
    "show": lambda: api.show("synchroniser-alone"),
    "list": api.list_,
    "kinds": lambda: api.list_("gestures"),
}
NAMES = tuple(MAKERS)


@functools.cache
def made(name: str) -> Result:
    """A result of each sort."""
    return MAKERS[name]()
