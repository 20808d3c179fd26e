"""Answers as pictures: one function a kind of answer."""

from __future__ import annotations

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
from rearkit.report.figures import (
    effort,
    growth,
    growth_units,
    interruption,
    log_check,
    methods,
    moving,
    place_use,
    survival,
    timeline,
    trial,
)
from rearkit.report.picture import Picture

__all__ = ["draw"]


@singledispatch
def draw(answer: Answer, which: str = "main") -> Picture:
    """Draw an answer.

    Parameters
    ----------
    answer : Answer
        Any answer of the kit.
    which : str
        ``"main"``, or another picture that this kind of answer has.

    Raises
    ------
    NotImplementedError
        If there is no picture for this kind of answer.
    KeyError
        If it has no picture of that name.
    """
    raise NotImplementedError(f"no picture for {type(answer).__name__}")


@draw.register
def _(answer: SurvivalAnswer, which: str = "main") -> Picture:
    return {
        "main": survival.draw_units,
        "steps": survival.draw_steps,
        "sensitivity": survival.draw_sensitivity,
    }[which](answer)


@draw.register
def _(answer: EffortAnswer, which: str = "main") -> Picture:
    return {"main": effort.draw_work}[which](answer)


@draw.register
def _(answer: PlaceUseAnswer, which: str = "main") -> Picture:
    return {"main": place_use.draw_use}[which](answer)


@draw.register
def _(answer: InterruptionAnswer, which: str = "main") -> Picture:
    return {
        "main": interruption.draw_rates,
        "dates": interruption.draw_dates,
        "timeline": timeline.draw_timeline,
    }[which](answer)


@draw.register
def _(answer: MethodsAnswer, which: str = "main") -> Picture:
    return {
        "main": methods.draw_outcomes,
        "sensitivity": methods.draw_sensitivity,
        "trap": methods.draw_trap,
    }[which](answer)


@draw.register
def _(answer: LogCheckAnswer, which: str = "main") -> Picture:
    return {"main": log_check.draw_account}[which](answer)


@draw.register
def _(answer: TrialAnswer, which: str = "main") -> Picture:
    return {"main": trial.draw_flow, "map": trial.draw_map}[which](answer)


@draw.register
def _(answer: GrowthAnswer, which: str = "main") -> Picture:
    return {
        "main": growth.draw_curves,
        "units": growth_units.draw_units,
        "spread": growth_units.draw_spread,
    }[which](answer)


@draw.register
def _(answer: MovingAnswer, which: str = "main") -> Picture:
    return {"main": moving.draw_windows}[which](answer)
