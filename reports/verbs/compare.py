"""``steptally compare``: designs held against each other on the same hands, contacts and parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import rich_click as click

from reports import interrupts
from reports.compiled import interpreted_lines, tell_of_first_use
from reports.delivery import deliver
from reports.exits import DONE, INTERRUPTED, complain
from reports.ledger_use import announced_pairs, kept_line, ledger_at, not_kept
from reports.names import SCENARIO, compared, files_read
from reports.stop_options import Rules, stop_options
from reports.verbs.run import MOST_RUNS, MOST_THREADS, cores, require_places
from reports.whole import Whole

if TYPE_CHECKING:
    from reports.simulate import Request
    from scenarios.comparison import Compared
    from scenarios.ledgers import LedgerFile
    from simcore.campaign import Outcome
    from simcore.stopping import Stop

Export = dict[str, Any]


@dataclass(frozen=True)
class Settings:
    """What the command line asks for; None where the first scenario decides."""

    runs: int | None
    seed: int | None
    rules: Rules
    settled: bool
    threads: int | None
    ledger: str | None
    json: str | None
    html: str | None
    quiet: bool
    colour: bool


@click.command(short_help="Hold designs against each other on the same hands, contacts and parts.")
@click.argument("designs", type=SCENARIO, nargs=-1, required=True, metavar="SCENARIO...")
@click.option(
    "--with", "groups", multiple=True, metavar="PATH=VALUE,...",
    help="One more design: the one SCENARIO with other values, such as "
    "'filter.capacitor=470 nF, filter.series=2k2'. May be given often.",
)  # fmt: skip
@click.option(
    "--set", "sets", multiple=True, metavar="PATH=VALUE",
    help="Put another value into all designs, such as supply.voltage='5 V'. May be given often.",
)  # fmt: skip
@click.option(
    "--runs", type=Whole(1, MOST_RUNS), metavar="N",
    help="Runs to simulate of each design; if not given, as many as the first scenario says.",
)  # fmt: skip
@click.option(
    "--seed", type=Whole(0), metavar="N",
    help="Seed of all draws; if not given, the first scenario's.",
)  # fmt: skip
@stop_options
@click.option(
    "--settled", is_flag=True,
    help="Stop once every other design is settled to be better or worse than the first: the error allowance "
    "of 5 % is divided among interim analyses after 1, 2, 4, ... blocks of runs.",
)  # fmt: skip
@click.option(
    "--ledger", metavar="FILE",
    help="Keep finished runs in FILE, and take from there what it has; it is made if there is none.",
)  # fmt: skip
@click.option(
    "--threads", type=Whole(1, MOST_THREADS), metavar="N",
    help="Threads; if not given, one for each core. No result depends on it.",
)  # fmt: skip
@click.option("--json", metavar="FILE", help="Write the result as JSON to FILE, or to standard output for -.")
@click.option(
    "--html", metavar="FILE", help="Write the report as one HTML page to FILE; it needs no network."
)
@click.option("--quiet", "-q", is_flag=True, help="The result in a line or two, and no progress.")
@click.option("--no-color", is_flag=True, help="No colour. The variable NO_COLOR does the same.")
def compare(
    designs: tuple[str, ...], groups: tuple[str, ...], sets: tuple[str, ...], runs: int | None,
    seed: int | None, errors: int | None, precision: float | None, time: float | None, settled: bool,
    ledger: str | None, threads: int | None, json: str | None, html: str | None, quiet: bool,
    no_color: bool,
) -> int:  # fmt: skip
    """Hold designs against the first of them, on the same hands, contacts and parts: which is better, by
    how much, how sure.

    Give several SCENARIOs (names of ready scenarios, or TOML files); or one, with its [variant.NAME]
    tables; or one, with other values for each --with. Hand, encoder and contacts must be the same in all.

    Exit code: 0 done; 2 bad input; 130 interrupted.
    """
    rules = Rules(errors, precision, time)
    settings = Settings(runs, seed, rules, settled, threads, ledger, json, html, quiet, not no_color)
    chosen = compared(designs, groups, sets)
    require_places(json, html, ledger, [file for name in designs for file in files_read(name)])
    with interrupts.at_stake(), ledger_at(ledger) as kept:
        found = _simulated(chosen, settings, kept)
        words = design_words(designs, groups, sets)
        export = _export(chosen, found, words, pictures=html is not None)
        deliver(export, settings, _page, lambda each: _text(each, settings), not_kept(kept))
        return _code(export)


def design_words(designs: Sequence[str], groups: Sequence[str], sets: Sequence[str]) -> list[str]:
    """The words of the command line that name the designs."""
    return [*designs, *_options("--with", groups), *_options("--set", sets)]


def _options(option: str, values: Sequence[str]) -> list[str]:
    return [word for value in values for word in (option, value)]


def stop_of(designs: Sequence[Compared], settings: Settings) -> Stop:
    """When the comparison ends; the scenarios' own rules are for them alone."""
    from simcore.estimates import LEVEL
    from simcore.stopping import Stop

    runs = designs[0].scenario.runs if settings.runs is None else settings.runs
    return settings.rules.over(Stop(runs, settled=LEVEL if settings.settled else None), runs)


def request_of(designs: Sequence[Compared], settings: Settings, ledger: LedgerFile | None = None) -> Request:
    """What to simulate; the ledger is told what it is called."""
    from reports.simulate import Request
    from simcore.options import RunOptions

    seed = designs[0].scenario.seed if settings.seed is None else settings.seed
    stop = stop_of(designs, settings)
    options = RunOptions(seed, stop, threads=settings.threads or cores(), margins=False)
    announced_pairs(ledger, [each.scenario for each in designs], seed)
    return Request(tuple(each.scenario.design for each in designs), options, ledger)


def _simulated(designs: Sequence[Compared], settings: Settings, ledger: LedgerFile | None) -> Outcome:
    from reports.progress import watching
    from reports.simulate import simulate

    tell_of_first_use(quiet=settings.quiet)
    request = request_of(designs, settings, ledger)
    with watching(quiet=settings.quiet, colour=settings.colour) as show:
        found = simulate(request, show)
    complain(*interpreted_lines())
    if ledger is not None and not settings.quiet:
        complain(kept_line(found.kept, found.runs))
    return found


def _export(designs: Sequence[Compared], found: Outcome, words: Sequence[str], *, pictures: bool) -> Export:
    """The result; single steps are looked at only for a page."""
    from reports.compare_export import compare_export

    export = compare_export(designs, found, words)
    if pictures:
        from reports.compare_gallery import gallery

        export["gallery"] = gallery(designs, export)
    return export


def _page(export: Export) -> str:
    from reports.page.comparison import page

    return page(export)


def _text(export: Export, settings: Settings) -> str:
    from reports.output import console
    from reports.terminal.comparing import brief, page

    return (brief if settings.quiet else page)(export, console(colour=settings.colour))


def _code(export: Export) -> int:
    from simcore.stopping import INTERRUPTED as BY_HAND

    if export["ended_by"] == BY_HAND:
        complain("Interrupted; the report covers the runs finished until then.")
        return INTERRUPTED
    return DONE
