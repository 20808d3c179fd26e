"""Paragraphs and lists of an answer: text in, escaped HTML out."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass
from functools import singledispatch

from rearkit.questions.answer import Answer
from rearkit.questions.effort import EffortAnswer
from rearkit.questions.growth import GrowthAnswer
from rearkit.questions.moving import MovingAnswer
from rearkit.questions.place_use import PlaceUseAnswer
from rearkit.questions.survival import SurvivalAnswer
from rearkit.questions.trial import TrialAnswer
from rearkit.report.wording import (
    effort,
    growth,
    moving,
    place_use,
    survival,
    trial,
)


@dataclass(frozen=True, kw_only=True, eq=False)
class Prose:
    """Paragraphs, then a list; plain text inside, escaped when shown."""

    paragraphs: Sequence[str] = ()
    items: Sequence[str] = ()

    def _repr_html_(self) -> str:
        text = "".join(f"<p>{html.escape(p)}</p>" for p in self.paragraphs)
        if self.items:
            text += "<ul>" + "".join(f"<li>{html.escape(i)}</li>" for i in self.items) + "</ul>"
        return text


@singledispatch
def prose(answer: Answer, which: str) -> Prose:
    """Say one part of an answer in sentences.

    Raises
    ------
    KeyError
        If this kind of answer has no such part.
    """
    if which == "limits":
        return limits_prose(answer)
    raise KeyError(which)


def limits_prose(answer: Answer) -> Prose:
    """List what an answer cannot show."""
    limits = answer.limits
    if not limits:
        return Prose(
            paragraphs=("Nothing in the log stands in the way beyond what is said above.",)
        )
    return Prose(items=limits)


@prose.register
def _(answer: SurvivalAnswer, which: str) -> Prose:
    if which == "limits":
        return limits_prose(answer)
    return {
        "design": lambda: Prose(items=survival.design_words(answer)),
        "certainty": lambda: Prose(
            paragraphs=(survival.how_sure(answer), survival.claim_words(answer)),
            items=survival.secondary_words(answer),
        ),
        "box": lambda: Prose(items=survival.box_words(answer)),
        "next": lambda: Prose(paragraphs=(survival.fair_trial_words(answer),)),
    }[which]()


@prose.register
def _(answer: TrialAnswer, which: str) -> Prose:
    if which == "limits":
        return limits_prose(answer)
    return Prose(
        items={
            "why": trial.why_words,
            "fish": trial.fish_words,
            "rules": trial.rules_words,
            "welfare": trial.welfare_words,
        }[which](answer)
    )


@prose.register
def _(answer: EffortAnswer, which: str) -> Prose:
    if which == "limits":
        return limits_prose(answer)
    return Prose(
        items={"survivors": effort.survivor_words, "older": effort.older_words}[which](answer)
    )


@prose.register
def _(answer: PlaceUseAnswer, which: str) -> Prose:
    if which == "limits":
        return limits_prose(answer)
    return Prose(
        items={"certainty": place_use.certainty_words, "practice": place_use.practice_words}[which](
            answer
        )
    )


@prose.register
def _(answer: GrowthAnswer, which: str) -> Prose:
    if which == "limits":
        return limits_prose(answer)
    return Prose(
        items={
            "curve": growth.curve_words,
            "rates": growth.rate_words,
            "certainty": growth.certainty_words,
            "together": growth.joint_words,
            "warmth": growth.warmth_words,
        }[which](answer)
    )


@prose.register
def _(answer: MovingAnswer, which: str) -> Prose:
    if which == "limits":
        return limits_prose(answer)
    if which == "cautions":
        return Prose(paragraphs=(moving.CAUTIONS_LABEL,), items=moving.CAUTIONS)
    return Prose(
        items={
            "batches": moving.batches_words,
            "plan": moving.plan_words,
            "how": moving.how_words,
        }[which](answer)
    )
