"""Every verdict, root cause and count in doubt has its words."""

from __future__ import annotations

import pytest

from reports.sentences import CAUSES, LEFT_OUT, SAFETY, VERDICTS, cause_sentence, cautions
from simcore.judging import sums


def test_every_root_cause_but_none_has_a_sentence_and_no_sentence_lacks_a_cause() -> None:
    assert set(CAUSES) == set(sums.CAUSES) - {"none"}


@pytest.mark.parametrize("sentence", CAUSES.values(), ids=CAUSES)
def test_a_sentence_is_one(sentence: str) -> None:
    assert sentence[0].isupper()
    assert sentence.endswith(".")


def test_every_verdict_has_its_words() -> None:
    assert set(VERDICTS) == {*sums.VERDICTS, "wrong", "spurious"}


def test_an_unknown_cause_is_named_rather_than_lost() -> None:
    assert cause_sentence("gremlins") == "gremlins"


def test_the_scenarios_own_cautions_come_first_and_the_lasting_ones_always() -> None:
    assert cautions(("Mind the gap.",)) == ["Mind the gap.", LEFT_OUT, SAFETY]
    for word in (
        "heat",
        "motion",
        "radiated power",
        "headphones",
        "independent limit",
        "local codes",
        "licensed",
    ):
        assert word in SAFETY
