"""How to simulate: what the command line and the Python interface say once, and every campaign reads."""

from __future__ import annotations

from dataclasses import dataclass

from simcore.statistics.stopping import Stop

ENGINES = ("batch", "events")


@dataclass(frozen=True)
class RunOptions:
    """Runs from ``first_run`` on, drawn with ``seed``, until ``stop``; with ``margins`` or without.

    ``threads`` are those of this process that compute; ``block`` is the most runs of one block, None for as
    many as suit the engine.  No number depends on ``engine``, ``threads`` or ``block``.  Raises ValueError
    for an unknown engine.
    """

    seed: int
    stop: Stop
    first_run: int = 0
    engine: str = "batch"
    threads: int = 1
    margins: bool = True
    block: int | None = None

    def __post_init__(self) -> None:
        if self.engine not in ENGINES:
            raise ValueError(f"no engine {self.engine!r}; there are {' and '.join(ENGINES)}")
