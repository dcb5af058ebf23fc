"""Plain sentences: what each root cause means, and the words of caution."""

from __future__ import annotations

SPURIOUS = "spurious"
"""Besides verdicts and root causes of steps: counts that no movement caused."""

WRONG_VERDICTS = ("missed", "doubled", "reversed")
CAUSES = {
    "chatter": "Chatter reached the counter: it saw more than one edge for one make or break.",
    "swallowed": "An edge was swallowed on its way: a make or break never reached the counter.",
    "late direction": (
        "The direction line changed too shortly before the clock edge: the counter's set-up time was not met."
    ),
    "early direction": (
        "The direction line changed too soon after the clock edge: the counter's hold time was not met."
    ),
    "swapped order": (
        "Unequal delays swapped the order of A and B: the counter saw the edges in another order than "
        "the contacts moved in."
    ),
    "misfit": (
        "The decoder does not fit the encoder: even without bounce, one detent does not give the count "
        "that is expected."
    ),
    "short pulse": "The clock pulse was shorter than the counter takes, which was free to ignore it.",
    "sliding": (
        "A contact opened for a moment while it slid along its closed pad, and that reached the counter."
    ),
    "end stop": (
        "The count lay at an end stop while it should not have: an earlier error had pushed it there, or "
        "bounce ran into the stop and came back."
    ),
    "skipped state": (
        "Both lines changed at once for the decoder, which then cannot tell which way the knob was turned."
    ),
    "slow edge": (
        "A slow edge crossed the threshold several times: noise moved the voltage to and fro across it, for "
        "the input has too little hysteresis."
    ),
    "pick-up": "A pulse picked up by the line reached the counter.",
    "power-up": "The first rise of a line after power-up reached the counter.",
    "supply dip": "A dip of the supply moved the voltage across the threshold, or the threshold across it.",
    "unexplained": "None of the causes that the program looks for shows in the edges of this step.",
}

LEFT_OUT = (
    "The figures are estimates of a model: its contact values are typical of the trade and were not "
    "measured on your part, and it includes neither temperature, nor dirt, nor coupling between the "
    "lines, nor noise and dips that the scenario does not state."
)

ASSUMPTIONS = (
    "A run is one built unit turned by one hand: the parts' values are drawn once for it, evenly between "
    "their limits; every movement and every bounce is drawn anew.",
    "A count belongs to the step whose contact change caused it, however late it comes; what is expected of "
    "a step is what the same counter makes of contacts that do not bounce.",
    "Where the decoder does not fit the encoder, the expected count is what the scenario states for one "
    "detent.",
    "Confidence intervals allow for the correlation of the steps of one run, and leave more room above where "
    "few runs had a wrong step; where nothing was seen they give a bound, never a rate of 0.",
    "The same scenario, seed and version of the model give the same numbers, whatever the engine and the "
    "number of threads.",
)

SAFETY = (
    "A control whose wrong count can hurt someone (heat, motion, radiated power, loud sound into "
    "headphones) needs its own independent limit, and local codes and a licensed person's judgement "
    "come before any figure here."
)

CUT_BURSTS = (
    "Bursts of chatter still running when the same contact reached its next boundary, and cut off there: "
    "{count}. No filter can correct that; it is the encoder's own limit."
)

BOUND_NOTE = (
    "Where nothing was seen, a whole run counts as one trial, for steps are correlated within a run; such a "
    "bound may lie above that of something rare."
)

MARGINS_NOTE = (
    "Worst value over all runs. The 0.1 % column: 0.1 % of the values were this bad or worse (shown from "
    "{least} such values up). Levels: the voltage that was reached before the contact moved on, compared "
    "with each unit's own threshold (the nominal one is shown). Past its threshold: at the clock edge. "
    "Quantiles of times are good to 2 %."
)

ENDING_NOTE = (
    "It ended at a set number of wrong steps, which biases plain rates upward. The rates of steps shown here "
    "are free of that bias: they leave out the last block of runs, averaged over the blocks that might have "
    "come last. Counts, root causes, spurious counts and final positions are as they were seen."
)

SPACING_NOTE = (
    "Edges apart: the closest that two neighbouring edges of a step come, and the steady speed that would "
    "space them so; within a click the detent's spring sets it, whatever the hand does. A step with one "
    "edge, or none, counts in the last class."
)


def cause_sentence(cause: str) -> str:
    """The sentence for one of `simcore.judging.sums.CAUSES`; the bare name for one that is not known here."""
    return CAUSES.get(cause, cause)


LASTING = (LEFT_OUT, SAFETY)
