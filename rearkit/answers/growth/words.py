"""The growth answer in words, by claim level and never above it."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from rearkit.design.comparison import Comparison
from rearkit.words import comparisons
from rearkit.words.blocks import Said, listed_prose
from rearkit.words.comparisons import p_or_why, too_few_words, units_of
from rearkit.words.numbers import (
    MINUS,
    count,
    decimals,
    listed,
    more_or_fewer,
    number,
    of_20,
    percent,
    signed_span,
    span_words,
)

if TYPE_CHECKING:
    from rearkit.answers.growth.answer import GrowthAnswer

CURVES_IN_WORDS = {
    "line": "straight-line",
    "gompertz": "Gompertz",
    "von_bertalanffy": "von Bertalanffy",
    "joined_means": "joined daily means",
}
"""Curves that are not called by their code."""


def curve_name(curve: str | None) -> str:
    """Write the kind of a curve."""
    if curve is None:
        return "none"
    return ", ".join(CURVES_IN_WORDS.get(c, c.replace("_", " ")) for c in curve.split(", "))


SENTENCES: dict[str, str] = {
    "no_lengths": "The log holds no lengths. To see growth, measure some fish of every container "
    "on two days or more (a photo over a ruler does) and fill in the sheet Sizes: one row a fish, "
    "or one row a group.",
    "growth_one_arm": "Lengths can be used for one method only, so nothing is compared.",
    "length_day_not_declared": "The day was not declared beforehand; day {day} is the latest on "
    "which most containers were measured.",
    "length_day_not_reached": "No container was measured as late as day {wanted}; lengths are "
    "compared on day {day}, the latest on which most containers were measured.",
    "length_extrapolated": "The lengths on day {day} are extrapolated for {units}: their measured "
    "days do not reach around it.",
    "second_outcome": "The plan names {main} as the main outcome. Length is a second one, and with "
    "several outcomes one of them soon shows something by chance, so the words go a step less far.",
    "units_not_measured": "No usable length, so nothing is said of the growth of {units}.",
    "units_no_fish_left": "No fish were left on day {day} in {units}: they have no length, but "
    "they count, as none, among the fry that are long enough.",
    "growth_without_survival": "Survival could not be followed up to this day, so nobody can say "
    "whether the small ones had died.",
    "runts_lost_within": "Only fish that live are measured. If those lost were always the "
    "smallest, however small, that alone would shift the difference to anywhere from {low} mm to "
    "{high} mm. The difference seen lies within that, so it may have nothing to do with growth; "
    "fry that are long enough, per 20 started, do not hang on it.",
    "runts_lost_beyond": "Only fish that live are measured. If those lost were always the "
    "smallest, however small, that alone would shift the difference to anywhere from {low} mm to "
    "{high} mm. The difference seen goes beyond that.",
    "runts_lost_single": "Only fish that live are measured. If those lost were always the "
    "smallest, however small, that alone would have raised a mean by up to {most} mm.",
    "survival_not_alike": "The log can be read in ways that do not say the same of how many fry "
    "lived. Only those are measured, so nothing above an association is said of their length.",
    "crowding": "Fish with more room often grow faster. On that day there were {litre_usual} to a "
    "litre with {usual} and {litre_tested} with {tested}, which by itself may make a difference.",
    "curve_one_day": "Measured on one day only, so the length of that day is taken as it is and "
    "no curve is drawn: {batches}.",
    "curve_too_few_days": "Measured on too few days for the {curve} curve, so a straight line "
    "stands in: {batches}.",
    "curve_no_growth": "The mean length did not rise in {batches}, so a straight line stands in "
    "there.",
    "curve_did_not_settle": "The {curve} curve did not settle in {batches}, so a straight line "
    "stands in there.",
    "curve_at_bound": "In {batches} the {curve} curve lies at the edge of the shapes it can have. "
    "Its lengths hold within the measured days; its shape says nothing more.",
    "curve_not_chosen": "There are too few measured days to tell one kind of curve from another.",
    "too_young": "No final size is given: these fish are too young to tell their final size.",
    "adult_length_given": "The final length is no result of these fish: {length} mm was given as "
    "the adult length and is held.",
    "final_size_leans": "The final size leans on the {curve} curve; another kind of curve would "
    "give another one.",
    "length_never_reached": "On its curve this never comes to {length} mm: {batches}.",
    "day_reached_extrapolated": "The day on which the mean reaches {length} mm is extrapolated, "
    "outside the measured days, for {batches}.",
    "weight_exponent_unusual": "Weight goes with length to the power {b}, outside the 2.5 to 3.5 "
    "that most fish have (Froese 2006). Check the scale and the units, and whether the weighed "
    "fish differ enough in length.",
}
"""What limits this answer, one template a code."""

WRITTEN: dict[str, Callable[[str], str]] = {"curve": curve_name}


EVEN_MM = 0.05  # a smaller difference is none that a ruler shows

# What may be said when a difference was seen: by claim level, settled or not.
HEADLINES: dict[str, str] = {
    "0.none": "This log holds no lengths, so growth cannot be seen.",
    "0.single": "On day {day} the fry of {batch} were about {length} mm long on average; there is "
    "nothing to compare them with.",
    "0.diary": "This log follows {batches} side by side and compares nothing. On day {day}: "
    "{lengths}.",
    "0.one_arm": "Lengths were measured for one method only, so nothing is compared. On day {day}: "
    "{lengths}.",
    "0.one": "On day {day} the fry of this {tested} batch were {longer} the fry of this {usual} "
    "batch ({mm_tested} mm and {mm_usual} mm). That says nothing yet about {tested} and {usual} in "
    "general.",
    "interim": "Interim look, no verdict: on day {day} fry were {mm_tested} mm long with {tested} "
    "and {mm_usual} mm with {usual}, in {units}.",
    "1.few": "Too few to tell: on day {day} fry were {mm_tested} mm long with {tested} and "
    "{mm_usual} mm with {usual}, in {units}. {reach}",
    "1": "Too little to go on: on day {day} fry were {mm_tested} mm long with {tested} and "
    "{mm_usual} mm with {usual}, in {units}.",
    "2.settled": "On day {day}, fry that lived were {gap} where the method was {tested} ({span}), "
    "in {units}. The two go together; that one made the other cannot be told.",
    "2.open": "Whether {tested} goes with longer or shorter fry than {usual} is not settled: {gap} "
    "on day {day} ({span}), in {units}.",
    "3.settled": "A hint: on day {day}, fry that lived were {gap} with {tested} than with {usual} "
    "({span}), in {units}.",
    "3.open": "Not settled: on day {day}, fry that lived were {gap} with {tested} than with "
    "{usual} ({span}), in {units}.",
    "4.settled": "On day {day}, fry that lived were {gap} with {tested} than with {usual} "
    "({span}), in a fair test of {units}.",
    "4.open": "This fair test of {units} did not settle whether fry grow longer with {tested} or "
    "with {usual}: {gap} on day {day} ({span}).",
}
EXTRAPOLATED = " These lengths are extrapolated."
ALIVE = " Alive by then: {tested_of_20} of 20 with {tested}, {usual_of_20} of 20 with {usual}."
ALIVE_AT_BEST = (
    " Alive by then, at best: {tested_of_20} of 20 with {tested}, {usual_of_20} of 20 with {usual}."
)

STEPS = comparisons.STEPS | {
    "length_extrapolated": "lengths that are extrapolated",
    "second_outcome": "an outcome that is not the main one",
    "units_not_measured": "units that nobody measured",
}


def headline(answer: GrowthAnswer) -> str:
    """Say the answer in plain words that stay at or below its claim level."""
    if not answer.measured.series:
        return HEADLINES["0.none"]
    if answer.comparison is None:
        return _diary(answer) + (EXTRAPOLATED if answer.extrapolated else "")
    c, d = answer.comparison, answer.design
    text = HEADLINES[_key(answer, c)].format(
        day=decimals(answer.days.day, 1),
        tested=d.tested,
        usual=d.usual,
        units=units_of(d),
        longer=_longer(c.estimate),
        mm_tested=decimals(c.mean_tested, 1),
        mm_usual=decimals(c.mean_usual, 1),
        gap=_gap(c.estimate),
        reach=reach_words(answer),
        span=span_words(c.conf_low, c.conf_high, 1, "mm longer", "mm shorter"),
    )
    return text + (EXTRAPOLATED if answer.extrapolated else "") + _alive(answer)


def _key(answer: GrowthAnswer, c: Comparison) -> str:
    level = answer.claim.level
    if answer.interim:
        return "interim"
    if level == 0:
        return "0.one"
    if level == 1:
        return "1" if answer.small is None else "1.few"
    return f"{level}.{'settled' if c.settled else 'open'}"


def reach_words(answer: GrowthAnswer) -> str:
    """Say how far apart units treated alike lay, and what difference chance alone reaches."""
    if answer.small is None:
        return ""
    return too_few_words(answer.design, answer.small, lambda mm: f"{decimals(mm, 1)} mm")


def _longer(x: float) -> str:
    if abs(x) < EVEN_MM:
        return "as long as"
    return "longer than" if x > 0 else "shorter than"


def _gap(x: float) -> str:
    if abs(x) < EVEN_MM:
        return "no longer or shorter"
    return f"about {more_or_fewer(x, 1, 'mm longer', 'mm shorter')}"


def _alive(answer: GrowthAnswer) -> str:
    arms = answer.by_method.set_index("tested")["survival"]
    if arms.isna().any():
        return ""
    text = ALIVE_AT_BEST if answer.beside.at_best else ALIVE
    return text.format(
        tested_of_20=of_20(float(arms[True])),
        usual_of_20=of_20(float(arms[False])),
        tested=answer.design.tested,
        usual=answer.design.usual,
    )


def _diary(answer: GrowthAnswer) -> str:
    table = answer.by_unit[answer.by_unit["length_at"].notna()]
    day = decimals(answer.days.day, 1)
    if len(answer.by_unit) == 1 and len(table) == 1:
        row = table.iloc[0]
        return HEADLINES["0.single"].format(
            day=day, batch=row["unit"], length=decimals(row["length_at"], 1)
        )
    lengths = [f"{r.unit} {decimals(r.length_at, 1)} mm" for r in table.itertuples(index=False)]
    key = "0.diary" if answer.design.tested is None else "0.one_arm"
    return HEADLINES[key].format(
        batches=count(len(answer.by_unit), "batch", "batches"),
        day=day,
        lengths=listed(lengths, most=4) or "no lengths",
    )


def curve_words(answer: GrowthAnswer) -> list[str]:
    """Say which curve was drawn, why that one, and what it may not be used for."""
    curves = answer.curves
    if curves.curve is None:
        return ["No container was measured on two days, so no curve is drawn."]
    name = curve_name(curves.curve)
    containers = count(curves.n_compared, "container")
    why = {
        "asked": f"The {name} curve was asked for.",
        "aicc": f"The {name} curve fits best over {containers} (smallest AICc), so all have it: "
        "one kind for all, as choosing one for each would only add noise.",
        "fewest_parameters": f"There are too few measured days to choose, so the {name} curve is "
        "drawn.",
    }[curves.by]
    return [
        why,
        "Curves are a way of reading between the measured days: on a day that was measured, the "
        "mean that was measured counts. Outside them a length is "
        "extrapolated, and called so; the length read off the joined daily means stands beside "
        "every curve.",
        final_words(answer),
    ]


def final_words(answer: GrowthAnswer) -> str:
    """Say the final size, or why there is none."""
    if answer.curves.held_length is not None:
        held = decimals(answer.curves.held_length, 1)
        return f"Final length {held} mm: given as the adult length, not found from these fish."
    if not answer.finals:
        return "No final size is given: these fish are too young to tell their final size."
    parts = [
        f"{b} {decimals(a.interval.estimate, 0)} mm ({decimals(a.interval.conf_low, 0)} to "
        f"{decimals(a.interval.conf_high, 0)})"
        for b, a in answer.finals.items()
    ]
    return f"Length at which growth levels off: {listed(parts)}."


def certainty_words(answer: GrowthAnswer) -> list[str]:
    """Say what the test found, or why there is none, and how far the words may go."""
    if answer.comparison is None:
        return ["Nothing is compared, so there is nothing to be sure or unsure of."]
    if answer.interim:
        first = (
            "No p is given before the planned day: a trial that is judged while it runs finds too "
            "much."
        )
    else:
        first = p_or_why(answer.design, answer.comparison)
    claim = comparisons.claim_words(answer.claim, STEPS)
    return [first, claim]


def secondary_words(answer: GrowthAnswer) -> list[str]:
    """Say the secondary outcomes as estimates, never as further verdicts."""
    d = answer.design
    lines = []
    joint, cv = answer.secondary.long_enough, answer.secondary.cv
    length = decimals(answer.days.length_mm, 1)
    day = decimals(answer.days.day, 1)
    if joint is not None:
        lines.append(
            f"Fry of at least {length} mm by day {day}, per 20 started: "
            f"{decimals(joint.mean_tested, 1)} with {d.tested}, {decimals(joint.mean_usual, 1)} "
            f"with {d.usual}; difference {_signed_range(joint, 1)}. This counts growth and "
            "survival at once, and the dead as not long enough."
        )
    if cv is not None:
        lines.append(
            f"How unequal the fish of one container are (CV): {percent(cv.mean_tested)} with "
            f"{d.tested}, {percent(cv.mean_usual)} with {d.usual}; difference in points "
            f"{_signed_range(cv, 1, 100.0)}."
        )
    if lines:
        lines.append("These are estimates beside the length, not further tests.")
    return lines


def _signed_range(c: Comparison, places: int, times: float = 1.0) -> str:
    sign = "+" if c.estimate > 0 else (MINUS if c.estimate < 0 else "")
    text = f"{sign}{decimals(abs(times * c.estimate), places)}"
    if c.conf_low is None or c.conf_high is None:
        return text
    return f"{text} ({signed_span(times * c.conf_low, times * c.conf_high, places)})"


def joint_words(answer: GrowthAnswer) -> list[str]:
    """Say growth and survival as one number a unit, where no methods are compared."""
    if answer.secondary.long_enough is not None or answer.days.length_mm is None:
        return secondary_words(answer)
    length, day = decimals(answer.days.length_mm, 1), decimals(answer.days.day, 1)
    known = answer.by_unit[answer.by_unit["long_enough_of_20"].notna()]
    if known.empty:
        return []
    parts = [
        f"{decimals(r.long_enough_of_20, 1)} in {r.unit}" for r in known.itertuples(index=False)
    ]
    return [f"Fry of at least {length} mm by day {day}, per 20 started: {listed(parts)}."]


def warmth_words(answer: GrowthAnswer) -> list[str]:
    """Say growth a degree-day, thermal growth, and how weight goes with length."""
    return [*_degree_words(answer), *_thermal_words(answer), *_weight_words(answer)]


def _degree_words(answer: GrowthAnswer) -> list[str]:
    warmth = answer.warmth
    table = warmth.by_batch
    if table.empty:
        return ["No temperatures are logged over the measured days, so growth is counted in days."]
    rate = 100.0 * table["mm_per_degree_day"].dropna()
    temps = table["mean_temp_c"]
    base = decimals(warmth.zero_growth_c, 1)
    text = f"Mean temperature {_between(temps.min(), temps.max(), 1)} °C"
    if len(rate):
        text += (
            f"; {_between(rate.min(), rate.max(), 2)} mm of growth for every 100 degree-days, "
            f"counted above {base} °C"
        )
    return [text + ". Warmer water grows fish faster, so compare growth at one temperature."]


def _thermal_words(answer: GrowthAnswer) -> list[str]:
    if not answer.warmth.weighed:
        return ["No weights are logged, so there is no thermal growth coefficient."]
    found = answer.warmth.by_batch["thermal_growth_coefficient"].dropna()
    if found.empty:
        return [
            "A thermal growth coefficient needs fish weighed on two days, and temperatures in "
            "between."
        ]
    return [
        f"Thermal growth coefficient {_between(found.min(), found.max(), 2)} "
        f"({count(len(found), 'container')}; 1000 times the gain in the cube root of grams, over "
        "the degree-days above 0 °C)."
    ]


def _weight_words(answer: GrowthAnswer) -> list[str]:
    w = answer.warmth.weight
    if w is None:
        return []
    fish = count(answer.warmth.n_weighed, "fish", "fish")
    low, high = answer.warmth.weighed_from_mm, answer.warmth.weighed_to_mm
    each = list(answer.warmth.weight_by_batch.values())
    spread = f"; container by container {_between(min(each), max(each), 2)}" if each else ""
    text = (
        f"Weight goes with length to the power {decimals(w.exponent, 2)} ({fish} of "
        f"{decimals(low, 1)} to {decimals(high, 1)} mm{spread})."
    )
    usual = "outside" if w.unusual else "inside"
    return [f"{text} That is {usual} the 2.5 to 3.5 that most fish have (Froese 2006)."]


def _between(low: float, high: float, places: int) -> str:
    a, b = decimals(low, places), decimals(high, places)
    return a if a == b else f"{a} to {b}"


def rate_words(answer: GrowthAnswer) -> list[str]:
    """Say growth rates with the ages they were taken between."""
    days = answer.days
    if days.rate_from is None or days.rate_to is None:
        return ["The containers share no stretch of measured days, so no growth rates are given."]
    known = answer.by_unit[answer.by_unit["mm_per_day"].notna()]
    if known.empty:
        return ["No growth rates can be given."]
    mm, sgr = known["mm_per_day"], known["sgr"]
    out = " (extrapolated)" if known["rate_extrapolated"].any() else ""
    return [
        f"From day {decimals(days.rate_from, 1)} to day {decimals(days.rate_to, 1)}{out} fry grew "
        f"{_between(mm.min(), mm.max(), 2)} mm a day, or {_between(sgr.min(), sgr.max(), 1)} % of "
        "their length a day. The percentage falls as fish grow: compare it only between the same "
        "ages."
    ]


def length_words(x: float, *, extrapolated: bool) -> str:
    """Write a length of a table, marked where it is extrapolated."""
    if math.isnan(x):
        return "none"
    return f"{decimals(x, 1)}{' extrapolated' if extrapolated else ''}"


def criterion_words(x: float) -> str:
    """Write an AICc, or that there is none."""
    return number(x, 5) if math.isfinite(x) else "cannot be compared"


PARTS: dict[str, Callable[[GrowthAnswer], Said]] = {
    "curve": lambda answer: listed_prose(curve_words(answer)),
    "rates": lambda answer: listed_prose(rate_words(answer)),
    "certainty": lambda answer: listed_prose(certainty_words(answer)),
    "together": lambda answer: listed_prose(joint_words(answer)),
    "warmth": lambda answer: listed_prose(warmth_words(answer)),
}
