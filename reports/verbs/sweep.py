"""``steptally sweep``: a scenario over ranges of its values."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import rich_click as click

from reports import interrupts
from reports.compiled import interpreted_lines, tell_of_first_use
from reports.delivery import deliver
from reports.exits import DONE, INTERRUPTED, TARGET_MISSED, UserError, complain
from reports.ledger_use import announced, kept_line, ledger_at, not_kept, require_one_ledger, usual_ledger
from reports.names import SCENARIO, complain_of_plugins, files_read
from reports.stop_options import Measured
from reports.verbs.run import MOST_RUNS, MOST_THREADS, cores, require_places
from reports.whole import Whole

if TYPE_CHECKING:
    from reports.sweep_export import Export, Wish
    from reports.sweeping import Request, Swept
    from scenarios.ledger import LedgerFile
    from scenarios.loading.load import Target
    from scenarios.loading.sweeps import Sweep
    from simcore.statistics.stopping import Stop

PRECISION = 0.10
"""Without a target a cell ends once its interval is within this share of its rate."""
NOT_BY_PRECISION = 0.0
"""What the option says for "none"."""


@dataclass(frozen=True)
class Settings:
    """What the command line asks for; None where the scenario decides."""

    runs: int | None
    seed: int | None
    target: str | None
    all_runs: bool
    each_gesture: bool
    precision: float | None
    threads: int | None
    ledger: str | None
    use_ledger: bool
    json: str | None
    html: str | None
    quiet: bool
    colour: bool


@click.command(short_help="Run a scenario over ranges of its values, and find the window that will do.")
@click.argument("scenario", type=SCENARIO)
@click.option(
    "--vary", "varied", multiple=True, required=True, metavar="PATH=VALUES",
    help="What to vary: '10n, 22n', '10n..1u:E6' (values of a series), '10n..1u:9' (even steps), "
    "'10n..1u:log 9' (even ratios), or words. May be given up to four times.",
)  # fmt: skip
@click.option(
    "--set", "sets", multiple=True, metavar="PATH=VALUE",
    help="Put another value into the scenario, for all cells. May be given often.",
)  # fmt: skip
@click.option(
    "--target", metavar="RATE",
    help="Rate of wrong steps that will do, '1 in 1000 steps'; if not given, the scenario's.",
)  # fmt: skip
@click.option(
    "--runs", type=Whole(1, MOST_RUNS), metavar="N",
    help="Most runs of a cell; if not given, as many as the scenario says.",
)  # fmt: skip
@click.option(
    "--precision", type=Measured("share", "PRECISION"), metavar="SHARE",
    help="End a cell once the interval is within SHARE of its rate; '10 %' if there is no target; none: it "
    "then does all its runs.",
)  # fmt: skip
@click.option("--all-runs", is_flag=True, help="Let every cell do all its runs.")
@click.option(
    "--each-gesture", is_flag=True,
    help="Let a cell go on until each gesture of the hand is held against the target, not only all steps.",
)  # fmt: skip
@click.option(
    "--seed", type=Whole(0), metavar="N",
    help="Seed of all draws, the same for every cell; if not given, the scenario's.",
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
def sweep(
    scenario: str, varied: tuple[str, ...], sets: tuple[str, ...], target: str | None, runs: int | None,
    precision: float | None, all_runs: bool, each_gesture: bool, seed: int | None, threads: int | None,
    ledger: str | None, no_ledger: bool, json: str | None, html: str | None, quiet: bool, no_color: bool,
) -> int:  # fmt: skip
    """Run SCENARIO, a ready scenario or a TOML file, at every combination of the values given.

    All cells meet the same hands and the same bounce. Exit code: 0 done; 1 a target is stated and no cell
    is shown to meet it; 2 bad input; 130 interrupted.
    """
    settings = Settings(
        runs, seed, target, all_runs, each_gesture, precision, threads, ledger, not no_ledger, json, html,
        quiet, not no_color,
    )  # fmt: skip
    require_sense(settings)
    require_places(json, html, ledger, files_read(scenario))
    found = loaded_sweep(scenario, varied, sets)
    wish = wish_of(found, settings, varied)
    from reports.sweep_export import sweep_export

    with interrupts.at_stake(), ledger_of(settings.ledger, settings.use_ledger) as kept:
        export = sweep_export(found, wish, _simulated(found, wish, settings, kept))
        deliver(export, settings, _page, lambda each: _text(each, settings), not_kept(kept))
        return _code(export)


def require_sense(settings: Settings) -> None:
    """Raise UserError where two options contradict each other."""
    require_one_ledger(settings.ledger, settings.use_ledger)
    rules = (
        ("--all-runs", settings.all_runs),
        ("--precision", settings.precision is not None),
        ("--each-gesture", settings.each_gesture),
    )
    given = [name for name, is_given in rules if is_given]
    if len(given) > 1:
        raise UserError(f"{' and '.join(given)}: each says when a cell ends; allowed is one of them")


def ledger_of(
    named: str | None, use: bool, tell: Callable[[str], None] = complain
) -> AbstractContextManager[LedgerFile | None]:
    """The ledger that was named, else the user's own, if one is to be used and can be."""
    return ledger_at(named) if named is not None or not use else usual_ledger(tell)


def loaded_sweep(scenario: str, varied: tuple[str, ...], sets: tuple[str, ...]) -> Sweep:
    """The sweep.  Raises UserError with a line for each problem."""
    from scenarios.loading.messages import ScenarioError
    from scenarios.loading.sweeps import load_sweep

    try:
        return load_sweep(scenario, varied, sets)
    except ScenarioError as error:
        raise UserError(*(str(problem) for problem in error.problems)) from None
    finally:
        complain_of_plugins()


def wish_of(found: Sweep, settings: Settings, varied: tuple[str, ...]) -> Wish:
    """What is asked for.  Raises UserError for a target that is none."""
    from reports.exact_command import Asked
    from reports.sweep_export import Wish

    target = target_of(found.scenario.target, settings.target)
    runs = found.scenario.runs if settings.runs is None else settings.runs
    return Wish(
        Asked(found.scenario.source, found.sets),
        varied,
        found.scenario.seed if settings.seed is None else settings.seed,
        _stop(found, runs, target, settings),
        target,
        settings.target,
    )


def target_of(stated: Target | None, option: str | None) -> Target | None:
    """The target of the option, else the scenario's.  Raises UserError for a text that is no rate."""
    from scenarios.loading.load import Target
    from scenarios.quantities import QuantityError, read_rate

    if option is None:
        return stated
    text = " ".join(option.split())
    try:
        return Target(read_rate(text), text)
    except QuantityError as error:
        raise UserError(f"--target: read {error.read}; {error.message}") from None


def _stop(found: Sweep, runs: int, target: Target | None, settings: Settings) -> Stop:
    """When a cell ends."""
    from simcore.statistics import stopping

    if settings.all_runs or (target is None and settings.precision == NOT_BY_PRECISION):
        return stopping.Stop(runs)
    if target is not None and not settings.precision:
        return stopping.Stop(runs, target=stopping.Target(target.rate, each=settings.each_gesture))
    if settings.each_gesture:
        raise UserError("--each-gesture: there is no target to hold a gesture against; give --target as well")
    precision = settings.precision or found.scenario.stop.precision or PRECISION
    return stopping.Stop(runs, precision=precision)


def request_of(found: Sweep, wish: Wish, threads: int | None, ledger: LedgerFile | None) -> Request:
    """What to simulate."""
    from reports.sweeping import Request

    goal = None if wish.target is None else wish.target.rate
    return Request(
        found, wish.seed, wish.stop, goal, threads or cores(), wish.named, ledger,
        lambda scenario: announced(ledger, scenario, wish.seed, margins=False),
    )  # fmt: skip


def _simulated(found: Sweep, wish: Wish, settings: Settings, ledger: LedgerFile | None) -> Swept:
    from reports.progress import watching
    from reports.sweeping import Campaigns, swept

    tell_of_first_use(quiet=settings.quiet)
    campaigns = Campaigns(request_of(found, wish, settings.threads, ledger))
    with watching(quiet=settings.quiet, colour=settings.colour, words=campaigns.words) as show:
        result = swept(campaigns, show)
    complain(*interpreted_lines())
    if ledger is not None and not settings.quiet:
        complain(kept_line(result.kept, sum(cell["runs"] for cell in result.cells)))
    return result


def _page(export: Export) -> str:
    from reports.page.sweep import page

    return page(export)


def _text(export: Export, settings: Settings) -> str:
    from reports.output import console
    from reports.terminal.sweep import brief, page

    return (brief if settings.quiet else page)(export, console(colour=settings.colour))


def _code(export: Export) -> int:
    if not export["complete"]:
        complain("Interrupted; the report covers the cells finished until then.")
        return INTERRUPTED
    if export["target"] is not None and not any(cell["meets_target"] == "yes" for cell in export["cells"]):
        return TARGET_MISSED
    return DONE
