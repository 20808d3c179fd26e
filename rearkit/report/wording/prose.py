"""Paragraphs and lists of an answer: text in, escaped HTML out."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import singledispatch

from rearkit.questions.answer import Answer
from rearkit.questions.effort import EffortAnswer
from rearkit.questions.growth import GrowthAnswer
from rearkit.questions.interruption import InterruptionAnswer
from rearkit.questions.methods import MethodsAnswer
from rearkit.questions.moving import MovingAnswer
from rearkit.questions.place_use import PlaceUseAnswer
from rearkit.questions.survival import SurvivalAnswer
from rearkit.questions.trial import TrialAnswer
from rearkit.report.wording import (
    effort,
    growth,
    interruption,
    methods,
    moving,
    place_use,
    survival,
    survival_certainty,
    trial,
)
from rearkit.report.wording.claims import claim_words


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


@dataclass(frozen=True, kw_only=True, eq=False)
class AnswerBox:
    """The answer in a few lines, each with its name; plain text inside, escaped when shown."""

    lines: Sequence[tuple[str, str]]

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<dt>{html.escape(name)}</dt><dd>{html.escape(text)}</dd>" for name, text in self.lines
        )
        return f'<div class="answer box"><dl>{rows}</dl></div>'


@dataclass(frozen=True, kw_only=True, eq=False)
class Groups:
    """Several lists, each under its name; plain text inside, escaped when shown."""

    groups: Sequence[tuple[str, Sequence[str]]]

    def _repr_html_(self) -> str:
        return "".join(
            f"<h4>{html.escape(name)}</h4>{Prose(items=items)._repr_html_()}"
            for name, items in self.groups
        )


def limits_of(**answers: Answer) -> Groups:
    """List what several answers cannot show, each under its name and no sentence twice.

    Parameters
    ----------
    **answers : Answer
        Answers by the name of their list; ``_`` stands for a blank.
    """
    seen: set[str] = set()
    groups = []
    for name, answer in answers.items():
        items = [text for text in answer.limits if text not in seen]
        seen |= set(items)
        if items:
            groups.append((name.replace("_", " ").capitalize(), items))
    return Groups(groups=groups)


def say(answer: Answer, which: str) -> Prose | AnswerBox:
    """Say one part of an answer: its headline, its limits, or a part of its own.

    Raises
    ------
    KeyError
        If this kind of answer has no such part.
    """
    if which == "headline":
        return Prose(paragraphs=(answer.headline,))
    if which == "limits":
        return limits_prose(answer)
    return prose(answer, which)


@singledispatch
def prose(answer: Answer, which: str) -> Prose | AnswerBox:
    """Say one part of an answer in sentences.

    Raises
    ------
    KeyError
        If this kind of answer has no such part.
    """
    raise KeyError(which)


def limits_prose(answer: Answer) -> Prose:
    """List what an answer cannot show."""
    limits = answer.limits
    if not limits:
        return Prose(
            paragraphs=("Nothing in the log stands in the way beyond what is said above.",)
        )
    return Prose(items=limits)


def listed_prose(sentences: Sequence[str]) -> Prose:
    """List sentences; one alone is a paragraph."""
    return Prose(items=sentences) if len(sentences) > 1 else Prose(paragraphs=sentences)


@prose.register
def _(answer: SurvivalAnswer, which: str) -> Prose | AnswerBox:
    parts: dict[str, Callable[[], Prose | AnswerBox]] = {
        "design": lambda: Prose(items=survival.design_words(answer)),
        "certainty": lambda: Prose(
            paragraphs=(survival_certainty.how_sure(answer), claim_words(answer.claim)),
            items=survival_certainty.secondary_words(answer),
        ),
        "box": lambda: AnswerBox(lines=survival.box_words(answer)),
        "next": lambda: Prose(paragraphs=(survival.fair_trial_words(answer),)),
    }
    return parts[which]()


@prose.register
def _(answer: TrialAnswer, which: str) -> Prose:
    return Prose(
        items={
            "why": trial.why_words,
            "fish": trial.fish_words,
            "places": trial.places_words,
            "events": trial.events_words,
            "rules": trial.rules_words,
            "welfare": trial.welfare_words,
        }[which](answer)
    )


@prose.register
def _(answer: EffortAnswer, which: str) -> Prose:
    return listed_prose(
        {"survivors": effort.survivor_words, "older": effort.older_words}[which](answer)
    )


@prose.register
def _(answer: PlaceUseAnswer, which: str) -> Prose:
    return listed_prose(
        {
            "certainty": place_use.certainty_words,
            "practice": place_use.practice_words,
            "sides": place_use.sides_words,
            "nothing": place_use.nothing_words,
        }[which](answer)
    )


@prose.register
def _(answer: GrowthAnswer, which: str) -> Prose:
    return listed_prose(
        {
            "curve": growth.curve_words,
            "rates": growth.rate_words,
            "certainty": growth.certainty_words,
            "together": growth.joint_words,
            "warmth": growth.warmth_words,
        }[which](answer)
    )


@prose.register
def _(answer: MovingAnswer, which: str) -> Prose:
    if which == "cautions":
        return Prose(paragraphs=(moving.CAUTIONS_LABEL,), items=moving.CAUTIONS)
    return listed_prose(
        {
            "batches": moving.batches_words,
            "plan": moving.plan_words,
            "how": moving.how_words,
        }[which](answer)
    )


@prose.register
def _(answer: InterruptionAnswer, which: str) -> Prose:
    return listed_prose(
        {
            "how": interruption.how_words,
            "growth": interruption.growth_words,
            "practice": interruption.practice_words,
            "nothing": interruption.nothing_words,
        }[which](answer)
    )


@prose.register
def _(answer: MethodsAnswer, which: str) -> Prose:
    return listed_prose(
        {
            "design": methods.design_words,
            "certainty": methods.certainty_words,
            "margin": methods.margin_words,
            "trap": methods.trap_words,
            "lesson": methods.lesson_words,
        }[which](answer)
    )
