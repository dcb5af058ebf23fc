"""The sentences of a comparison, word for word."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.compare_words import (
    difference_interval_text,
    difference_text,
    headline,
    p_text,
    runs_line,
    sentence,
    together,
)
from tests.reports.comparisons import against, by_hand, rate

MUCH, LITTLE, NONE = rate(7.9, 8.56, 9.24), rate(0.04, 0.06, 0.09), rate(0.0, 0.0, 0.74)

BETTER = against("220 nF", "better", rate(-9.19, -8.5, -7.84))
WORSE = against("47 nF", "worse", rate(19.3, 22.04, 24.7))
UNSETTLED = against("plain", "unsettled", rate(-0.31, 0.04, 0.4), more_runs=12345)


def only_sentence(name: str, own: object, comparison: dict[str, object], steps: int = 90_000) -> str:
    export = by_hand({"as it stands": MUCH, name: own}, comparison, steps=steps)  # type: ignore[dict-item]
    told = sentence(export, comparison)
    comparison["sentence"] = told
    assert headline(export) == told
    assert together(export) == ""
    return told


def test_better() -> None:
    assert only_sentence("220 nF", LITTLE, {**BETTER}) == (
        '"220 nF" is better than "as it stands": 8.50 wrong steps per 1,000 fewer (95 % interval 7.84 to '
        "9.19), 0.060 instead of 8.56."
    )


def test_better_with_nothing_wrong() -> None:
    assert only_sentence("220 nF", NONE, {**BETTER}).endswith("7.84 to 9.19), under 0.74 instead of 8.56.")


def test_worse() -> None:
    assert only_sentence("47 nF", rate(28.0, 30.2, 33.0), {**WORSE}) == (
        '"47 nF" is worse than "as it stands": 22.0 wrong steps per 1,000 more (95 % interval 19.3 to 24.7), '
        "30.2 instead of 8.56."
    )


def test_unsettled() -> None:
    assert only_sentence("plain", MUCH, {**UNSETTLED}) == (
        'It is not settled whether "plain" or "as it stands" is better: per 1,000 steps the difference is '
        "+0.04 wrong ones (95 % interval -0.31 to +0.40); about 13,000 more runs would be expected to settle "
        "it."
    )


def test_unsettled_without_a_difference_so_far() -> None:
    comparison = against("plain", "unsettled", rate(-0.4, 0.0, 0.4))
    assert only_sentence("plain", MUCH, comparison) == (
        'It is not settled whether "plain" or "as it stands" is better: per 1,000 steps the difference is '
        "0.00 wrong ones (95 % interval -0.40 to +0.40), and nothing tells yet how many runs would settle it."
    )


@pytest.mark.parametrize(
    ("parted", "alike"),
    [
        (0, "every one of 90,000 steps came out alike"),
        (3, "of 90,000 steps none was wrong in one of them only"),
    ],
)
def test_same(parted: int, alike: str) -> None:
    comparison = against("plain", "same", rate(-0.74, 0.0, 0.74), parted=parted)
    assert only_sentence("plain", MUCH, comparison) == (
        f'"plain" and "as it stands" are not told apart: {alike} (difference per 1,000: 95 % interval '
        "-0.74 to +0.74)."
    )


def test_no_data() -> None:
    nothing = {"low": None, "estimate": None, "high": None, "level": 0.95, "method": "no data"}
    export = by_hand({"one": MUCH, "two": MUCH}, against("two", "same", nothing), steps=0)
    assert (
        sentence(export, export["comparisons"][0])
        == '"two" against "one": no data, for no step was simulated.'
    )
    assert difference_text(nothing) == "no data"  # type: ignore[arg-type]
    assert difference_interval_text(nothing) == ""  # type: ignore[arg-type]


def test_several_with_the_best_settled() -> None:
    export = by_hand({"as it stands": MUCH, "220 nF": LITTLE, "47 nF": rate(28.0, 30.2, 33.0)}, BETTER, WORSE)
    assert headline(export) == (
        'Of 3 designs "220 nF" has the fewest wrong steps, 0.060 per 1,000: 8.50 wrong steps per 1,000 fewer '
        '(95 % interval 7.84 to 9.19) than "as it stands".'
    )
    assert together(export).startswith(
        "2 designs are held against the first. Each interval is for its comparison"
    )


def test_several_with_the_best_not_settled() -> None:
    fewer = rate(8.0, 8.5, 9.0)
    unsettled = against("plain", "unsettled", rate(-0.5, -0.06, 0.4), more_runs=5)
    export = by_hand(
        {"as it stands": MUCH, "plain": fewer, "47 nF": rate(28.0, 30.2, 33.0)}, unsettled, WORSE
    )
    assert headline(export) == (
        'Of 3 designs "plain" has the fewest wrong steps, 8.50 per 1,000, but that it is better than "as it '
        'stands" is not settled.'
    )


@pytest.mark.parametrize(
    ("verdicts", "ending"),
    [
        (("worse", "worse"), "2 of the 2 others are settled to be worse."),
        (("worse", "unsettled"), "1 of the 2 others is settled to be worse."),
        (("same", "unsettled"), "0 of the 2 others are settled to be worse."),
    ],
)
def test_several_with_the_first_the_best(verdicts: tuple[str, str], ending: str) -> None:
    others = [
        against(name, verdict, rate(1.0, 2.0, 3.0)) for name, verdict in zip("ab", verdicts, strict=True)
    ]
    export = by_hand({"as it stands": LITTLE, "a": MUCH, "b": MUCH}, *others)
    assert (
        headline(export)
        == f'Of 3 designs "as it stands" has the fewest wrong steps, 0.060 per 1,000; {ending}'
    )


def test_designs_with_equally_few_are_all_named() -> None:
    better = [against(name, "better", rate(-9.19, -8.5, -7.84)) for name in "ab"]
    export = by_hand({"as it stands": MUCH, "a": LITTLE, "b": LITTLE}, *better)
    assert headline(export).startswith(
        'Of 3 designs "a" and "b" have the fewest wrong steps, 0.060 per 1,000: 8.50'
    )


def test_what_is_settled_alone_but_not_among_several_is_told() -> None:
    unsettled = against("plain", "unsettled", rate(0.01, 0.4, 0.79), more_runs=300)
    export = by_hand({"as it stands": MUCH, "plain": MUCH, "47 nF": MUCH}, unsettled, WORSE)
    assert sentence(export, unsettled) == (
        'It is not settled whether "plain" or "as it stands" is better: per 1,000 steps the difference is '
        "+0.40 wrong ones (95 % interval +0.01 to +0.79), which alone would settle it, but not as one of 2 "
        "comparisons; about 300 more runs would be expected to settle it."
    )


@pytest.mark.parametrize(("runs", "told"), [(1, "1 more run"), (99, "99 more runs"), (101, "110 more runs")])
def test_more_runs_are_told_in_two_digits_upward(runs: int, told: str) -> None:
    export = by_hand(
        {"one": MUCH, "two": MUCH}, against("two", "unsettled", rate(-1, 0.1, 1), more_runs=runs)
    )
    assert f"about {told} would" in sentence(export, export["comparisons"][0])


def test_the_line_on_runs() -> None:
    alone = by_hand({"one": MUCH, "two": MUCH}, BETTER)
    assert runs_line(alone, BETTER) == (
        "42 runs without a wrong step in one design only. Were the designs equally good, a split as uneven "
        "would come with P = 0.0088 (McNemar's exact test)."
    )
    among = by_hand({"one": MUCH, "two": MUCH, "three": MUCH}, BETTER, WORSE)
    assert runs_line(among, BETTER).endswith(
        "(McNemar's exact test); raised for being one of 2 comparisons, P = 0.018."
    )


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.0, "1"), (0.996, "1"), (0.25, "0.25"), (0.052479, "0.052"), (1e-4, "0.0001"), (9e-5, "< 0.0001")],
)
def test_p_values(value: float, text: str) -> None:
    assert p_text(value) == text


@given(st.floats(-1.0, 1.0), st.floats(1e-6, 0.5), st.floats(1e-6, 0.5))
def test_a_printed_difference_is_within_half_a_digit_and_signed(
    estimate: float, below: float, above: float
) -> None:
    given_rate = {
        "estimate": estimate, "low": estimate - below, "high": estimate + above, "level": 0.95, "method": "",
    }  # fmt: skip
    text = difference_text(given_rate)  # type: ignore[arg-type]
    number = float(text.replace(",", ""))
    places = len(text.partition(".")[2])
    assert abs(number - 1000.0 * estimate) <= 0.5001 * 10.0**-places
    assert text[0] in "+-" or number == 0.0
    digits = 500.0 * (below + above) * 10.0**places
    assert digits >= 9.99 or places == 9
    assert math.isfinite(number)
