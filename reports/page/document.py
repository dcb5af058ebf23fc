"""The page of a run: the export, turned into sections and rendered with the templates."""

from __future__ import annotations

import base64
import functools
import hashlib
import re
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from reports.page import figures, judgements, tables, timing
from reports.page.palette import DARK, LIGHT, style, swaps
from reports.sentences import BOUND_NOTE, LASTING, SPACING_NOTE
from reports.terminal.checks import METHOD
from reports.terminal.prose import cut_line, ending_line, headline, spurious_line, target_line
from reports.terminal.runs import exact_line, ohm_line, stray_line

if TYPE_CHECKING:
    from jinja2 import Environment

Export = dict[str, Any]
USUAL_ENGINE = "batch"
UNITS = "[fpnumkM]?(?:s|V|F|A|J|Hz|ohm)|rpm|deg"
FILE_NAME = "report.html"
"""The name in the command on the page, so that the page does not depend on its own name."""


def page(export: Export) -> str:
    """One HTML page that loads nothing; the same export gives the same bytes, whatever time it took."""
    template = environment().get_template("page.html.j2")
    return template.render(export=export, **looks(), **_words(export), **_charts(export))


@functools.cache
def environment() -> Environment:
    """What templates are rendered with: every text escaped, and nothing undefined passed over."""
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("reports.page"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )
    environment.policies["json.dumps_kwargs"] = {
        "allow_nan": False,
        "sort_keys": True,
        "separators": (",", ":"),
    }
    environment.filters["tied"] = tied
    environment.globals.update(tables=tables, judgements=judgements, toml=_toml)
    return environment


def tied(text: str) -> str:
    """A number and its unit in one line."""
    return re.sub(rf"(?<=\d) (?=(?:{UNITS})\b|%)", "\u00a0", text)


def _library() -> Any:
    """The chart library as text that may stand in a script element.  Raises ValueError if it may not."""
    import markupsafe
    import plotly.offline

    text: str = plotly.offline.get_plotlyjs()
    if re.search(r"</script|<!--|\r", text, re.IGNORECASE):
        raise ValueError("the chart library cannot stand in a page as it is")
    return markupsafe.Markup(text)  # noqa: S704 - not from a scenario


def looks() -> Export:
    """The page's own style, script and colours, and which scripts its policy admits."""
    import markupsafe

    folder = files("reports.page").joinpath("templates")
    sheet = folder.joinpath("style.css").read_text(encoding="utf-8")
    script = folder.joinpath("charts.js").read_text(encoding="utf-8")
    library = _library()
    return {
        "library": library,
        "admitted": f"{digest(library)} {digest(script)}",
        "style": markupsafe.Markup(sheet),  # noqa: S704 - files of this package
        "script": markupsafe.Markup(script),  # noqa: S704
        "light": markupsafe.Markup(style(LIGHT)),  # noqa: S704
        "dark": markupsafe.Markup(style(DARK)),  # noqa: S704
        "swaps": swaps(),
    }


def _words(export: Export) -> Export:
    """The sentences of the page."""
    target = export["target"]
    unseen = any(rate["estimate"] == 0.0 for rate in export["verdict_rates"].values())
    lines = (spurious_line(export), stray_line(export), cut_line(export))
    return {
        "headline": headline(export),
        "ending": ending_line(export),
        "goal": target_line(export) if target else "",
        "own_cautions": [caution for caution in export["cautions"] if caution not in LASTING],
        "lasting": LASTING,
        "bound_note": BOUND_NOTE if unseen else "",
        "spacing_note": SPACING_NOTE,
        "remarks": [line for line in lines if line],
        "exact": exact_line(export) if export["runs"] else "",
        "ohms": ohm_line(export) if export["runs"] else "",
        "method": METHOD,
        "command": f"{export['command']}{_options(export)} --html {FILE_NAME}",
    }


def _options(export: Export) -> str:
    """Options that change no number, but what stands on the page."""
    engine = "" if export["engine"] == USUAL_ENGINE else f" --engine {export['engine']}"
    return engine + (" --no-margins" if export.get("margins", ...) is None else "")


def _charts(export: Export) -> Export:
    """Every chart by the id of its place, and what each shows in words."""
    found: dict[str, Export] = {}
    summaries: dict[str, str] = {}

    def add(place: str, figure: Export, summary: str) -> None:
        found[place], summaries[place] = figure, summary

    if export["steps"]:
        add("chart-spacing", figures.spacing_figure(export), figures.spacing_summary(export))
    if export["runs"]:
        add("chart-errors", figures.error_figure(export), figures.error_summary(export))
    for number, item in enumerate((export["gallery"] or {}).get("steps", ()), start=1):
        ranges = {"window": item["window_us"], "moment": item["moment_us"]}
        add(
            f"chart-step-{number}",
            timing.timing_figure(item) | {"ranges": ranges},
            timing.timing_summary(item),
        )
    return {"charts": found, "summaries": summaries}


def _toml(resolved: Export) -> str:
    from scenarios.loading.written import as_toml

    return as_toml(resolved)


def digest(text: str) -> str:
    """A script's or style's text as a source that the page's own policy admits (CSP level 2, 4.2.5)."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
