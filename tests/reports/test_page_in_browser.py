"""The page in a real browser: no network, no complaint; zoom, hover, themes, widths and print work."""

from __future__ import annotations

import pathlib
import time
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest

from tests.reports.browsers import Visit, browser
from tests.reports.samples import paged

STEP = "chart-step-1"
WORDS = {"contact": ("open", "closed"), "level": ("low", "high")}


@pytest.fixture(scope="module")
def launched() -> Iterator[Any]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    place = tmp_path_factory.mktemp("page") / "report.html"
    place.write_text(paged().page(), encoding="utf-8")
    return place


def turns(look: Callable[[], str], wanted: str) -> bool:
    """Whether a look becomes what is wanted before long; the page redraws when it is told to."""
    end = time.monotonic() + 20.0
    while look() != wanted and time.monotonic() < end:
        time.sleep(0.05)
    return look() == wanted


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 800, 1400])
def test_it_loads_alone_and_fits(launched: Any, file: pathlib.Path, width: int, scheme: str) -> None:
    visit = Visit(launched, file, width, scheme)
    assert visit.complaints == []
    assert visit.asked == [file.as_uri()]
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    places = visit.page.locator(".chart")
    assert places.count() >= 3
    for number in range(places.count()):
        assert places.nth(number).locator("svg.main-svg").first.bounding_box()["width"] <= width
    visit.context.close()


def test_no_table_breaks_its_words_on_a_phone(launched: Any, file: pathlib.Path) -> None:
    """The narrowest column of words is still some words wide."""
    visit = Visit(launched, file, 360, "light")
    widths = visit.page.evaluate(
        "[...document.querySelectorAll('td.short, td.text')].filter(each => each.offsetParent)"
        ".map(each => each.clientWidth)"
    )
    assert widths
    assert min(widths) >= 60
    visit.context.close()


def test_on_a_desk_every_table_is_seen_whole(launched: Any, file: pathlib.Path) -> None:
    visit = Visit(launched, file, 1280, "light")
    assert visit.cut_tables() == []
    visit.context.close()


def test_bars_in_tables_are_printed(launched: Any, file: pathlib.Path) -> None:
    """A browser leaves grounds out of print unless it is told that they matter."""
    visit = Visit(launched, file, 800, "light")
    visit.page.emulate_media(media="print")
    assert visit.colour("td.bar .length", "printColorAdjust") == "exact"
    visit.context.close()


def test_charts_follow_the_theme(launched: Any, file: pathlib.Path) -> None:
    """The colours on the screen are those of the palette, and change with it without a reload."""
    from reports.render.palette import DARK, LIGHT

    def css(colour: str) -> str:
        return f"rgb({', '.join(str(int(colour[i : i + 2], 16)) for i in (1, 3, 5))})"

    visit = Visit(launched, file, 800, "light")
    line = f"#{STEP} .scatterlayer .trace path.js-line"
    for scheme, colours in (("light", LIGHT), ("dark", DARK), ("light", LIGHT)):
        visit.page.emulate_media(color_scheme=scheme)
        assert turns(lambda: visit.colour(line, "stroke"), css(colours["line-a"]))
        assert visit.colour("body", "backgroundColor") == css(colours["ground"])
    visit.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_bar_of_final_errors_can_be_seen(launched: Any, file: pathlib.Path, scheme: str) -> None:
    """Plain bars have the colour of the palette, hatched ones a ground of it below the hatching."""
    from reports.render.palette import DARK, LIGHT

    wanted = (LIGHT if scheme == "light" else DARK)["bar"]
    visit = Visit(launched, file, 800, scheme)
    grounds = visit.page.evaluate(
        """[...document.querySelectorAll("#chart-errors .bars .point path")].map(path => {
            const fill = getComputedStyle(path).fill, named = fill.match(/#([^"')]+)/);
            const ground = named ? document.getElementById(named[1]).querySelector("rect") : path;
            return ground ? getComputedStyle(ground).fill : "none";
        })"""
    )
    assert len(grounds) == len(paged().final_errors) > 1
    assert grounds == [f"rgb({', '.join(str(int(wanted[i : i + 2], 16)) for i in (1, 3, 5))})"] * len(grounds)
    visit.context.close()


def test_buttons_steer_the_time_axis_down_to_microseconds(launched: Any, file: pathlib.Path) -> None:
    gallery = paged().gallery
    assert gallery is not None
    item = gallery.steps[0]
    visit = Visit(launched, file, 800, "light")
    assert visit.range(STEP) == pytest.approx(tuple(item.moment_us))
    bar = visit.page.locator(f"[data-chart={STEP}]")
    bar.get_by_text("Whole step").click()
    assert visit.range(STEP) == pytest.approx(tuple(item.window_us))
    bar.get_by_text("Deciding moment").press("Enter")
    assert visit.range(STEP) == pytest.approx(tuple(item.moment_us))
    for _ in range(14):
        bar.get_by_text("Closer").press("Enter")
    low, high = visit.range(STEP)
    assert high - low < 5.0
    bar.get_by_text("Later").click()
    assert visit.range(STEP)[0] == pytest.approx(low + 0.5 * (high - low), abs=1e-3)
    for _ in range(30):
        bar.get_by_text("Wider").press("Enter")
    assert visit.range(STEP) == pytest.approx(tuple(item.window_us), abs=0.01)
    assert "Shown: " in bar.inner_text()
    visit.context.close()


def test_dragging_zooms(launched: Any, file: pathlib.Path) -> None:
    visit = Visit(launched, file, 800, "light")
    lane = visit.page.locator(f"#{STEP} .nsewdrag").first
    lane.scroll_into_view_if_needed()
    box = lane.bounding_box()
    low, high = visit.range(STEP)
    middle = box["y"] + 0.5 * box["height"]
    visit.page.mouse.move(box["x"] + 0.25 * box["width"], middle)
    visit.page.mouse.down()
    visit.page.mouse.move(box["x"] + 0.5 * box["width"], middle, steps=4)
    visit.page.mouse.up()
    assert visit.range(STEP) == pytest.approx(
        (low + 0.25 * (high - low), low + 0.5 * (high - low)), rel=0.02, abs=0.02 * (high - low)
    )
    assert visit.complaints == []
    visit.context.close()


def test_pointing_reads_every_track(launched: Any, file: pathlib.Path) -> None:
    """The values under the pointer are those of the result: levels held, voltages straight between points."""
    visit = Visit(launched, file, 800, "light")
    lane = visit.page.locator(f"#{STEP} .nsewdrag").first
    lane.scroll_into_view_if_needed()
    box = lane.bounding_box()
    low, high = visit.range(STEP)
    gallery = paged().gallery
    assert gallery is not None
    for share in (0.1, 0.37, 0.5, 0.77):
        across = round(box["x"] + share * box["width"])
        visit.page.mouse.move(across, box["y"] + 5)
        told = visit.page.locator(f"#{STEP}-reading").inner_text()
        due = low + (across - box["x"]) / box["width"] * (high - low)
        stated = float(told.removeprefix("At ").partition(" us")[0].replace(",", ""))
        assert stated == pytest.approx(due, abs=0.01 * (high - low))
        for track in gallery.steps[0].tracks:
            if track.sort == "voltage":
                volts = float(np.interp(stated, track.times_us, track.values))
                read = float(told.partition(f"voltage of {track.line} (V): ")[2].split(";")[0])
                assert read == pytest.approx(volts, abs=0.03)
            else:
                held = track.values[int(np.searchsorted(track.times_us, stated, side="right")) - 1]
                said = WORDS[track.sort][int(held)] if track.sort in WORDS else str(held)
                assert f": {said}" in told
    visit.page.mouse.move(2, 2)
    assert visit.page.locator(f"#{STEP}-reading").inner_text().startswith("Point at")
    visit.context.close()


def test_a_finger_scrolls_the_page_and_the_buttons_remain(launched: Any, file: pathlib.Path) -> None:
    visit = Visit(launched, file, 360, "light", has_touch=True, is_mobile=True)
    assert visit.page.evaluate(f"document.getElementById('{STEP}').layout.dragmode") is False
    assert visit.page.locator(f"[data-chart={STEP}]").is_visible()
    visit.context.close()


def test_the_keyboard_comes_to_everything_with_a_visible_focus(launched: Any, file: pathlib.Path) -> None:
    visit = Visit(launched, file, 800, "light")
    seen: list[str] = []
    for _ in range(60):
        visit.page.keyboard.press("Tab")
        seen.append(visit.page.evaluate("document.activeElement.className || document.activeElement.tagName"))
        style, width = visit.page.evaluate(
            "(s => [s.outlineStyle, parseFloat(s.outlineWidth)])(getComputedStyle(document.activeElement))"
        )
        if seen[-1] == "BODY":
            break
        assert (style, width >= 2.0) == ("solid", True), seen
    assert seen[0] == "skip"
    assert {"A", "sheet", "BUTTON", "SUMMARY"} <= set(seen)
    visit.context.close()


def test_print_is_light_whatever_the_screen(launched: Any, file: pathlib.Path) -> None:
    from reports.render.palette import LIGHT

    visit = Visit(launched, file, 800, "dark")
    visit.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert visit.page.evaluate(f"document.getElementById('{STEP}').layout.paper_bgcolor") == LIGHT["sheet"]
    assert visit.page.evaluate("[...document.querySelectorAll('details')].every(each => each.open)")
    visit.page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert visit.page.evaluate(f"document.getElementById('{STEP}').layout.paper_bgcolor") != LIGHT["sheet"]
    assert not visit.page.evaluate("[...document.querySelectorAll('details')].some(each => each.open)")
    assert visit.page.pdf(format="A4").startswith(b"%PDF")
    visit.context.close()
