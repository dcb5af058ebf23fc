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
from reports.names import SCENARIO, compared, files_read
from reports.verbs.run import MOST_RUNS, MOST_THREADS, cores, require_places
from reports.whole import Whole

if TYPE_CHECKING:
    from reports.compare_simulation import CompareRequest
    from scenarios.loading.comparison import Compared
    from simcore.campaigns.comparing import Comparison

Export = dict[str, Any]


@dataclass(frozen=True)
class Settings:
    """What the command line asks for; None where the first scenario decides."""

    runs: int | None
    seed: int | None
    threads: int | None
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
    seed: int | None, threads: int | None, json: str | None, html: str | None, quiet: bool,
    no_color: bool,
) -> int:  # fmt: skip
    """Hold designs against the first of them, on the same hands, contacts and parts: which is better, by
    how much, how sure.

    Give several SCENARIOs (names of ready scenarios, or TOML files); or one, with its [variant.NAME]
    tables; or one, with other values for each --with. Hand, encoder and contacts must be the same in all.

    Exit code: 0 done; 2 bad input; 130 interrupted.
    """
    settings = Settings(runs, seed, threads, json, html, quiet, not no_color)
    chosen = compared(designs, groups, sets)
    require_places(json, html, None, [file for name in designs for file in files_read(name)])
    with interrupts.at_stake():
        asked = chosen[0].scenario.runs if runs is None else runs
        found = _simulated(chosen, settings, asked)
        words = design_words(designs, groups, sets)
        export = _export(chosen, found, asked, words, pictures=html is not None)
        deliver(export, settings, _page, lambda each: _text(each, settings))
        return _code(export)


def design_words(designs: Sequence[str], groups: Sequence[str], sets: Sequence[str]) -> list[str]:
    """The words of the command line that name the designs."""
    return [*designs, *_options("--with", groups), *_options("--set", sets)]


def _options(option: str, values: Sequence[str]) -> list[str]:
    return [word for value in values for word in (option, value)]


def request_of(designs: Sequence[Compared], settings: Settings, asked: int) -> CompareRequest:
    """What to simulate."""
    from reports.compare_simulation import CompareRequest

    return CompareRequest(
        tuple(each.scenario.design for each in designs),
        designs[0].scenario.seed if settings.seed is None else settings.seed,
        asked,
        settings.threads or cores(),
    )


def _simulated(designs: Sequence[Compared], settings: Settings, asked: int) -> Comparison:
    from reports.progress import watching
    from reports.simulate import simulate

    tell_of_first_use(quiet=settings.quiet)
    request = request_of(designs, settings, asked)
    with watching(quiet=settings.quiet, colour=settings.colour) as show:
        found = simulate(request, show)
    complain(*interpreted_lines())
    return found


def _export(
    designs: Sequence[Compared], found: Comparison, asked: int, words: Sequence[str], *, pictures: bool
) -> Export:
    """The result; single steps are looked at only for a page."""
    from reports.compare_export import compare_export

    export = compare_export(designs, found, asked, words)
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
    from simcore.statistics.stopping import INTERRUPTED as BY_HAND

    if export["ended_by"] == BY_HAND:
        complain("Interrupted; the report covers the runs finished until then.")
        return INTERRUPTED
    return DONE
