"""The sentences of a sweep: what is varied, when a cell ends, where the window is and what bounds it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from reports.numbers import PER, counted, estimate_text, interval_text, share_text, whole

if TYPE_CHECKING:
    from simcore.statistics.stopping import Stop

Export = dict[str, Any]
FEW = 6
"""Words that are listed one by one."""
BRIEF = {
    "chatter": "chatter passes",
    "swallowed": "edges swallowed",
    "late direction": "direction too late",
    "early direction": "direction too early",
    "swapped order": "order swapped",
    "misfit": "decoder misfits",
    "short pulse": "pulse too short",
    "sliding": "sliding opens",
    "end stop": "at an end stop",
    "skipped state": "state skipped",
    "slow edge": "slow edge",
    "pick-up": "pick-up",
    "power-up": "power-up",
    "supply dip": "supply dip",
    "unexplained": "unexplained",
}
"""What binds, in two or three words."""
SWEEP_ASSUMPTIONS = (
    "All cells share one seed: they meet the same hands, the same bounce and the same luck with their parts, "
    "so differences between cells are surer than their intervals tell.",
    "The rate of a cell that ended early leans a little to the side on which it ended; whether it meets the "
    "target is judged by intervals that allow for that.",
)
RARE = (
    "where only part of the wrong steps come singly and the rest come many to a run, in runs so rare that "
    "few or none were met"
)
"""Where no interval made from what was seen can keep its promise."""
MEETS_WORDS = {"yes": "yes", "no": "no", "undecided": "undecided", None: ""}


def brief(cause: str) -> str:
    """A root cause in two or three words; the bare name for one that is not known here."""
    return BRIEF.get(cause, cause)


def axis_text(values: Sequence[str], *, numeric: bool) -> str:
    """The values of an axis in few words."""
    if numeric and len(values) > 1:
        return f"{values[0]} to {values[-1]}"
    if len(values) > FEW:
        return f"{', '.join(values[: FEW - 1])} and {len(values) - FEW + 1} others"
    return ", ".join(values)


def axes_line(export: Export) -> str:
    """What is varied, and over what."""
    parts = []
    for axis in export["axes"]:
        count = len(axis["values"])
        many = f" ({counted(count, 'value')})" if axis["numbers"] is not None and count > 1 else ""
        text = axis_text(axis["values"], numeric=axis["numbers"] is not None)
        parts.append(f"{axis['path']}: {text}{many}")
    cells = counted(export["cells_asked"], "cell")
    return f"{cells} of up to {counted(export['runs_asked'], 'run')}; {'; '.join(parts)}."


def ending_rule(stop: Stop, target: str | None) -> str:
    """When a cell ends, in one sentence."""
    from simcore.statistics.exact import LEVEL
    from simcore.statistics.stopping import FEWEST_ERRORS

    most = counted(stop.runs, "run")
    if stop.target is not None:
        missed = f"{100.0 * (1.0 - stop.target.confidence):.0f} %"
        each = ", of all steps and of each gesture," if stop.target.each else ""
        return (
            f"A cell ends as soon as its wrong rate{each} is shown to meet or to miss the target ({target}) "
            f"at one of a few looks, each after twice the runs of the one before, and after {most} at the "
            f"latest; of cells just at the target at most {missed} are called better, and as many worse; "
            f"more are called better {RARE}."
        )
    if stop.precision is not None:
        judged = "" if target is None else f" It is held against the target ({target}) by that interval."
        return (
            f"A cell ends as soon as the {100.0 * LEVEL:.0f} % interval of its wrong rate reaches no further "
            f"than {100.0 * stop.precision:g} % of the rate to either side and {FEWEST_ERRORS} wrong steps "
            f"were seen, and after {most} at the latest.{judged}"
        )
    judged = "" if target is None else f", and is held against the target ({target}) by its interval"
    return f"Every cell does all its {most}{judged}."


def stop_cautions(stated: Stop) -> list[str]:
    """That a scenario's own rules of ending do not hold for cells, if it states such rules."""
    rules = {"errors": stated.errors, "time": stated.seconds}
    given = " and ".join(name for name, value in rules.items() if value is not None)
    return (
        [f"What [stop] says of {given} does not hold here: a sweep ends its cells itself."] if given else []
    )


def window_rule(target: str | None, *, each: bool = False, looks: bool = True) -> str:
    """What the window is drawn against; ``each`` if cells went on for each gesture, ``looks`` if the target
    ended them.
    """
    from simcore.campaigns.choosing import SLACK
    from simcore.statistics.exact import LEVEL

    if target is not None:
        by_all = " Cells end when all steps together are decided; see --each-gesture."
        more = "" if each or not looks else by_all
        by = "intervals that allow for all looks" if looks else f"its {100.0 * LEVEL:.0f} % interval"
        return (
            f"In the window: shown to meet the target ({target}); outside: shown to miss it; open: neither. "
            f"Each gesture is judged by itself, by {by}.{more}"
        )
    times = "twice" if SLACK == 2.0 else f"{SLACK:g} times"
    return (
        f"No target is stated, so the window is drawn against {times} the lowest wrong rate found (the upper "
        "bound of its interval), for each gesture its own: in the window where the whole interval lies at or "
        "below that, outside where it lies above, open where it does neither. If that is 1,000 per 1,000 or "
        "more, all is open, for no rate could lie above it."
    )


def headline(export: Export) -> str:
    """Where the window is, or how many cells meet the target, or where the lowest rate is."""
    if not export["cells"]:
        return "No cell was finished."
    if export["window"]:
        return window_sentence(export, export["window"][0])
    if export["target"] is not None:
        return f"{_meeting(export)} {lowest_sentence(export)}"
    return lowest_sentence(export)


def tells_window(export: Export) -> bool:
    """Whether the headline tells where the window is, and so leaves the lowest rate to be told."""
    return bool(export["window"]) and export["window"][0]["from"] is not None


def _meeting(export: Export) -> str:
    count = {word: sum(cell["meets_target"] == word for cell in export["cells"]) for word in MEETS_WORDS}
    cells = counted(len(export["cells"]), "cell")
    return (
        f"Of {cells} {whole(count['yes'])} {'is' if count['yes'] == 1 else 'are'} shown to meet the target "
        f"({export['target']['text']}) and {whole(count['no'])} to miss it; {whole(count['undecided'])} "
        f"{'is' if count['undecided'] == 1 else 'are'} undecided."
    )


def lowest_cell(cells: Sequence[Export]) -> Export | None:
    """The cell with the lowest upper bound of its wrong rate."""
    known = [cell for cell in cells if cell["wrong_rate"]["high"] is not None]
    return min(known, key=lambda cell: cell["wrong_rate"]["high"], default=None)


def lowest_sentence(export: Export) -> str:
    """Where the lowest wrong rate is."""
    cell = lowest_cell(export["cells"])
    if cell is None:
        return "No rate is known, for no step was simulated."
    where = values_text(cell["values"])
    return f"The lowest wrong rate that is well known is at {where}: {rate_text(cell['wrong_rate'])}."


def values_text(values: Mapping[str, str]) -> str:
    """The values of a cell with their paths."""
    return ", ".join(f"{path} {value}" for path, value in values.items())


def rate_text(rate: Any) -> str:
    """A rate per thousand steps with its interval."""
    return f"{estimate_text(rate)} per {PER:,} (95 % interval {interval_text(rate)})"


def window_sentence(export: Export, window: Export) -> str:
    """Where a window is, and what binds on either side."""
    path = export["axes"][0]["path"]
    if window["from"] is None:
        return _no_window(export, window, path)
    reach = window["from"] if window["from"] == window["to"] else f"{window['from']} to {window['to']}"
    against = "meets the target" if export["target"] else "gives rates near the lowest"
    sentences = [f"{path} {against} at {reach}."] if reach == window["from"] else [
        f"{path} {against} from {reach}."
    ]  # fmt: skip
    sentences += [_side(window["below"], "Below"), _side(window["above"], "Above")]
    if window["gaps"]:
        sentences.append(f"In between {_are_open(window['gaps'])}.")
    if window["elsewhere"]:
        sentences.append(f"Apart from these: {', '.join(window['elsewhere'])}.")
    return " ".join(sentences)


def _no_window(export: Export, window: Export, path: str) -> str:
    goal = "is shown to meet the target" if export["target"] else "could be judged"
    best = window["lowest"]
    if best is None:
        return f"No value of {path} {goal}, for no step was simulated."
    cause = f"; main cause: {brief(best['cause'])}" if best["cause"] else ""
    return (
        f"No value of {path} {goal}. The lowest wrong rate that is well known is at {best['value']}: "
        f"{rate_text(best['wrong_rate'])}{cause}."
    )


def _side(border: Export, side: str) -> str:
    """What lies beyond one end of a window."""
    doubt = f"; {_are_open(border['open'])}" if border["open"] else ""
    if border["outside"] is None:
        return f"{side}, no value tried is outside{doubt}."
    cause = ""
    if border["cause"] is not None:
        share = share_text(round(1000 * border["of_wrong"]), 1000)
        cause = f": {brief(border['cause'])} ({share} of the wrong steps)"
    return f"{side}, {border['outside']} is outside{cause}{doubt}."


def _are_open(values: Sequence[str]) -> str:
    told = axis_text(values, numeric=len(values) > FEW)
    return f"{told} {'is' if len(values) == 1 else 'are'} open"


def own_cautions(cells: Sequence[Export]) -> list[str]:
    """What should be known of some cells only, each sentence once with where it holds."""
    where: dict[str, list[str]] = {}
    for cell in cells:
        for caution in cell["cautions"]:
            where.setdefault(caution, []).append(values_text(cell["values"]))
    return [
        f"At {'; '.join(places[:3])}{f' and {len(places) - 3} other cells' if len(places) > 3 else ''}: "
        f"{caution}"
        for caution, places in where.items()
    ]


def cause_text(cell: Export) -> str:
    """The main root cause with its share of the wrong steps."""
    from reports.cells import main_cause

    found = main_cause(cell)
    return "" if found is None else f"{brief(found[0])} {share_text(found[1], cell['wrong'])}"


def made_line(export: Export) -> str:
    """How the result was made."""
    from reports.numbers import duration_text

    runs = sum(cell["runs"] for cell in export["cells"])
    ended = "" if export["complete"] else "; interrupted"
    return (
        f"Scenario {export['name']}, seed {export['seed']} for every cell, "
        f"{whole(len(export['cells']))} of {counted(export['cells_asked'], 'cell')}, {counted(runs, 'run')}, "
        f"{duration_text(export['seconds'])}{ended}."
    )
