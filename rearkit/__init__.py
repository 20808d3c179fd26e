"""rearkit: from a fry-rearing log to an answer you may believe."""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rearkit.answers.effort.answer import EffortAnswer, compare_effort
    from rearkit.answers.growth.answer import GrowthAnswer, compare_growth
    from rearkit.answers.interruption.answer import InterruptionAnswer, cost_of_interruption
    from rearkit.answers.log_check.answer import LogCheckAnswer, check_log
    from rearkit.answers.methods.answer import MethodsAnswer, compare_methods
    from rearkit.answers.moving.answer import MovingAnswer, when_to_move
    from rearkit.answers.place_use.answer import PlaceUseAnswer, use_of_place
    from rearkit.answers.survival.answer import SurvivalAnswer, compare_survival
    from rearkit.answers.trial.answer import TrialAnswer, describe_trial
    from rearkit.design.design import Design, find_design
    from rearkit.logbook.anonymous import hide_names
    from rearkit.logbook.logbook import Logbook, read_log
    from rearkit.report.together import keep, limits_of, provenance

__all__ = [
    "Design",
    "EffortAnswer",
    "GrowthAnswer",
    "InterruptionAnswer",
    "LogCheckAnswer",
    "Logbook",
    "MethodsAnswer",
    "MovingAnswer",
    "PlaceUseAnswer",
    "SurvivalAnswer",
    "TrialAnswer",
    "check_log",
    "compare_effort",
    "compare_growth",
    "compare_methods",
    "compare_survival",
    "cost_of_interruption",
    "describe_trial",
    "find_design",
    "hide_names",
    "keep",
    "limits_of",
    "provenance",
    "read_log",
    "use_of_place",
    "when_to_move",
]
__version__ = "0.1.0"

# Where the public names live: a module is loaded when one of its names is first asked for, so
# that a command which needs none of the heavy libraries does not wait for them.
_HOME = {
    "check_log": "rearkit.answers.log_check.answer",
    "compare_effort": "rearkit.answers.effort.answer",
    "compare_growth": "rearkit.answers.growth.answer",
    "compare_methods": "rearkit.answers.methods.answer",
    "compare_survival": "rearkit.answers.survival.answer",
    "cost_of_interruption": "rearkit.answers.interruption.answer",
    "describe_trial": "rearkit.answers.trial.answer",
    "Design": "rearkit.design.design",
    "EffortAnswer": "rearkit.answers.effort.answer",
    "find_design": "rearkit.design.design",
    "GrowthAnswer": "rearkit.answers.growth.answer",
    "hide_names": "rearkit.logbook.anonymous",
    "InterruptionAnswer": "rearkit.answers.interruption.answer",
    "keep": "rearkit.report.together",
    "limits_of": "rearkit.report.together",
    "Logbook": "rearkit.logbook.logbook",
    "LogCheckAnswer": "rearkit.answers.log_check.answer",
    "MethodsAnswer": "rearkit.answers.methods.answer",
    "MovingAnswer": "rearkit.answers.moving.answer",
    "PlaceUseAnswer": "rearkit.answers.place_use.answer",
    "provenance": "rearkit.report.together",
    "read_log": "rearkit.logbook.logbook",
    "SurvivalAnswer": "rearkit.answers.survival.answer",
    "TrialAnswer": "rearkit.answers.trial.answer",
    "use_of_place": "rearkit.answers.place_use.answer",
    "when_to_move": "rearkit.answers.moving.answer",
}


def __getattr__(name: str) -> object:
    """Load a public name on first use."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value: object = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)
