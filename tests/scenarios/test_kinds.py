"""What `list` says of kinds is what the schema says, and the README says the same."""

from __future__ import annotations

import re

import pytest
from pydantic import ValidationError

from scenarios.schema.reference import KINDS, Kind, kinds_of
from scenarios.schema.tables import tag_of
from tests.scenarios.kinds_page import README, expected_page
from tests.scenarios.samples import load_text

ALL = [(what, kind) for what in KINDS for kind in kinds_of(what)]


def test_the_readme_shows_the_schema() -> None:
    assert README.read_text(encoding="utf-8") == expected_page(), "run python -m tests.scenarios.kinds_page"


def test_the_complete_example_of_the_readme_runs_as_a_file_with_its_variants() -> None:
    example, variants, *_ = re.findall(r"```toml\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    scenario = load_text(example + variants)
    assert scenario.title == "My knob"
    assert [variant.name for variant in scenario.variants] == ["220 nF", "slow and steady"]
    for variant in scenario.variants:
        load_text(example, [setting.text for setting in variant.settings])


@pytest.mark.parametrize(("what", "kind"), ALL, ids=[f"{what}-{kind.kind}" for what, kind in ALL])
def test_everything_has_a_meaning(what: str, kind: Kind) -> None:
    assert kind.kind
    assert kind.meaning.endswith(".")
    assert [each.path for each in kind.parameters if not each.meaning] == []


@pytest.mark.parametrize(("what", "kind"), ALL, ids=[f"{what}-{kind.kind}" for what, kind in ALL])
def test_what_is_called_needed_is_all_that_is_needed(what: str, kind: Kind) -> None:
    """Against the readers of the tables: what they miss in an empty table."""
    table = next(each for each in KINDS[what] if tag_of(each) == kind.kind)
    tag = "gesture" if what == "gestures" else "kind"
    missed: set[str] = set()
    try:
        table.model_validate({tag: kind.kind, "name": "x"})
    except ValidationError as error:
        missed = {".".join(map(str, each["loc"])) for each in error.errors() if each["type"] == "missing"}
    needed = {each.path for each in kind.parameters if each.needed}
    assert needed == missed - {"weight"}
    assert "``" not in kind.meaning


def test_inputs_are_among_the_stages() -> None:
    assert {kind.kind for kind in kinds_of("inputs")} < {kind.kind for kind in kinds_of("stages")}
