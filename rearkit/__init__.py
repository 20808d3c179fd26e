"""rearkit: from a fry-rearing log to an answer you may believe."""

from importlib import import_module

__version__ = "0.1.0"

# The public names, by the module that holds them: one line a question. A module is loaded when
# one of its names is first asked for, so that a command which needs none of the heavy libraries
# does not wait for them.
_HOMES = {
    "rearkit.logbook.logbook": ("Logbook", "read_log"),
    "rearkit.logbook.anonymous": ("hide_names",),
    "rearkit.design.design": ("Design", "find_design"),
    "rearkit.answers.effort.answer": ("EffortAnswer", "compare_effort"),
    "rearkit.answers.growth.answer": ("GrowthAnswer", "compare_growth"),
    "rearkit.answers.interruption.answer": ("InterruptionAnswer", "cost_of_interruption"),
    "rearkit.answers.log_check.answer": ("LogCheckAnswer", "check_log"),
    "rearkit.answers.methods.answer": ("MethodsAnswer", "compare_methods"),
    "rearkit.answers.moving.answer": ("MovingAnswer", "when_to_move"),
    "rearkit.answers.place_use.answer": ("PlaceUseAnswer", "use_of_place"),
    "rearkit.answers.survival.answer": ("SurvivalAnswer", "compare_survival"),
    "rearkit.answers.trial.answer": ("TrialAnswer", "describe_trial"),
    "rearkit.report.together": ("keep", "limits_of", "provenance"),
}
_HOME = {name: home for home, names in _HOMES.items() for name in names}
__all__ = sorted(_HOME)


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
