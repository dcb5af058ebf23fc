"""The sentences of a comparison, word for word."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.documents.compare_words import (
    comparison_sentence,
    difference_interval_text,
    difference_text,
    p_text,
    runs_sentence,
    several_note,
)
from reports.results.common import Rate
from reports.results.compare import PairedComparison
from tests.reports.comparisons import against, design, rate, told

MUCH, LITTLE, NONE = rate(7.9, 8.56, 9.24), rate(0.04, 0.06, 0.09), rate(0.0, 0.0, 0.74)
MOST = rate(28.0, 30.2, 33.0)
FIRST = "as it stands"

BETTER = against("220 nF", "better", rate(-9.19, -8.5, -7.84))
WORSE = against("47 nF", "worse", rate(19.3, 22.04, 24.7))
UNSETTLED = against("plain", "unsettled", rate(-0.31, 0.04, 0.4), more_runs=12345)


def only(own: Rate, comparison: PairedComparison) -> str:
    """The headline of a comparison of two designs, which is the sentence of the one."""
    return told({FIRST: MUCH, comparison.design: own}, comparison)


@pytest.mark.parametrize(
    ("own", "comparison", "expected"),
    [
        (LITTLE, BETTER, '"220 nF" is better than "as it stands": 8.50 fewer wrong steps per 1,000 (95 % '
         'confidence interval 7.84 to 9.19), 0.060 instead of 8.56.'),
        (NONE, BETTER, '"220 nF" is better than "as it stands": 8.50 fewer wrong steps per 1,000 (95 % '
         'confidence interval 7.84 to 9.19), under 0.74 instead of 8.56.'),
        (MOST, WORSE, '"47 nF" is worse than "as it stands": 22.0 more wrong steps per 1,000 (95 % '
         'confidence interval 19.3 to 24.7), 30.2 instead of 8.56.'),
        (MUCH, UNSETTLED, 'Undecided whether "plain" or "as it stands" has fewer wrong steps: the difference '
         'is +0.04 per 1,000 (95 % confidence interval -0.31 to +0.40); about 13,000 more runs would be '
         'expected to decide it.'),
        (MUCH, against("plain", "unsettled", rate(-0.4, 0.0, 0.4)), 'Undecided whether "plain" or "as it '
         'stands" has fewer wrong steps: the difference is 0.00 per 1,000 (95 % confidence interval -0.40 to '
         '+0.40); too few differences to estimate the runs needed.'),
        (MUCH, against("plain", "same", rate(-0.74, 0.0, 0.74), diverged=0), '"plain" and "as it stands" '
         'show no difference: all 90,000 steps had the same outcome (95 % confidence interval of the '
         'difference per 1,000: -0.74 to +0.74).'),
        (MUCH, against("plain", "same", rate(-0.74, 0.0, 0.74), diverged=3), '"plain" and "as it stands" '
         'show no difference: none of 90,000 steps was wrong in only one of them (95 % confidence interval '
         'of the difference per 1,000: -0.74 to +0.74).'),
    ],
)  # fmt: skip
def test_two_designs(own: Rate, comparison: PairedComparison, expected: str) -> None:
    assert only(own, comparison) == expected
    assert several_note(1) == ""


def test_no_data() -> None:
    nothing = Rate(low=None, estimate=None, high=None, level=0.95, method="no data")
    headline = told({"one": MUCH, "two": MUCH}, against("two", "same", nothing), steps=0)
    assert headline == '"two" compared with "one": no data, because no step was simulated.'
    assert difference_text(nothing) == "no data"
    assert difference_interval_text(nothing) == ""


@pytest.mark.parametrize(
    ("rates", "comparisons", "expected"),
    [
        ({FIRST: MUCH, "220 nF": LITTLE, "47 nF": MOST}, (BETTER, WORSE),
         'Of 3 designs, "220 nF" has the fewest wrong steps, 0.060 per 1,000: 8.50 fewer wrong steps '
         'per 1,000 (95 % confidence interval 7.84 to 9.19) than "as it stands".'),
        ({FIRST: MUCH, "plain": rate(8.0, 8.5, 9.0), "47 nF": MOST},
         (against("plain", "unsettled", rate(-0.5, -0.06, 0.4), more_runs=5), WORSE),
         'Of 3 designs, "plain" has the fewest wrong steps, 8.50 per 1,000, but it is undecided whether it '
         'is better than "as it stands".'),
        ({FIRST: MUCH, "a": LITTLE, "b": LITTLE},
         tuple(against(name, "better", rate(-9.19, -8.5, -7.84)) for name in "ab"),
         'Of 3 designs, "a" and "b" have the fewest wrong steps, 0.060 per 1,000: 8.50 fewer wrong steps '
         'per 1,000 (95 % confidence interval 7.84 to 9.19) than "as it stands".'),
        *(
            ({FIRST: LITTLE, "a": MUCH, "b": MUCH},
             tuple(against(n, v, rate(1.0, 2.0, 3.0)) for n, v in zip("ab", verdicts, strict=True)),
             f'Of 3 designs, "as it stands" has the fewest wrong steps, 0.060 per 1,000; {ending}')
            for verdicts, ending in (
                (("worse", "worse"), "2 of the 2 others are worse."),
                (("worse", "unsettled"), "1 of the 2 others is worse."),
                (("same", "unsettled"), "0 of the 2 others are worse."),
            )
        ),
    ],
)  # fmt: skip
def test_several_designs(
    rates: dict[str, Rate], comparisons: tuple[PairedComparison, ...], expected: str
) -> None:
    assert told(rates, *comparisons) == expected
    assert several_note(2).startswith(
        "2 designs are compared with the first. Each confidence interval is for"
    )


def test_what_is_significant_alone_but_not_among_several() -> None:
    unsettled = against("plain", "unsettled", rate(0.01, 0.4, 0.79), more_runs=300)
    text = comparison_sentence(design(FIRST, MUCH), design("plain", MUCH), unsettled, 90_000, 2)
    assert text == (
        'Undecided whether "plain" or "as it stands" has fewer wrong steps: the difference is +0.40 per '
        "1,000 (95 % confidence interval +0.01 to +0.79), which is significant alone, but not as one of 2 "
        "comparisons; about 300 more runs would be expected to decide it."
    )


@pytest.mark.parametrize(
    ("spurious", "difference", "expected"),
    [
        ((25891, 0), rate(-6600.0, -6472.75, -6350.0),
         "0 instead of 25,891, 6,473 fewer per 1,000 steps (95 % confidence interval 6,350 to 6,600)."),
        ((12, 30), rate(0.04, 0.2, 0.36),
         "30 instead of 12, 0.20 more per 1,000 steps (95 % confidence interval 0.04 to 0.36)."),
        ((12, 11), rate(-0.2, -0.01, 0.2),
         "11 instead of 12, which is not significant (95 % confidence interval of the difference per 1,000 "
         "steps -0.20 to +0.20)."),
    ],
)  # fmt: skip
def test_spurious_counts_are_told_beside(spurious: tuple[int, int], difference: Rate, expected: str) -> None:
    without = only(LITTLE, BETTER)
    comparison = against("220 nF", "better", rate(-9.19, -8.5, -7.84), spurious=difference)
    first, other = design(FIRST, MUCH, spurious[0]), design("220 nF", LITTLE, spurious[1])
    text = comparison_sentence(first, other, comparison, 90_000, 1)
    if " more " in expected:
        without = without.replace("is better than", "has fewer wrong steps than")
    assert text == f"{without} Spurious counts: {expected}"


@pytest.mark.parametrize(
    ("runs", "told_runs"), [(1, "1 more run"), (99, "99 more runs"), (101, "110 more runs")]
)
def test_more_runs_are_told_in_two_digits_upward(runs: int, told_runs: str) -> None:
    comparison = against("two", "unsettled", rate(-1, 0.1, 1), more_runs=runs)
    assert f"about {told_runs} would" in only(MUCH, comparison)


def test_the_line_on_runs() -> None:
    alone = (
        "42 runs had a wrong step in one design only. If the designs were equally good, a split at least "
        "this uneven would have P = 0.0088 (McNemar's exact test)"
    )
    assert runs_sentence(BETTER, 1) == f"{alone}."
    assert runs_sentence(BETTER, 2) == f"{alone}; adjusted for 2 comparisons, P = 0.018."


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.0, "1"), (0.996, "1"), (0.25, "0.25"), (0.052479, "0.052"), (1e-4, "0.0001"), (9e-5, "< 0.0001")],
)
def test_p_values(value: float, text: str) -> None:
    assert p_text(value) == text


@settings(deadline=None)
@given(st.floats(-1.0, 1.0), st.floats(1e-6, 0.5), st.floats(1e-6, 0.5))
def test_a_printed_difference_is_within_half_a_digit_and_signed(
    estimate: float, below: float, above: float
) -> None:
    text = difference_text(
        Rate(estimate=estimate, low=estimate - below, high=estimate + above, level=0.95, method="")
    )
    number = float(text.replace(",", ""))
    places = len(text.partition(".")[2])
    assert abs(number - 1000.0 * estimate) <= 0.5001 * 10.0**-places
    assert text[0] in "+-" or number == 0.0
    digits = 500.0 * (below + above) * 10.0**places
    assert digits >= 9.99 or places == 9
    assert math.isfinite(number)
