"""The claim ladder in words: what a level lets one speak of, and what took it down."""

from __future__ import annotations

from collections.abc import Mapping

from rearkit.design.claims import Claim
from rearkit.words.numbers import listed

EVEN = 0.025  # below half a fry of 20 nothing is called a pattern

CLAIMS = {
    0: "This layout lets you say what these batches did, and nothing of the methods.",
    1: "This layout lets you speak of a pattern in these containers, no more.",
    2: "This layout lets you speak of an association, not of one making the other.",
    3: "This layout lets you speak of a hint, no more.",
    4: "This layout lets you speak of the result of one fair test. Another keeper's trial may "
    "still differ.",
}

STEPS = {
    "unequal_clocks": "ages counted from different events",
    "missing_differs": "missing fish that differ between the methods",
    "unplanned_look": "a look that was not planned",
    "plan_after_start": "a plan written after the start",
    "left_out_without_rule": "something left out with no rule written before",
}


def claim_words(claim: Claim, steps: Mapping[str, str] = STEPS) -> str:
    """Say how far the words may go, and what took them down."""
    text = CLAIMS[claim.level]
    if claim.downgrades:
        text += f" Taken down by: {listed([steps[code] for code in claim.downgrades])}."
    return text
