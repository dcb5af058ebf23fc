"""Results of the Python interface as people see them: by rich in a terminal, as HTML in a notebook."""

from __future__ import annotations

import io
import pathlib
import re
from collections.abc import Iterator
from typing import Any

import pytest
from click.testing import CliRunner
from rich.console import Console
from rich.panel import Panel

from reports import api
from reports.cli.group import steptally
from reports.results.run import RunResult
from reports.results.trace import TraceResult
from tests.reports.browsers import Visit, browser
from tests.reports.page_reading import HOSTILE, Node, read_page, words
from tests.reports.replays import recording
from tests.reports.running import KNOB
from tests.reports.verbs import NAMES, made

AROUND = (
    "<!doctype html><html><head><meta charset=utf-8><meta name=viewport content='width=device-width'>"
    "<meta name=color-scheme content='light dark'></head><body>{}</body></html>"
)


def shown(result: Any, width: int, **looks: Any) -> str:
    """What rich prints."""
    console = Console(file=io.StringIO(), width=width, **looks)
    console.print(result)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def bare(text: str) -> str:
    """Without blanks at the ends of lines, and without the paragraph that tells the time taken, if any."""
    lines = [line.rstrip() for line in text.strip("\n").split("\n")]
    paragraphs = "\n".join(lines).split("\n\n")
    kept = [each for each in paragraphs if not re.search(r"\d\ss[.;]\s", each + "\n")]
    assert len(paragraphs) - len(kept) <= 1
    return "\n\n".join(kept)


VERBS: dict[str, tuple[str, ...]] = {
    "run": ("run", "panel-knob", "--runs", "60"),
    "check": ("check", "panel-knob"),
    "trace": ("trace", "panel-knob", "--run", "2"),
    "worst": ("trace", "no-filter", "--worst", "--runs", "20"),
    "compare": (
        "compare", "no-filter", "--with", "encoder.detents=20", "--with", "counter.setup=1 ms",
        "--runs", "30",
    ),
    "sweep": (
        "sweep", "panel-knob", "--vary", "filter.capacitor=22n..220n:E3", "--runs", "200",
        "--target", "1 in 50 steps", "--no-ledger",
    ),
    "choose": (
        "choose", "no-filter", "--target", "1 in 100 steps", "--vary", "counter.setup=1 us, 2 us",
        "--runs", "500", "--no-ledger",
    ),
    "list": ("list",),
    "kinds": ("list", "gestures"),
}  # fmt: skip


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("name", VERBS)
def test_rich_prints_the_report_of_the_verb(name: str, width: int) -> None:
    done = CliRunner().invoke(steptally, list(VERBS[name]), env={"COLUMNS": str(width)})
    assert done.exit_code in (0, 1), done.output
    assert bare(shown(made(name), width)) == bare(done.stdout)


@pytest.mark.parametrize("width", [80, 120])
def test_rich_prints_the_report_of_a_replay(
    width: int, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    pathlib.Path("trace.csv").write_text(recording(pairs_a=2, pairs_b=1), encoding="utf-8")
    done = CliRunner().invoke(steptally, ["replay", "trace.csv", "panel-knob"], env={"COLUMNS": str(width)})
    assert bare(shown(api.replay("trace.csv", "panel-knob"), width)) == bare(done.stdout)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("width", [40, 80, 120])
def test_a_report_keeps_to_the_room_it_has(name: str, width: int) -> None:
    """Also within something else; the text of a scenario is as it is."""
    if name != "show":
        for text in (shown(made(name), width), shown(Panel(made(name)), width)):
            assert max(len(line) for line in text.splitlines()) <= width


def test_what_was_printed_before_is_not_swallowed() -> None:
    """Rendering inside a capture of the caller's takes nothing of it."""
    console = Console(file=io.StringIO(), width=80)
    with console.capture() as capture:
        console.print("before")
        console.print(made("check"))
        console.print("after")
    lines = capture.get().splitlines()
    assert (lines[0], lines[-1]) == ("before", "after")


def test_colour_is_the_consoles_own() -> None:
    coloured = shown(made("check"), 80, force_terminal=True, color_system="standard")
    assert "\x1b[" in coloured
    assert "\x1b[" not in shown(made("check"), 80)


def notebook(result: Any) -> Node:
    """What a notebook gets, read as a page."""
    return read_page(AROUND.format(result._repr_html_()))


@pytest.mark.parametrize("name", NAMES)
def test_a_fragment_loads_nothing_and_leaves_the_notebook_alone(name: str) -> None:
    page = notebook(made(name))
    for node in page.walk():
        assert node.tag not in ("script", "img", "link", "iframe", "object", "form")
        for attribute, value in node.attributes.items():
            assert attribute not in ("id", "src", "href")
            assert not attribute.startswith("on")
            assert node.tag == "meta" or "url(" not in value
    (style,) = page.all("style")
    assert "url(" not in style.text
    assert "@import" not in style.text
    rules = [rule.strip() for rule in style.text.split("}") if rule.strip()]
    assert all(rule.startswith(".steptally-result") for rule in rules), "a rule would reach the notebook"
    assert len(made(name)._repr_html_()) < 120_000


@pytest.mark.parametrize("name", NAMES)
def test_tables_have_heads_and_equal_rows(name: str) -> None:
    tables = notebook(made(name)).all("table")
    assert tables
    for table in tables:
        assert table.attributes["aria-label"]
        widths = {len(row.all("th", "td")) for row in table.all("tr")}
        assert len(widths) == 1, table.attributes
        heads = table.all("thead")[0].all("th")
        assert all(head.attributes["scope"] == "col" for head in heads)
        for row in table.all("tbody")[0].all("tr"):
            assert [cell.attributes.get("scope") for cell in row.all("th")] == ["row"]


def test_a_run_shows_its_sentence_and_its_numbers() -> None:
    result = made("run")
    assert isinstance(result, RunResult)
    text = words(notebook(result)).replace("\u2007", "").replace("\u2008", "")
    for count in (*result.verdicts.export.values(), result.wrong):
        assert f"{count:,}" in text
    assert all(sentence in text for sentence in result.cause_sentences.values())
    assert "fails: open gap ridden through" in text


def test_a_trace_shows_its_diagram_and_why() -> None:
    result = made("worst")
    assert isinstance(result, TraceResult)
    page = notebook(result)
    assert len(page.all("pre")) == len(result.places)
    text = words(page)
    assert all(" ".join(reason.split()) in text for reason in result.why)


def test_hostile_words_stay_words() -> None:
    text = KNOB.replace('title = "', f"title = '''{HOSTILE.replace(chr(39), '')}'''\n#").replace(
        '"single clicks"', '"<b>clicks</b>"'
    )
    result = api.run(text, runs=40)
    for each in (result, api.trace(text, worst=True, runs=40), api.check(text), api.show(text)):
        page = notebook(each)
        assert page.all("script") == []
        assert [node.text for node in page.all("b") if "clicks" in node.text] == []
        assert "<script>alert(1)</script>" in page.text
    assert "<b>clicks</b>" in notebook(result).text


@pytest.fixture(scope="module")
def launched() -> Iterator[Any]:
    with browser() as found:
        yield found


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("name", ["run", "worst", "replay", "compare", "choose"])
def test_in_a_browser_it_fits_and_has_the_colours_around_it(
    launched: Any, tmp_path: pathlib.Path, name: str, width: int, scheme: str
) -> None:
    file = tmp_path / "notebook.html"
    file.write_text(AROUND.format(made(name)._repr_html_()), encoding="utf-8")
    visit = Visit(launched, file, width, scheme)
    visit.page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true; })")
    assert visit.complaints == []
    assert visit.asked == [file.as_uri()]
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    assert {visit.colour(each, "color") for each in ("td", "th", "p")} == {visit.colour("body", "color")}
    assert visit.colour(".sheet", "backgroundColor") == "rgba(0, 0, 0, 0)"
    visit.context.close()
