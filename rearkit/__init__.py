"""rearkit: from a fry-rearing log to an answer you may believe."""

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
