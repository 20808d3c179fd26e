"""rearkit: from a fry-rearing log to an answer you may believe."""

from rearkit.logbook.logbook import Logbook, read_log
from rearkit.questions.design import Design, find_design
from rearkit.questions.effort import EffortAnswer, compare_effort
from rearkit.questions.log_check import LogCheckAnswer, check_log
from rearkit.questions.place_use import PlaceUseAnswer, use_of_place
from rearkit.questions.survival import SurvivalAnswer, compare_survival
from rearkit.questions.trial import TrialAnswer, describe_trial
from rearkit.report.wording.provenance import provenance

__all__ = [
    "Design",
    "EffortAnswer",
    "LogCheckAnswer",
    "Logbook",
    "PlaceUseAnswer",
    "SurvivalAnswer",
    "TrialAnswer",
    "check_log",
    "compare_effort",
    "compare_survival",
    "describe_trial",
    "find_design",
    "provenance",
    "read_log",
    "use_of_place",
]
__version__ = "0.1.0"
