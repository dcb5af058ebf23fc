"""Results are the JSON of their verbs, text for text, and their schemas know and describe every key."""

from __future__ import annotations

import importlib
import json
import pathlib
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import jsonschema
import pytest
from pydantic import ValidationError

from reports.results import RESULTS, result_class, schema_of
from reports.results.common import Record, Result
from tests.golden.recording import read
from tests.reports.running import steptally

COMMANDS = {
    "check": [["panel-knob"]],
    "run": [
        ["panel-knob", "--runs", "40", "--set", "target.wrong=1 in 50 steps", "-q", "--html", "page.html"],
        ["panel-knob", "--runs", "40", "--errors", "5", "--no-margins", "-q"],
    ],
    "sweep": [
        [
            "panel-knob",
            "--vary",
            "filter.capacitor=47n, 150n, 1u",
            "--target",
            "1 in 100 steps",
            "--runs",
            "400",
            "--no-ledger",
            "-q",
        ],
    ],
    "choose": [
        [
            "panel-knob",
            "--target",
            "1 in 50 steps",
            "--vary",
            "filter.capacitor=100n, 220n",
            "--runs",
            "800",
            "--no-ledger",
            "-q",
        ],
        [
            "panel-knob",
            "--target",
            "1 in 10000 steps",
            "--vary",
            "filter.capacitor=22n",
            "--runs",
            "200",
            "--no-ledger",
            "-q",
        ],
    ],
    "compare": [
        ["panel-knob", "--with", "filter.capacitor=150 nF", "--runs", "100", "-q", "--html", "page.html"]
    ],
    "trace": [["x4-no-filter", "--run", "1"], ["panel-knob", "--worst", "chatter", "--runs", "40"]],
    "replay": [["knob.csv", "panel-knob", "-q"], ["knob.vcd", "panel-knob", "-q"]],
    "ledger": [["kept.ledger"], ["kept.ledger", "--check"]],
    "list": [[], ["stages"], ["inputs"], ["counters"], ["contacts"], ["gestures"]],
    "show": [["synchroniser-alone"]],
}
"""Arguments for each verb."""
FILES = {
    "replay": ["trace", "panel-knob", "--run", "1", "--csv", "knob.csv", "--vcd", "knob.vcd"],
    "ledger": ["run", "panel-knob", "--runs", "30", "--ledger", "kept.ledger", "-q"],
}
"""The command that writes the files that a verb's commands read."""


def _classes(record: type[Record]) -> Iterator[type[Record]]:
    """A class and all that are made from it."""
    yield record
    for each in record.__subclasses__():
        yield from _classes(each)


def _records() -> list[type[Record]]:
    for verb in RESULTS:
        result_class(verb)
    importlib.import_module("reports.results.common")
    return list(dict.fromkeys(_classes(Record)))


@pytest.mark.parametrize("verb", RESULTS)
def test_result_is_the_text_that_was_written(verb: str, tmp_path: pathlib.Path) -> None:
    if verb in FILES:
        assert steptally(tmp_path, *FILES[verb]).returncode == 0
    for words in COMMANDS[verb]:
        text = steptally(tmp_path, verb, *words, "--json", "-").stdout
        written = json.loads(text)
        result = result_class(verb).model_validate(written)
        assert result.json() == text
        assert result_class(verb).model_validate_json(text) == result
        jsonschema.validate(written, schema_of(verb))
        # The text of a scenario, from which the tables of show are made, is not in the JSON.
        for name, rows in () if verb == "show" else result.tables().items():
            assert result.table(name) == rows
            assert {tuple(row) for row in rows} <= {tuple(rows[0]) if rows else ()}
            assert not any(isinstance(value, (dict, list, tuple)) for row in rows for value in row.values())


def test_every_verb_is_tried() -> None:
    assert set(COMMANDS) == set(RESULTS)


@pytest.mark.parametrize("record", _records(), ids=lambda record: record.__name__)
def test_every_field_says_what_it_is(record: type[Record]) -> None:
    assert record.__doc__
    for name, field in record.model_fields.items():
        assert field.description, name
        assert field.description.endswith("."), name


@pytest.mark.parametrize("command", [key for key in read()["keys"] if key.split()[0] in RESULTS])
def test_schema_knows_every_key_of_the_record(command: str) -> None:
    schema = schema_of(command.split()[0])
    jsonschema.Draft202012Validator.check_schema(schema)
    assert [path for path in read()["keys"][command] if not _known(path, schema)] == []


def _known(path: str, schema: dict[str, Any]) -> bool:
    nodes = [schema]
    for part in path.split("/")[1:]:
        nodes = [inner for node in nodes for inner in _inside(node, part, schema)]
    return bool(nodes)


def _inside(node: dict[str, Any], part: str, schema: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """What a schema says of a key, or of an item ("*")."""
    if "$ref" in node:
        yield from _inside(schema["$defs"][node["$ref"].rpartition("/")[2]], part, schema)
    for choice in node.get("anyOf", ()):
        yield from _inside(choice, part, schema)
    if part in node.get("properties", {}):
        yield node["properties"][part]
    elif isinstance(node.get("additionalProperties"), dict):
        yield node["additionalProperties"]
    elif node.get("additionalProperties") is True:
        yield {"additionalProperties": True, "items": {"additionalProperties": True}}
    if part == "*":
        yield from ([node["items"]] if isinstance(node.get("items"), dict) else node.get("prefixItems", ()))


def test_unknown_keys_are_not_known() -> None:
    schema = schema_of("check")
    assert _known("/checks/*/change/costs/*", schema)
    assert not _known("/checks/*/change/price", schema)
    assert not _known("/checks/*/name/*", schema)


def test_results_cannot_be_changed(tmp_path: pathlib.Path) -> None:
    text = steptally(tmp_path, "check", "panel-knob", "--json", "-").stdout
    result: Any = result_class("check").model_validate_json(text)
    with pytest.raises(ValidationError, match="frozen"):
        result.name = "other"
    with pytest.raises(TypeError, match="cannot be changed"):
        result.scenario["supply"]["voltage"] = "5 V"
    with pytest.raises(AttributeError):
        result.checks.append(None)
    with pytest.raises(ValueError, match="table: expected"):
        result.table("check")


@pytest.mark.parametrize("wrong", [{"name": 3}, {"networks": None}, {"extra": 1}, {"totals": {"fail": 1.0}}])
def test_other_values_are_refused(wrong: dict[str, Any], tmp_path: pathlib.Path) -> None:
    written = json.loads(steptally(tmp_path, "check", "panel-knob", "--json", "-").stdout)
    with pytest.raises(ValidationError):
        result_class("check").model_validate({**written, **wrong})


def test_frame_holds_the_table(tmp_path: pathlib.Path) -> None:
    pytest.importorskip("pandas")
    text = steptally(tmp_path, "check", "panel-knob", "--json", "-").stdout
    result: Result = result_class("check").model_validate_json(text)
    frame = result.frame("numbers")
    assert list(frame.columns) == ["check", "subject", "name", "value", "unit"]
    assert frame.to_dict("records") == [dict(row) for row in result.table("numbers")]


def test_command_line_starts_without_the_models() -> None:
    code = "import sys, reports.cli, reports.results; print([m for m in sys.modules if 'results.' in m])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
