"""What `list` says of kinds is what the schema says, and the README says the same."""

from __future__ import annotations

import pytest

from scenarios.kinds import KINDS, Kind, kinds_of
from tests.scenarios.kinds_page import README, wanted

ALL = [(what, kind) for what in KINDS for kind in kinds_of(what)]


def test_the_readme_shows_the_schema() -> None:
    assert README.read_text(encoding="utf-8") == wanted(), "run python -m tests.scenarios.kinds_page"


@pytest.mark.parametrize(("what", "kind"), ALL, ids=[f"{what}-{kind.kind}" for what, kind in ALL])
def test_everything_has_a_meaning(what: str, kind: Kind) -> None:
    assert kind.kind
    assert kind.meaning.endswith(".")
    assert [each.path for each in kind.parameters if not each.meaning] == []


def test_inputs_are_among_the_stages() -> None:
    assert {kind.kind for kind in kinds_of("inputs")} < {kind.kind for kind in kinds_of("stages")}
