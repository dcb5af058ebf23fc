"""What differs between the designs of a comparison: all of it, and nothing else."""

from __future__ import annotations

from scenarios.loading.comparison import Compared, difference_rows, load_compared


def rows_of(*designs: Compared) -> dict[str, list[str | None]]:
    return dict(difference_rows([design.scenario.resolved for design in designs]))


def test_what_differs_and_nothing_else() -> None:
    designs = load_compared(
        ["panel-knob"], ["filter.capacitor=220 nF, input.rising=2 V", "supply.voltage=3300 mV"]
    )
    assert rows_of(*designs) == {
        "filter.capacitor": ["100 nF", "220 nF", "100 nF"],
        "input.rising": ["52.4 %", "2 V", "52.4 %"],
    }


def test_a_stage_that_one_design_has_not() -> None:
    rows = rows_of(*load_compared(["panel-knob", "no-filter"]))
    assert rows["stages"] == ["filter, input", None]
    assert rows["filter.capacitor"] == ["100 nF", None]
    assert "input.noise" not in rows, "what is nought is left out"
