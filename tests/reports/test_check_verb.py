"""``steptally check``: its report, its JSON, its exit codes, and what ``run`` tells of it."""

from __future__ import annotations

import functools
import json
import math
import pathlib
import re

import jsonschema
import pytest
from click.testing import CliRunner

from reports import api
from reports.cli.exits import BAD_INPUT, CHECK_FAILED, DONE
from reports.cli.group import steptally as group
from reports.documents.shared import CHECK_WORDS, failing_checks, totals_line
from reports.results import schema_of
from reports.results.check import CheckResult
from reports.results.common import DesignCheck
from reports.words.drawing import networks
from reports.words.quantities import compared, quantity
from scenarios.loading.catalogue import ready_names
from tests.reports.running import steptally
from tests.reports.samples import drawn, ran
from tests.scenarios.samples import SMALL, changed, load_text

SETTLED = ("--set", "filter.capacitor=150 nF")


@functools.cache
def checked(name: str) -> CheckResult:
    return api.check(name)


def text_of(name: str, width: int, *, brief: bool = False) -> str:
    return drawn(checked(name).document(), width, brief=brief)


def one_check(name: str, check: str) -> DesignCheck:
    (found,) = (each for each in checked(name).checks if each.name == check)
    return found


def invoked(*arguments: str) -> tuple[int, str, str]:
    done = CliRunner().invoke(group, ["check", *arguments])
    return done.exit_code, done.stdout, done.stderr


def test_exit_codes() -> None:
    assert invoked("panel-knob", "-q")[0] == CHECK_FAILED == 1
    assert invoked("panel-knob", "-q", *SETTLED)[0] == DONE
    code, out, errors = invoked("panel-knop")
    assert (code, out) == (BAD_INPUT, "")
    assert "panel-knob" in errors
    assert invoked("panel-knob", "--set", "filter.capacitor=1 nH")[0] == BAD_INPUT


@pytest.mark.parametrize("name", ready_names())
def test_the_json_of_every_ready_scenario_is_valid(name: str) -> None:
    told = json.loads(checked(name).json())
    jsonschema.validate(told, schema_of("check"))
    assert sum(told["totals"].values()) == len(told["checks"])


def test_json_to_a_file_and_to_standard_output_agree(folder: pathlib.Path) -> None:
    done = steptally(folder, "check", "knob.toml", "--json", "out.json")
    assert done.returncode in (0, 1)
    alone = steptally(folder, "check", "knob.toml", "--json", "-")
    assert alone.stdout == (folder / "out.json").read_text(encoding="utf-8")
    assert done.stdout.startswith("Volume knob [bold]in brackets[/bold]\nLines A and B  3.3 V - 4.7 kohm - ")
    assert alone.stderr == ""
    assert steptally(folder, "check", "knob.toml", "--json", "missing/out.json").returncode == 2


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("name", ["panel-knob", "two-section-filter", "capacitor-across-contact", "one-shot"])
def test_the_report_keeps_to_its_width_and_shows_every_check(name: str, width: int) -> None:
    text = text_of(name, width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert "…" not in text
    flat = " ".join(text.split())
    for check in checked(name).checks:
        assert check.name in flat
        assert " ".join((check.why if check.verdict == "does not apply" else check.formula).split()) in flat


def test_the_table_says_what_the_result_says() -> None:
    text = text_of("panel-knob", 120, brief=True)
    row = next(line for line in text.splitlines() if line.startswith("charge time"))
    assert re.split(r"\s{2,}", row)[:5] == [
        "charge time", "passes", "filter, lines A and B", "626 us", "at most 1.95 ms",
    ]  # fmt: skip
    assert "Details" not in text


def test_a_suggestion_is_told_with_the_option_that_tries_it() -> None:
    text = " ".join(text_of("panel-knob", 200).split())
    assert "capacitor 150 nF (E6) gives 408 us; --set 'filter.capacitor=150 nF'" in text
    across = " ".join(text_of("capacitor-across-contact", 200).split())
    assert "--set filter.kind=rc --set 'filter.series=470 ohm'" in across
    costs = " ".join(text_of("well-filtered", 200).split())
    assert "; but then this fails: open gap ridden through;" in costs


@pytest.mark.skipif(not pathlib.Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_told_after_the_report() -> None:
    code, out, errors = invoked("panel-knob", "-q", "--json", "/dev/full")
    assert code == BAD_INPUT
    assert "charge time" in out
    assert errors.startswith("Error: /dev/full: cannot be written: ")


def test_a_value_that_is_no_case_of_the_advice_is_told_as_another_way() -> None:
    text = " ".join(text_of("plain-input", 200).split())
    assert "knows no such limit; or else capacitor 22 pF (E6) gives 347 ns; --set" in text


def test_a_network_without_a_capacitor_is_not_told_to_enlarge_it() -> None:
    check = one_check("synchroniser-alone", "open gap ridden through")
    assert check.verdict == "fail"
    assert check.advice.startswith("a capacitor, ")


def test_what_is_called_tight_is_what_the_note_says() -> None:
    """A tenth of the limit does not make 12.9 us tight against 1 us; a tenth of the edges' spacing does."""
    check = one_check("plain-input", "set-up of the direction")
    spacing = check.numbers[0].value
    assert check.verdict == "tight"
    assert spacing is not None
    assert check.limit is not None
    assert check.result is not None
    assert 0.1 * check.limit < check.result - check.limit < 0.1 * spacing
    text = " ".join(text_of("plain-input", 80).split())
    assert "than a tenth of the edges' spacing or of the supply" in text


def test_nothing_is_told_by_colour_alone() -> None:
    for line in failing_checks(checked("large-capacitor").checks):
        assert line.lead in ("fails", "is tight")
        assert "at most" in line.text or "at least" in line.text
    assert re.search(r"  fails +\S", text_of("large-capacitor", 80))


def test_totals_count_one_and_many() -> None:
    checks = checked("panel-knob").checks
    few = [next(each for each in checks if each.verdict == "fail")]
    few += [each for each in checks if each.verdict == "does not apply"]
    assert len(few) == 6
    assert totals_line(few) == "1 fails, 5 do not apply."
    assert set(CHECK_WORDS) == {"fail", "tight", "pass", "does not apply"}


@pytest.mark.parametrize(
    ("result", "limit", "texts"),
    [
        (2.0e-3, 3.0e-3, ("2 ms", "3 ms")),
        (0.01000004, 0.01, ("10.00004 ms", "10 ms")),
        (0.01, 0.01, ("10 ms", "10 ms")),
        (None, 0.01, ("never", "10 ms")),
        (0.0, None, ("0 s", "")),
    ],
)
def test_digits_tell_result_and_limit_apart(
    result: float | None, limit: float | None, texts: tuple[str, str]
) -> None:
    assert compared(result, limit, "s") == texts


def test_quantities_in_their_units() -> None:
    texts = [quantity(4.7e3, "ohm"), quantity(1.0e-6, "J", 3), quantity(6.312e8, "s"), quantity(0.5, "")]
    assert texts == ["4.7 kohm", "1 uJ", "20 years", "0.5"]


def test_what_never_happens_is_null_in_the_json_and_told_in_words() -> None:
    result = CheckResult.of(load_text(SMALL, ["supply.voltage=1.5 V"]))
    charge = next(each for each in result.checks if each.name == "charge time")
    assert charge.result is None
    assert "never" in charge.why
    assert "never" in drawn(result.document(), 80)
    direction = next(each for each in result.checks if each.name == "set-up of the direction")
    assert [number.name for number in direction.numbers if number.value is None] == [
        "longest delay of B opening"
    ]
    jsonschema.validate(json.loads(result.json()), schema_of("check"))


KINDS = {
    "rc": ('series = "1k"\n', "5 V - 10 kohm - contact; contact - 1 kohm - input with 100 nF to ground"),
    "rc at capacitor": (
        'series = "1k"\n', "5 V - 10 kohm - input with 100 nF to ground; input - 1 kohm - contact",
    ),
    "capacitor across contact": ("", "5 V - 10 kohm - contact with 100 nF across it; contact - input"),
    "rc with diode": (
        'series = "1k"\ndrop = "0.6 V"\nconducts = "charging"\n',
        "; a diode of 600 mV across the 1 kohm, which conducts while the capacitor charges",
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_networks_are_drawn_in_words(kind: str) -> None:
    more, words = KINDS[kind]
    keys = f'kind = "{kind}"\npull_up = "10k"\ncapacitor = "100 nF"\n{more}'
    text = changed('kind = "rc"\npull_up = "4k7"\nseries = "1k"\ncapacitor = "100 nF"\n', keys)
    (drawn,) = networks(load_text(text, ["supply.voltage=5 V"]).design)
    assert words in drawn["words"]
    assert drawn["lines"] == ["A", "B"]


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("pull-up", "3.3 V - 4.7 kohm - contact; contact - input; the contact closes to ground"),
        (
            "pull-down",
            "3.3 V - contact - 4.7 kohm - ground; contact - input; the contact closes to the supply",
        ),
    ],
)
def test_networks_without_a_capacitor(kind: str, words: str) -> None:
    key = kind.replace("-", "_")
    text = changed(
        'kind = "rc"\npull_up = "4k7"\nseries = "1k"\ncapacitor = "100 nF"\n',
        f'kind = "{kind}"\n{key} = "4k7"\n',
    )
    assert networks(load_text(text).design)[0]["words"] == words


def test_a_network_that_nobody_stated_is_said_to_be_taken() -> None:
    head, _, rest = SMALL.partition("[[stage]]")
    (drawn,) = networks(load_text(head + rest[rest.index("[[stage]]") :]).design)
    assert drawn["words"].endswith("(taken, for none is stated)")


def test_run_tells_what_fails_in_a_line_each_before_the_tables(folder: pathlib.Path) -> None:
    done = steptally(
        folder, "run", "panel-knob", "--runs", "20", "--json", "out.json", changes={"COLUMNS": "100"}
    )
    text = " ".join(done.stdout.split())
    line = "fails open gap ridden through (filter, lines A and B): 272 us, at least 334 us"
    assert line in text
    assert text.index("Wrong steps:") < text.index(line) < text.index("What became of the steps")
    told = json.loads((folder / "out.json").read_text(encoding="utf-8"))["checks"]
    assert told == [{**each, "change": None} for each in json.loads(checked("panel-knob").json())["checks"]]
    assert "Checks at the worst corner" not in drawn(ran("interlock", 20).document())


def test_numbers_put_in_give_the_result_by_the_stated_formula() -> None:
    """Recomputed by hand from what is printed: tau ln((V_end - V_start) / (V_end - V_threshold))."""
    check = one_check("panel-knob", "charge time")
    put = {number.name: number.value for number in check.numbers if number.value is not None}
    start = put["supply"] * put["contact resistance"] / (put["contact resistance"] + put["pull up"])
    tau = (put["pull up"] + put["series"]) * put["capacitor"]
    seconds = tau * math.log((put["supply"] - start) / (put["supply"] - put["threshold"]))
    assert seconds == pytest.approx(check.result, rel=1e-12)
