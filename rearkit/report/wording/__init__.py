"""All that the kit says: answers and remarks in plain words, rounded here and nowhere else."""

from __future__ import annotations

import html
from functools import singledispatch

from rearkit.questions.answer import Answer
from rearkit.questions.effort import EffortAnswer
from rearkit.questions.growth import GrowthAnswer
from rearkit.questions.interruption import InterruptionAnswer
from rearkit.questions.log_check import LogCheckAnswer
from rearkit.questions.methods import MethodsAnswer
from rearkit.questions.moving import MovingAnswer
from rearkit.questions.place_use import PlaceUseAnswer
from rearkit.questions.survival import SurvivalAnswer
from rearkit.questions.trial import TrialAnswer
from rearkit.report.wording import (  # noqa: F401
    effort,
    growth,
    interruption,
    log_check,
    methods,
    moving,
    place_use,
    survival,
    tables_effort,
    tables_growth,
    tables_interruption,
    tables_methods,
    tables_moving,
    tables_place_use,
    trial,
)
from rearkit.report.wording.remarks import sentence

__all__ = ["answer_html", "headline", "limits"]


@singledispatch
def headline(answer: Answer) -> str:
    """Say an answer in one plain sentence.

    Raises
    ------
    NotImplementedError
        If there are no words for this kind of answer.
    """
    raise NotImplementedError(f"no words for {type(answer).__name__}")


@headline.register
def _(answer: SurvivalAnswer) -> str:
    return survival.headline(answer)


@headline.register
def _(answer: LogCheckAnswer) -> str:
    return log_check.headline(answer)


@headline.register
def _(answer: TrialAnswer) -> str:
    return trial.headline(answer)


@headline.register
def _(answer: EffortAnswer) -> str:
    return effort.headline(answer)


@headline.register
def _(answer: PlaceUseAnswer) -> str:
    return place_use.headline(answer)


@headline.register
def _(answer: GrowthAnswer) -> str:
    return growth.headline(answer)


@headline.register
def _(answer: MovingAnswer) -> str:
    return moving.headline(answer)


@headline.register
def _(answer: InterruptionAnswer) -> str:
    return interruption.headline(answer)


@headline.register
def _(answer: MethodsAnswer) -> str:
    return methods.headline(answer)


def limits(answer: Answer) -> tuple[str, ...]:
    """Say what an answer cannot show, one sentence a remark, none twice."""
    return tuple(dict.fromkeys(sentence(r) for r in answer.remarks))


def answer_html(answer: Answer) -> str:
    """Return the answer as HTML: the sentence and its limits, everything escaped."""
    items = "".join(f"<li>{html.escape(text)}</li>" for text in answer.limits)
    box = f'<p class="headline">{html.escape(answer.headline)}</p>'
    if items:
        box += f'<p class="limits-title">What this cannot show</p><ul class="limits">{items}</ul>'
    return f'<div class="answer">{box}</div>'
