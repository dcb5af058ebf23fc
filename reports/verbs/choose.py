"""``steptally choose``: the values that meet a target with stated confidence."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import rich_click as click

from reports import interrupts
from reports.compiled import interpreted_lines, tell_of_first_use
from reports.delivery import deliver
from reports.exits import DONE, INTERRUPTED, TARGET_MISSED, UserError, complain
from reports.ledger_use import kept_line, not_kept, require_one_ledger
from reports.names import SCENARIO, files_read
from reports.verbs.run import MOST_RUNS, MOST_THREADS, require_places
from reports.verbs.sweep import ledger_of
from reports.whole import Whole

if TYPE_CHECKING:
    from reports.choose_export import Export, Plan
    from reports.choosing import Found
    from reports.sweep_export import Wish
    from reports.sweeping import Campaigns, Show
    from scenarios.ledger import LedgerFile
    from scenarios.loading.load import Scenario, Target
    from scenarios.loading.sweeps import Sweep


@dataclass(frozen=True)
class Settings:
    """What the command line asks for; None where the scenario decides."""

    target: str | None
    runs: int | None
    seed: int | None
    threads: int | None
    ledger: str | None
    use_ledger: bool
    json: str | None
    html: str | None
    quiet: bool
    colour: bool


@click.command(short_help="Find the values that meet a target, and what binds on either side.")
@click.argument("scenario", type=SCENARIO)
@click.option(
    "--target", metavar="RATE",
    help="Rate of wrong steps that will do, '1 wrong in 10000 steps'; if not given, the scenario's.",
)  # fmt: skip
@click.option(
    "--vary", "varied", multiple=True, metavar="PATH=VALUES",
    help="What to choose from, as sweep takes it: 'filter.capacitor=10n..1u:E6'. If not given, the parts of "
    "the scenario's filters over sensible bounds.",
)  # fmt: skip
@click.option(
    "--set", "sets", multiple=True, metavar="PATH=VALUE",
    help="Put another value into the scenario, for all candidates. May be given often.",
)  # fmt: skip
@click.option(
    "--runs", type=Whole(1, MOST_RUNS), metavar="N",
    help="Most runs of a candidate; if not given, twice as many as the target needs at least, or the "
    "scenario's, or one block's if these are more.",
)  # fmt: skip
@click.option(
    "--seed", type=Whole(0), metavar="N",
    help="Seed of all draws, the same for every candidate; if not given, the scenario's.",
)  # fmt: skip
@click.option(
    "--threads", type=Whole(1, MOST_THREADS), metavar="N",
    help="Threads; if not given, one for each core. No result depends on it.",
)  # fmt: skip
@click.option(
    "--ledger", metavar="FILE",
    help="Keep finished runs in FILE, and take from there what it has; if not given, in the user's own.",
)  # fmt: skip
@click.option("--no-ledger", is_flag=True, help="Keep nothing, and take nothing from a ledger.")
@click.option("--json", metavar="FILE", help="Write the result as JSON to FILE, or to standard output for -.")
@click.option(
    "--html", metavar="FILE", help="Write the report as one HTML page to FILE; it needs no network."
)
@click.option("--quiet", "-q", is_flag=True, help="The result in a line or two, and no progress.")
@click.option("--no-color", is_flag=True, help="No colour. The variable NO_COLOR does the same.")
def choose(
    scenario: str, target: str | None, varied: tuple[str, ...], sets: tuple[str, ...], runs: int | None,
    seed: int | None, threads: int | None, ledger: str | None, no_ledger: bool, json: str | None,
    html: str | None, quiet: bool, no_color: bool,
) -> int:  # fmt: skip
    """Choose values for SCENARIO, a ready scenario or a TOML file, that meet a target at every gesture of
    its hand, over the tolerances of its parts; where none does, say what comes closest and try other stages.

    Exit code: 0 something is recommended; 1 nothing is shown to meet the target; 2 bad input;
    130 interrupted.
    """
    settings = Settings(
        target, runs, seed, threads, ledger, not no_ledger, json, html, quiet, not no_color
    )  # fmt: skip
    require_one_ledger(settings.ledger, settings.use_ledger)
    require_places(json, html, ledger, files_read(scenario))
    found, ranges = _loaded(scenario, varied, sets)
    wish, plan = planned(found, ranges, settings, named=bool(varied))
    if beyond := out_of_reach(wish, plan):
        complain(beyond)
    from reports.choose_export import choose_export

    with interrupts.at_stake(), ledger_of(settings.ledger, settings.use_ledger) as kept:
        export = choose_export(found, wish, plan, _chosen(found, wish, plan, settings, kept))
        deliver(export, settings, _page, lambda each: _text(each, settings), not_kept(kept))
        return _code(export)


def _loaded(
    scenario: str, varied: tuple[str, ...], sets: tuple[str, ...]
) -> tuple[Sweep, tuple[str, ...]]:  # fmt: skip
    """The candidates as a sweep, and the ranges that make them.  UserError with a line for each problem."""
    from reports.names import loaded
    from reports.verbs.sweep import loaded_sweep

    ranges = varied or usual(loaded(scenario, sets), sets)
    return loaded_sweep(scenario, ranges, sets), ranges


def usual(chosen: Scenario, sets: tuple[str, ...]) -> tuple[str, ...]:
    """The ranges of a scenario where the user gives none.  Raises UserError where it has none."""
    from scenarios.choices import usual_ranges

    found = usual_ranges(chosen, sets)
    if not found:
        raise UserError(
            f"{chosen.source}: its stages have no capacitor and no time to vary by rule; say what to vary, "
            'as in --vary "filter.capacitor=10n..1u:E6" (steptally show names the paths)'
        )
    return found


def planned(found: Sweep, ranges: tuple[str, ...], settings: Settings, *, named: bool) -> tuple[Wish, Plan]:
    """What is asked for, and the rule that it is decided by.  Raises UserError without a target."""
    from reports.choose_export import Plan
    from reports.exact_command import Asked
    from reports.sweep_export import Wish
    from simcore.campaigns import choosing, course
    from simcore.statistics import stopping

    goal = _target(found, settings)
    rule = stopping.Target(goal.rate, each=True, joint=True)
    block = course.runs_per_block(found.scenario.design)
    fewest = choosing.fewest_runs(rule, block)
    runs = settings.runs
    if runs is None:
        runs = min(max(found.scenario.runs, choosing.AMPLE * fewest, block), MOST_RUNS)
    seed = found.scenario.seed if settings.seed is None else settings.seed
    stop = stopping.Stop(runs, target=rule)
    wish = Wish(Asked(found.scenario.source, found.sets), ranges, seed, stop, goal, settings.target)
    return wish, Plan(rule, fewest, named, settings.runs is not None)


def out_of_reach(wish: Wish, plan: Plan) -> str:
    """What to say beforehand of a target that so few runs can never show; "" if they can."""
    from reports.choose_words import cannot_be_shown

    runs = wish.stop.runs
    if wish.target is None or runs >= plan.fewest:
        return ""
    return cannot_be_shown(wish.target.text, runs, plan.fewest)


def _target(found: Sweep, settings: Settings) -> Target:
    from reports.verbs.sweep import target_of

    goal = target_of(found.scenario.target, settings.target)
    if goal is None:
        raise UserError(
            f"{found.scenario.source}: states no target; give one, as in --target '1 wrong in 10000 steps'"
        )
    return goal


def _chosen(
    found: Sweep, wish: Wish, plan: Plan, settings: Settings, ledger: LedgerFile | None
) -> Found:  # fmt: skip
    from reports.choosing import Choice, watched_by
    from reports.verbs.sweep import request_of

    tell_of_first_use(quiet=settings.quiet)
    request = request_of(found, wish, settings.threads, ledger)

    @contextmanager
    def show(campaigns: Campaigns, word: str) -> Iterator[Show]:
        from reports.progress import watching

        def words(done: int, asked: int) -> str:
            return f"{word}: {campaigns.words(done, asked)}"

        with watching(quiet=settings.quiet, colour=settings.colour, words=words) as each:
            yield each

    result = Choice(request, plan.target, watched_by(show)).find()
    complain(*interpreted_lines())
    if ledger is not None and not settings.quiet:
        complain(kept_line(result.kept, _runs(result)))
    return result


def _runs(found: Found) -> int:
    cells: list[dict[str, Any]] = [*found.search.cells, *found.retried, *found.others]
    return sum(cell["runs"] for cell in cells)


def _page(export: Export) -> str:
    from reports.page.choose import page

    return page(export)


def _text(export: Export, settings: Settings) -> str:
    from reports.output import console
    from reports.terminal.choose import brief, page

    return (brief if settings.quiet else page)(export, console(colour=settings.colour))


def _code(export: Export) -> int:
    if not export["complete"]:
        complain("Interrupted; the report covers what was finished until then.")
        return INTERRUPTED
    return DONE if export["recommended"] is not None else TARGET_MISSED
