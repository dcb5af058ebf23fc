"""The page of a sweep in a real browser: no network, no complaint; widths, themes, labels and print work."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator
from typing import Any

import pytest

from reports.figures.causes import CAUSE_LOOKS
from reports.render.palette import DARK, HEAT, LIGHT
from tests.reports.browsers import Visit, browser
from tests.reports.sweeps import KNOB, one_key, told, two_keys

PLACES = {"one": ["chart-range", "chart-causes"], "two": ["chart-heat-1", "chart-causes"]}


@pytest.fixture(scope="module")
def launched() -> Iterator[Any]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, pathlib.Path]:
    folder = tmp_path_factory.mktemp("sweeps")
    made = {"one": one_key().page(), "two": two_keys().page()}
    for name, text in made.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: folder / f"{name}.html" for name in made}


def css(colour: str) -> str:
    return f"rgb({', '.join(str(int(colour[i : i + 2], 16)) for i in (1, 3, 5))})"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 800, 1280])
@pytest.mark.parametrize("name", ["one", "two"])
def test_it_loads_alone_and_fits(launched: Any, files: Any, name: str, width: int, scheme: str) -> None:
    visit = Visit(launched, files[name], width, scheme)
    assert visit.complaints == []
    assert visit.asked == [files[name].as_uri()]
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    assert width < 1280 or visit.cut_tables() == []
    for place in PLACES[name]:
        assert visit.page.locator(f"#{place} svg.main-svg").first.bounding_box()["width"] <= width
    visit.context.close()


@pytest.mark.parametrize(("scheme", "colours"), [("light", LIGHT), ("dark", DARK)])
def test_the_heat_map_wears_the_colours_of_the_theme(
    launched: Any, files: Any, scheme: str, colours: dict[str, str]
) -> None:
    """What the chart was given to draw, after the page has swapped its colours."""
    visit = Visit(launched, files["two"], 800, scheme)
    scale = visit.page.evaluate("document.getElementById('chart-heat-1').data[0].colorscale.map(s => s[1])")
    assert set(scale) <= {colours[name] for name in HEAT}
    assert len(set(scale)) > 3
    assert visit.colour("body", "backgroundColor") == css(colours["ground"])
    visit.context.close()


@pytest.mark.parametrize("width", [360, 1280])
def test_a_legend_of_many_rows_leaves_the_axis_its_room(launched: Any, tmp_path: Any, width: int) -> None:
    """On a phone seven root causes take several rows; they once lay on the values of the axis."""
    result = one_key()
    first, *others = result.cells
    more = ("swallowed", "late direction", "early direction", "swapped order", "misfit", "short pulse")
    first = first.model_copy(update={"causes": {**dict.fromkeys(more, 1), **first.causes}})
    many = result.model_copy(update={"cells": (first, *others)})
    (tmp_path / "many.html").write_text(many.page(), encoding="utf-8")
    visit = Visit(launched, tmp_path / "many.html", width, "light")

    def ends(what: str) -> list[list[float]]:
        script = "all => all.map(each => {const b = each.getBoundingClientRect(); return [b.top, b.bottom];})"
        found: list[list[float]] = visit.page.locator(f"#chart-causes {what}").evaluate_all(script)
        return found

    ((top, bottom),) = ends("g.legend")
    assert max(low for _, low in ends(".xtick text") + ends(".g-xtitle text")) <= top
    assert len(ends("g.legend .traces")) >= 6
    assert bottom <= ends("")[0][1]
    visit.context.close()


def test_a_map_of_two_rows_has_room_for_its_path(launched: Any, tmp_path: Any) -> None:
    """It stands upright beside the rows, and was once cut off by so few."""
    few = ("--vary", "filter.capacitor=47n, 68n", "--vary", "filter.series=1k, 2k2")
    (tmp_path / "few.html").write_text(
        told(KNOB, *few, "--runs", "30", "--all-runs").page(), encoding="utf-8"
    )
    visit = Visit(launched, tmp_path / "few.html", 800, "light")
    title = visit.page.locator("#chart-heat-1 .g-ytitle text").bounding_box()
    chart = visit.page.locator("#chart-heat-1 svg.main-svg").first.bounding_box()
    assert title["height"] > 80
    assert chart["y"] <= title["y"]
    assert title["y"] + title["height"] <= chart["y"] + chart["height"] - 100
    visit.context.close()


def test_labels_of_a_heat_map_do_not_meet_on_a_phone(launched: Any, files: Any) -> None:
    visit = Visit(launched, files["two"], 360, "light")
    boxes = visit.page.evaluate(
        "[...document.querySelectorAll('#chart-heat-1 .scatterlayer text')].map(each => "
        "{const b = each.getBoundingClientRect(); return [b.left, b.right, b.top, b.bottom];})"
    )
    assert len(boxes) == 21
    for number, (left, right, top, bottom) in enumerate(boxes):
        for other in boxes[number + 1 :]:
            apart = right <= other[0] or other[1] <= left or bottom <= other[2] or other[3] <= top
            assert apart, (boxes[number], other)
    visit.context.close()


def test_pointing_tells_a_cell(launched: Any, files: Any) -> None:
    """The pointer on the middle of the lowest row and first column of fields."""
    visit = Visit(launched, files["two"], 800, "light")
    lane = visit.page.locator("#chart-heat-1 .nsewdrag").first
    lane.scroll_into_view_if_needed()
    box = lane.bounding_box()
    visit.page.mouse.move(box["x"] + box["width"] / 6, box["y"] + box["height"] * 13 / 14)
    visit.page.wait_for_selector("#chart-heat-1 .hoverlayer .hovertext")
    said = visit.page.locator("#chart-heat-1 .hoverlayer").text_content()
    assert "filter.capacitor 47 nF" in said.replace("\N{NO-BREAK SPACE}", " ")
    visit.context.close()


def test_print_is_light_whatever_the_screen(launched: Any, files: Any) -> None:
    visit = Visit(launched, files["one"], 800, "dark")
    paper = "document.getElementById('chart-range').layout.paper_bgcolor"
    visit.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert visit.page.evaluate(paper) == LIGHT["sheet"]
    visit.page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert visit.page.evaluate(paper) == DARK["sheet"]
    assert visit.page.pdf(format="A4").startswith(b"%PDF")
    visit.context.close()


def test_hatched_bars_are_drawn_in_their_colour(launched: Any, files: Any) -> None:
    """A hatch is a pattern; under it lies a field of the bar's own colour."""
    visit = Visit(launched, files["one"], 800, "light")
    fills = visit.page.evaluate(
        "[...document.querySelectorAll('#chart-causes pattern rect')]"
        ".map(each => getComputedStyle(each).fill)"
    )
    assert css(LIGHT[CAUSE_LOOKS["chatter"][0]]) in fills
    visit.context.close()
