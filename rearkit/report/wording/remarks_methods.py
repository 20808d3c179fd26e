"""What limits a comparison of methods."""

from typing import Any

from rearkit.report.wording.numbers import listed

SENTENCES: dict[str, str] = {
    "several_methods": "Several methods ({methods}) are compared with {usual}; p is adjusted for "
    "that, since more comparisons find more by chance.",
    "methods_impossible": "Not watched over the same days as the usual method, and so not "
    "compared: {methods}.",
    "main_not_declared": "No main outcome was declared; {outcome} is taken, and anyone could have "
    "chosen it after seeing the result.",
    "main_not_measured": "The main outcome ({outcome}) was not measured in enough units of "
    "{tested}.",
    "outcome_changed": "The main outcome or the day is another than the one that was declared; "
    "that takes a step off what may be said.",
    "unequal_looking": "The methods were not looked at equally often: every {days_usual} days with "
    "{usual}, every {days_tested} days with {tested}. Where nobody looks, dead fry are not found.",
    "unseen_before_first": "Not seen before the first count: whatever died earlier in {batches} is "
    "in no figure of this page.",
    "no_margin": "No smallest useful difference was written down, so nothing can be said of the "
    "methods being as good as each other.",
    "margin_not_before": "The smallest useful difference carries no date before the start, so it "
    "is not used to call the methods as good as each other.",
    "others_adjusted": "Beside the main outcome, p is adjusted for all the other outcomes that are "
    "looked at; deaths by stage are estimates and have none.",
    "length_of_survivors": "Lengths are those of the fry that lived. Where the smallest died, the "
    "mean is longer without any fry having grown more.",
    "length_on_other_day": "Lengths are compared on day {day}, the last one inside the measured "
    "days of all, not on day {judged}.",
    "long_enough_chosen": "No size to move was declared; {mm} mm, about the mean of these fry, is "
    "taken as long enough.",
    "outcome_lacks_units": "Not known of every unit: {outcome} is missing for {units}.",
    "sign_turns": "Looked at in another fair way, the difference turns round: {ways}.",
    "hangs_on_one.clear": "It hangs on single units: left out, {units} would leave it not settled "
    "(a smaller trial settles less, whatever is left out).",
    "hangs_on_one.open": "It hangs on single units: without {units} it would look settled.",
}

OUTCOMES = {
    "survival": "survival",
    "length": "length",
    "length_cv": "unevenness of length",
    "long_enough": "fry alive and long enough",
    "minutes": "minutes a container",
    "minutes_per_survivor": "minutes a survivor",
}


def way_words(kind: str, what: str) -> str:
    """Write one way of looking at the same trial."""
    return {
        "as analysed": "as analysed",
        "counting": what,
        "without": f"without {what}",
        "landmark": f"counted from day {what} on",
        "with": f"with {what}",
    }[kind]


def variant(code: str, values: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    """Return the key of the sentence and its values where a code has more than one."""
    if code == "sign_turns":
        ways = [way_words(kind, what) for kind, what in values["ways"]]
        return code, {"ways": listed(ways, most=8)}
    if code == "hangs_on_one":
        names = [name.replace(" and ", " with ") for name in values["units"]]
        return f"{code}.{'clear' if values['clear'] else 'open'}", {
            "units": listed(names).replace(" and ", " or ")
        }
    if code in ("main_not_declared", "main_not_measured", "outcome_lacks_units"):
        name = values.get("outcome", values.get("main"))
        return code, values | {"outcome": OUTCOMES[str(name)]}
    return code, values
