"""rearkit: from a fry-rearing log to an answer you may believe."""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rearkit.logbook.anonymous import hide_names
    from rearkit.logbook.logbook import Logbook, read_log
    from rearkit.questions.design import Design, find_design
    from rearkit.questions.effort import EffortAnswer, compare_effort
    from rearkit.questions.growth import GrowthAnswer, compare_growth
    from rearkit.questions.interruption import InterruptionAnswer, cost_of_interruption
    from rearkit.questions.log_check import LogCheckAnswer, check_log
    from rearkit.questions.methods import MethodsAnswer, compare_methods
    from rearkit.questions.moving import MovingAnswer, when_to_move
    from rearkit.questions.place_use import PlaceUseAnswer, use_of_place
    from rearkit.questions.survival import SurvivalAnswer, compare_survival
    from rearkit.questions.trial import TrialAnswer, describe_trial
    from rearkit.report.keep import keep
    from rearkit.report.wording.prose import limits_of
    from rearkit.report.wording.provenance import provenance

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
    "check_log": "rearkit.questions.log_check",
    "compare_effort": "rearkit.questions.effort",
    "compare_growth": "rearkit.questions.growth",
    "compare_methods": "rearkit.questions.methods",
    "compare_survival": "rearkit.questions.survival",
    "cost_of_interruption": "rearkit.questions.interruption",
    "describe_trial": "rearkit.questions.trial",
    "Design": "rearkit.questions.design",
    "EffortAnswer": "rearkit.questions.effort",
    "find_design": "rearkit.questions.design",
    "GrowthAnswer": "rearkit.questions.growth",
    "hide_names": "rearkit.logbook.anonymous",
    "InterruptionAnswer": "rearkit.questions.interruption",
    "keep": "rearkit.report.keep",
    "limits_of": "rearkit.report.wording.prose",
    "Logbook": "rearkit.logbook.logbook",
    "LogCheckAnswer": "rearkit.questions.log_check",
    "MethodsAnswer": "rearkit.questions.methods",
    "MovingAnswer": "rearkit.questions.moving",
    "PlaceUseAnswer": "rearkit.questions.place_use",
    "provenance": "rearkit.report.wording.provenance",
    "read_log": "rearkit.logbook.logbook",
    "SurvivalAnswer": "rearkit.questions.survival",
    "TrialAnswer": "rearkit.questions.trial",
    "use_of_place": "rearkit.questions.place_use",
    "when_to_move": "rearkit.questions.moving",
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
