"""The commands of the record: every verb, on every ready scenario where it has one."""

from __future__ import annotations

from collections.abc import Sequence

SWEPT = ("panel-knob", "half-cycle-x2", "mixed-hand", "two-section-filter")
REPLAYED = ("panel-knob", "x4-no-filter", "two-clock-gates", "interlock", "quiet-time", "sampled-majority")
COMPARED = (
    ("which-filter",),
    ("panel-knob", "quiet-time", "two-section-filter"),
    ("panel-knob", "--with", "filter.capacitor=150 nF", "--with", "filter.series=2k2"),
    ("x4-no-filter", "--with", "supply.voltage=5 V"),
)
CHOSEN = (
    ("panel-knob", "--target", "1 in 50 steps", "--vary", "filter.capacitor=100n..470n:E3"),
    ("panel-knob", "--target", "1 in 10000 steps", "--vary", "filter.capacitor=22n, 47n"),
    ("two-section-filter", "--target", "1 in 20 steps", "--set", "runs=400"),
)
SECTIONS = ("", "scenarios", "parts", "stages", "inputs", "counters", "contacts", "gestures")
REFUSED = (
    ("run", "panel-knobs"),
    ("run", "panel-knob", "--set", "filter.capacitor=47 mF"),
    ("run", "panel-knob", "--set", "filter.capacitance=47 nF"),
    ("run", "panel-knob", "--runs", "0"),
    ("check", "nowhere.toml"),
    ("sweep", "panel-knob", "--vary", "filter.capacitor=22n..1u:E7"),
    ("choose", "panel-knob"),
    ("compare", "panel-knob"),
    ("trace", "panel-knob", "--step", "99"),
    ("replay", "nothing.csv", "panel-knob"),
    ("list", "knobs"),
    ("show", "panel-nob"),
    ("ledger", "nothing.ledger"),
    ("completion", "ksh"),
)

JSON = ("--json", "-")


def commands(scenarios: Sequence[str]) -> list[tuple[str, ...]]:
    """All of them for these ready scenarios; they run in order in one folder, for some read what an earlier
    one wrote.
    """
    found: list[tuple[str, ...]] = []
    for name in scenarios:
        found += [
            ("show", name, *JSON),
            ("check", name, *JSON),
            ("run", name, "--runs", "40", "-q", *JSON),
            ("trace", name, "--run", "3", *JSON),
            ("trace", name, "--worst", "--runs", "40", *JSON),
        ]
    found += [
        ("run", "panel-knob", "--set", "target.wrong=1 in 1000 steps", "--runs", "200", "-q", *JSON),
        ("run", "panel-knob", "--runs", "300", "--errors", "5", "-q", *JSON),
        ("run", "well-filtered", "--runs", "300", "--precision", "20 %", "-q", *JSON),
        ("run", "panel-knob", "--runs", "30", "--engine", "events", "-q", *JSON),
        ("run", "panel-knob", "--runs", "30", "--no-margins", "--ledger", "kept.ledger", "-q", *JSON),
        ("ledger", "kept.ledger", *JSON),
    ]
    for name in SWEPT:
        value = "20 %" if name != "mixed-hand" else "10 %"
        found.append(
            (
                "sweep",
                name,
                "--vary",
                f"supply.tolerance=1 %, {value}",
                "--runs",
                "60",
                "--no-ledger",
                "-q",
                *JSON,
            )
        )
    found += [
        (
            "sweep", "panel-knob", "--vary", "filter.capacitor=47n..470n:E3",
            "--vary", "filter.series=1k, 2k2",
            "--target", "1 in 100 steps", "--each-gesture", "--runs", "600", "--no-ledger", "-q", *JSON,
        ),
    ]  # fmt: skip
    found += [("compare", *each, "--runs", "100", "-q", *JSON) for each in COMPARED]
    found += [("choose", *each, "--runs", "800", "--no-ledger", "-q", *JSON) for each in CHOSEN]
    for name in REPLAYED:
        found += [
            ("trace", name, "--run", "1", "--csv", f"{name}.csv", "--vcd", f"{name}.vcd"),
            ("replay", f"{name}.csv", name, "-q", *JSON),
            ("replay", f"{name}.vcd", name, "-q", *JSON),
        ]
    found += [("list", *([each] if each else [])) for each in SECTIONS]
    found += [("list", *([each] if each else []), *JSON) for each in SECTIONS]
    found += [("new", "starter.toml"), ("check", "starter.toml", *JSON), ("completion", "bash")]
    return found + list(REFUSED)
