"""`replay`: a recorded trace through a scenario's stages and counter, as ``steptally replay`` does."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.api.fragment import Part, grid_table, line, more, strong
from reports.api.given import Given, Sets, taken
from reports.api.options import parsed
from reports.api.result import Result, Row, flat
from reports.errors import refusing

if TYPE_CHECKING:
    from rich.console import Console, RenderableType


@dataclass(frozen=True, repr=False, eq=False)
class Replay(Result):
    """What a design counted of a recorded trace, beside a bounce-free reading of it."""

    @property
    def verdict(self) -> str:
        """What became of the bounce-free counts, in plain words."""
        return str(self.export["verdict"])

    @property
    def right(self) -> bool:
        """Whether every bounce-free count was counted right and nothing else was."""
        from reports.replay_words import all_right

        return all_right(self.export)

    @property
    def counted(self) -> Mapping[str, int]:
        """What was counted: up, down, net, ignored, doubtful, held, spurious, position."""
        found: Mapping[str, int] = self.export["counted"]
        return found

    @property
    def bounce_free(self) -> Mapping[str, int]:
        """The same of the bounce-free reading."""
        found: Mapping[str, int] = self.export["bounce_free"]
        return found

    @property
    def verdicts(self) -> Mapping[str, int]:
        """Bounce-free counts by verdict, bursts that gave counts though none was due (extra), and the sum of
        those counts (extra_net).
        """
        found: Mapping[str, int] = self.export["verdicts"]
        return found

    @property
    def causes(self) -> Mapping[str, int]:
        """Wrong counts by root cause, the commonest first."""
        found: Mapping[str, int] = self.export["causes"]
        return found

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        export = self.export
        return {
            "totals": [
                {"what": name, "counted": count, "bounce_free": self.bounce_free[name]}
                for name, count in self.counted.items()
            ],
            "counts": export["counts"],
            "pulses": [flat(each) for each in export["pulses"]],
            "bounce_free_pulses": [flat(each) for each in export["bounce_free_pulses"]],
            "bursts": export["bursts"],
            "edges": [{"line": name, **each} for name, places in export["lines"].items() for each in places],
        }

    def _blocks(self, console: Console) -> Iterable[RenderableType]:
        from reports.replay_command import ROWS
        from reports.replay_view import blocks

        return blocks(self.export, console, ROWS)

    def _parts(self) -> Sequence[Part]:
        from reports import replay_tables as tables
        from reports.replay_view import edges_line, read_line, taken_line

        export = self.export
        found = [strong(export["title"]), line(read_line(export)), line(taken_line(export))]
        found.append(strong(self.verdict))
        if export["bursts"]:
            found.append(grid_table("Counted, and bounce-free", tables.totals_columns(export)))
            found += [line(edges_line(export, name)) for name in export["lines"]]
            found += [line(sentence) for sentence in export["cause_sentences"].values()]
            pulses = tables.pulse_columns(export, tables.pulse_rows(export))
            found.append(more("Pulse by pulse", grid_table("Pulse by pulse", pulses)))
            found.append(more("Bursts", grid_table("Bursts", tables.burst_columns(export, export["bursts"]))))
        return [*found, more("Mind", *(line(each) for each in export["cautions"]))]

    def _line(self) -> str:
        return f"{self.export['trace']['file']} through {self.export['name']}: {self.verdict}"


def replay(
    trace: str | os.PathLike[str],
    scenario: Given,
    *,
    sets: Sets = (),
    closed: str = "low",
    settle: str = "1 ms",
    threshold: str | None = None,
    unit: str | None = None,
    columns: str | None = None,
    run: int | None = None,
    seed: int | None = None,
) -> Replay:
    """Send a recording of both contacts, a CSV file or a value change dump, through a scenario's stages and
    counter.

    Arguments are those of ``steptally replay`` and take the same texts.  Raises BadInput.
    """
    from reports import replay_command as verb

    with refusing():
        read = parsed(
            verb.replay, os.fspath(trace), closed=closed, settle=settle, threshold=threshold, unit=unit,
            columns=columns, run=run, seed=seed,
        )  # fmt: skip
        loaded = taken(scenario, sets).loaded
        asked = verb.asked_of(
            loaded, read["closed"], read["settle"], read["threshold"], read["seed"], read["run"]
        )
        recording = verb.recording(read["trace"], read["columns"], read["unit"], asked)
        return Replay(verb.replayed(loaded, recording, asked))
