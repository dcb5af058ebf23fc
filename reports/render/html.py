"""Documents as one HTML page that loads nothing, and as a part of a notebook."""

from __future__ import annotations

import base64
import functools
import hashlib
import re
from collections.abc import Mapping
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from reports.documents.document import Block, Column, Document, Drawing, Table, figures
from reports.render.palette import DARK, LIGHT, style, swaps
from reports.render.widths import NOTEBOOK_WIDTH, TEXT_ROOM, natural_width

if TYPE_CHECKING:
    from jinja2 import Environment

UNITS = "[fpnumkM]?(?:s|V|F|A|J|Hz|ohm)|rpm|deg"
POINT_SPACE, DIGIT_SPACE = "\u2008", "\u2007"
DRAWING_WIDTH = 96
"""Characters of a drawing in text."""
LETTER, PADDING = 0.53, 1.6
"""Width of a letter and of the space around a cell, in rem, by measurement in a browser; rather too much."""
LINES = "repeating-linear-gradient({}, transparent 0 3px, var(--sheet) 3px 5px)"
DOTS = "radial-gradient(var(--sheet) 25%, transparent 30%) 0 0 / 4px 4px"
ANGLES = {"/": "135deg", "\\": "45deg", "-": "0deg", "|": "90deg", "+": "0deg 90deg", "x": "45deg 135deg"}
"""Directions of the lines of each hatch of the chart library; "." is dotted."""
BROKEN = 13.0
"""Width (rem) below which cells of text are not broken."""


def page(document: Document) -> str:
    """One HTML page that loads nothing; the same document gives the same bytes."""
    sections = document.sections_for("page")
    found = [figure for section in sections for figure in figures(section.blocks)]
    charts = {}
    for figure in found:
        charts[figure.name] = dict(figure.chart())
        if figure.ranges is not None:
            charts[figure.name]["ranges"] = figure.ranges
    template = _environment().get_template("page.html.j2")
    return template.render(
        document=document,
        sections=sections,
        charts=charts,
        swaps=swaps(),
        light=style(LIGHT),
        dark=style(DARK),
        **_looks(bool(found)),
    )


def fragment(document: Document) -> str:
    """The document for a notebook: it has no script, no id and no colour of its own, and takes those of
    whatever page it is put into.
    """
    return (
        _environment()
        .get_template("notebook.html.j2")
        .render(document=document, sections=document.sections_for("notebook"))
    )


@functools.cache
def _environment() -> Environment:
    """What templates are rendered with: every text escaped, and nothing undefined passed over."""
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("reports.render"),
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
    environment.filters.update(
        tied=tied, sort=_sort, drawn=_drawn, fitted=_fitted, narrowing=_narrowing, background=_background
    )
    return environment


def tied(text: str) -> str:
    """A number and its unit in one line; blanks that align decimal points keep their room."""
    bare = text.rstrip(" ")
    if room := len(text) - len(bare):
        point = "" if "." in bare else POINT_SPACE
        bare += point + DIGIT_SPACE * (room - len(point))
    return re.sub(rf"(?<=\d) (?=(?:{UNITS})\b|%)", "\u00a0", bare)


def _background(look: tuple[str, str]) -> str:
    """A colour with its hatch as a CSS background."""
    colour, hatch = look
    images = [DOTS] if hatch == "." else [LINES.format(angle) for angle in ANGLES.get(hatch, "").split()]
    return ", ".join([*images, f"var(--{colour})"])


def _sort(block: Block) -> str:
    """The word by which a template tells blocks apart."""
    return type(block).__name__.lower()


def _drawn(drawing: Drawing) -> str:
    return drawing.text(DRAWING_WIDTH, "utf-8")


def _fitted(table: Table) -> Table:
    """The columns of a table that fit a usual notebook, whose width is not known."""
    for rank in sorted({column.rank for column in table.columns}, reverse=True):
        fitted = table.without(rank)
        if natural_width(fitted, TEXT_ROOM) <= NOTEBOOK_WIDTH:
            break
    return fitted


def _narrowing(table: Table) -> list[tuple[int, float]]:
    """For each rank but 0, the widest sheet (rem) in which its columns have to give way."""
    ranks = sorted({column.rank for column in table.columns} - {0})
    return [
        (rank, round(sum(_width(column) for column in table.columns if column.rank <= rank), 1))
        for rank in ranks
    ]


def _width(column: Column) -> float:
    """About the least width (rem) of a column on a page."""
    words = max((len(word) for word in column.plain_head.split()), default=0)
    cells = max((len(cell) for cell in column.cells), default=0)
    natural = LETTER * max(words, cells)
    return PADDING + (min(natural, BROKEN) if column.sort in ("text", "name") else natural)


def _looks(charts: bool) -> Mapping[str, Any]:
    """The page's own style and script, the chart library where there is a chart, and which scripts the
    page's policy admits (CSP level 2, 4.2.5).
    """
    import markupsafe

    folder = files("reports.render").joinpath("templates")
    sheet, script = (folder.joinpath(name).read_text(encoding="utf-8") for name in ("style.css", "charts.js"))
    scripts = [_library(), script] if charts else []
    return {
        "sheet": markupsafe.Markup(sheet),  # noqa: S704 - a file of this package
        "scripts": [markupsafe.Markup(each) for each in scripts],  # noqa: S704
        "admitted": " ".join(_digest(each) for each in scripts) or "'none'",
    }


def _library() -> str:
    """The chart library as text that may stand in a script element.  Raises ValueError if it may not."""
    import plotly.offline

    text: str = plotly.offline.get_plotlyjs()
    if re.search(r"</script|<!--|\r", text, re.IGNORECASE):
        raise ValueError("the chart library cannot stand in a page as it is")
    return text


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
