"""The survival answer in words, by claim level and never above it."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from rearkit.words.blocks import AnswerBox, Prose, Said
from rearkit.words.comparisons import (
    ASSIGNED,
    claim_words,
    companions_words,
    days_of,
    p_or_why,
    too_few_words,
    units_of,
    way_words,
)
from rearkit.words.numbers import (
    about,
    chances,
    count,
    decimals,
    listed,
    number,
    of_20,
    one_in,
    p_words,
    signed,
    span_of_20,
    whole,
)

if TYPE_CHECKING:
    from rearkit.answers.survival.answer import SurvivalAnswer

SENTENCES: dict[str, str] = {
    "count_ranges.holds": "Start counts are ranges. Even with every count leaning against it, the "
    "difference keeps its sign.",
    "count_ranges.turns": "Start counts are ranges. With every count leaning against it, the "
    "difference would turn round.",
    "ill_removed": "Taken out as sick or runts, and counted as taken out, not as dead: {n_ill} "
    "fish.",
    "dead_not_recorded": "No dead fish were written down for {batches}: all that is known is how "
    "many were left.",
    "no_final_count": "Nobody counted all the fish on or after the judging day in {batches}; fish "
    "that vanished there cannot be seen, so survival is 'at best'.",
    "start_unknown": "How many fry started is not known for {batches}; counted back from later, "
    "their survival is 'at best', since fry lost before the first count cannot be seen.",
    "tipping_count": "That {tested} did {better} needs at least {count} of the {possible} "
    "possible fry of {unit} alive; nobody counted.",
}
"""What limits this answer, one template a code."""

WRITTEN: dict[str, Callable[[Any], str]] = {"n_ill": lambda n: about(float(n))}
"""How a value is written, by its name, where the shared ways have none."""


NOTHING = 0.05  # fry of 20; below this a difference would be written as 0

# What may be said when a difference was seen: by claim level, settled or not. Every level that a
# log falls to by a downgrade uses the same words; what took it down is said beside them.
HEADLINES: dict[str, str] = {
    "0.single": "By day {day}, {alive} of every 20 fry of {batch} were alive; there is nothing to "
    "compare it with.",
    "0.diary": "This log follows {batches} side by side and compares nothing: {fates}.",
    "0.one": "This {tested} batch did {better} this {usual} batch {days}: {alive_tested} of 20 fry "
    "alive against {alive_usual}. That says nothing yet about {tested} and {usual} in general.",
    "0.few": "{days_first}, {alive_tested} of 20 fry lived with {tested} and {alive_usual} of 20 "
    "with {usual}, in {units}. With a single one of either, that says nothing yet about the "
    "methods.",
    "interim": "Interim look, no verdict: so far, {days}, {alive_tested} of 20 fry lived with "
    "{tested} and {alive_usual} of 20 with {usual}, in {units}. {planned}",
    "1.few": "Too few to tell: {alive_tested} of 20 fry lived with {tested} and {alive_usual} of "
    "20 with {usual}, {days}, in {units}. {reach}",
    "1.weak": "Too little to go on: {alive_tested} of 20 fry lived with {tested} and {alive_usual} "
    "of 20 with {usual}, {days}, in {units}. What stands in the way most is said below.",
    "same": "No difference was seen between {tested} and {usual} {days}{span}, in {units}, which "
    "is not proof that there is none.",
    "2.settled": "{days_first}, {more} fry lived where the method was {tested}: {gap}{span}, in "
    "{units}. The two go together; that one made the other cannot be told.",
    "2.open": "Whether {tested} goes with better survival than {usual} is not settled: {gap} with "
    "{tested} {days}{span}, in {units}.",
    "3.settled": "A hint: with {tested}, {gap} stayed alive {days} than with {usual}{span}, in "
    "{units}.",
    "3.open": "Not settled whether {tested} or {usual} keeps more fry alive: {gap} with "
    "{tested} {days}{span}, in {units}.",
    "4.settled": "With {tested}, {gap} stayed alive {days} than with {usual}{span}, in a fair "
    "test of {units}.",
    "4.open": "This fair test of {units} did not settle whether {tested} or {usual} keeps more "
    "fry alive: {gap} with {tested} {days}{span}.",
}


def headline(answer: SurvivalAnswer) -> str:
    """Say the answer in one sentence that stays at or below its claim level."""
    if answer.comparison is None:
        return _diary(answer)
    c, d = answer.comparison, answer.design
    days = days_of(answer.day)
    span = ""
    if c.conf_low is not None and c.conf_high is not None:
        span = f" ({span_of_20(c.conf_low, c.conf_high)})"
    return HEADLINES[_headline_key(answer)].format(
        days=days,
        days_first=days[0].upper() + days[1:],
        planned=planned_words(answer),
        tested=d.tested,
        usual=d.usual,
        units=units_of(answer.design),
        better="better than"
        if c.estimate > 0
        else "worse than"
        if c.estimate < 0
        else "as well as",
        alive_tested=of_20(c.mean_tested),
        alive_usual=of_20(c.mean_usual),
        more="more" if c.estimate >= 0 else "fewer",
        gap=gap_words(c.estimate),
        reach=reach_words(answer),
        span=span,
    )


def _headline_key(answer: SurvivalAnswer) -> str:
    c, level = answer.comparison, answer.claim.level
    if c is None:
        return "0.diary"
    if answer.interim:
        return "interim"
    if level == 0:
        return "0.one" if c.n_usual == c.n_tested == 1 else "0.few"
    if level == 1:
        return "1.few" if answer.small is not None else "1.weak"
    if not c.settled and abs(20 * c.estimate) < NOTHING:
        return "same"
    return f"{level}.{'settled' if c.settled else 'open'}"


def reach_words(answer: SurvivalAnswer) -> str:
    """Say how far apart units treated alike lay, and what difference chance alone reaches."""
    if answer.small is None:
        return ""
    return too_few_words(answer.design, answer.small, lambda share: f"{of_20(share)} of 20")


def gap_words(difference: float) -> str:
    """Say a difference as fry of 20: "about 3 more of every 20 fry"."""
    return f"about {of_20(difference)} {'more' if difference > 0 else 'fewer'} of every 20 fry"


def planned_words(answer: SurvivalAnswer) -> str:
    """Say on which day a running trial will be judged, or that none was declared."""
    if answer.day.wanted is None and not answer.day.declared:
        return "No judging day was declared."
    wanted = answer.day.wanted if answer.day.wanted is not None else answer.day.day
    return f"The trial is judged on day {decimals(wanted, 1)}."


def _diary(answer: SurvivalAnswer) -> str:
    table = answer.by_unit
    if len(table) == 1:
        row = table.iloc[0]
        return HEADLINES["0.single"].format(
            day=decimals(answer.day.day_of(row["unit"]), 1),
            alive=of_20(row["survival"]),
            batch=row["unit"],
        )
    fates = [
        f"{of_20(r.survival)} of 20 alive in {r.unit} on day "
        f"{decimals(answer.day.day_of(r.unit), 1)}"
        for r in table.itertuples(index=False)
    ]
    return HEADLINES["0.diary"].format(
        batches=count(len(table), "batch", "batches"), fates=listed(fates, most=4)
    )


def how_sure_short(answer: SurvivalAnswer) -> str:
    """Say in one short sentence how sure the answer is."""
    c = answer.comparison
    if answer.interim:
        return "No verdict before the planned day."
    if c is None or c.p_value is None:
        return "No test is possible with so few."
    settled = "Settled" if c.settled else "Not settled, which is not the same as 'no difference'"
    return f"{settled} (p = {p_words(c.p_value)})."


def how_sure(answer: SurvivalAnswer) -> str:
    """Say what the test found, or why there is none, in a few sentences."""
    c, d = answer.comparison, answer.design
    if c is None:
        return "Nothing is compared, so there is nothing to be sure or unsure of."
    if answer.interim:
        return (
            "No p is given before the planned day: a trial that is judged while it runs finds too "
            "much."
        )
    if d.tier == "one":
        return tipping_words(answer)
    text = p_or_why(d, c)
    if c.p_value is None:
        return text
    if d.tier == "t":
        text += f" The arrangement test cannot go below {one_in(d.p_min)} with this layout."
    return (
        f"{text} If the method made no difference, a gap this wide or wider would come up in "
        f"{chances(c.p_value)} such trials."
    )


def tipping_words(answer: SurvivalAnswer) -> str:
    """One unit a method: say how unlike two tubs must be for the difference to mean nothing."""
    small = answer.small
    if small is None or small.apart_for_chance is None or small.luck is None:
        return "With one unit of a method no test is possible."
    return (
        "No two tubs were treated alike, so nothing here shows how far such tubs lie apart by "
        f"themselves. If they commonly lie {of_20(small.apart_for_chance)} of 20 apart, this "
        "difference comes by itself once in 20; luck with single fish alone commonly makes "
        f"{of_20(small.luck)} of 20."
    )


def secondary_words(answer: SurvivalAnswer) -> list[str]:
    """Say the secondary outcomes as estimates, never as further verdicts."""
    e = answer.secondary
    if e.days_lived is None or e.shape is None:
        return []
    lines = [
        f"Days that a fry lived, up to day {decimals(answer.day.day, 1)}, {answer.design.tested} "
        f"minus {answer.design.usual}: {signed(e.days_lived.estimate, 1)}"
        f"{_range(e.days_lived.conf_low, e.days_lived.conf_high)}.",
    ]
    if e.hazard is not None:
        lines.append(
            f"Death rate, {answer.design.tested} over {answer.design.usual}: "
            f"{number(math.exp(e.hazard.estimate), 2)} times"
            f"{_range(e.hazard.conf_low, e.hazard.conf_high, ratio=True)}."
        )
    lines += [
        f"Deaths, {answer.design.tested} over {answer.design.usual}, held day by day against the "
        "losses of all containers of that age: "
        f"{number(math.exp(e.shape.estimate), 2)} times"
        f"{_range(e.shape.conf_low, e.shape.conf_high, ratio=True)}.",
    ]
    return [*lines, "These are estimates beside the main outcome, not further tests."]


def _range(low: float | None, high: float | None, *, ratio: bool = False) -> str:
    if low is None or high is None:
        return ""
    if ratio:
        return f" ({number(math.exp(low), 2)} to {number(math.exp(high), 2)})"
    return f" ({signed(low, 1)} to {signed(high, 1)})"


def box_words(answer: SurvivalAnswer) -> list[tuple[str, str]]:
    """Say the answer in four lines: what was compared, how much, how sure, what it leaves open."""
    c, d = answer.comparison, answer.design
    fish = about(float(answer.by_unit["start_best"].sum()))
    if c is None:
        batches = count(len(answer.by_unit), "batch", "batches")
        lines = [("Followed", f"{batches}, {fish} fry."), ("What happened", headline(answer))]
    else:
        lines = [
            ("Compared", f"{d.tested} with {d.usual}, in {units_of(answer.design)}, {fish} fry."),
            ("Answer", headline(answer)),
            ("How sure", f"{how_sure_short(answer)} {claim_words(answer.claim)}"),
        ]
    return [*lines, ("What this does not show", _first_limit(answer))]


def _first_limit(answer: SurvivalAnswer) -> str:
    if answer.comparison is None:
        return "Which way of raising fry is better: nothing was compared."
    if answer.claim.level < 4 and answer.limits:
        return answer.limits[0]
    return (
        "That it works for other keepers, other fish or other water: this is one trial, and a "
        "second keeper's would be the next proof."
    )


def fair_trial_words(answer: SurvivalAnswer) -> str:
    """Say what the smallest fair trial would need."""
    need = answer.secondary.fair_minimum
    return (
        f"The smallest fair trial that could settle such a question: {need['split_clutches']} "
        f"clutches, each split at random between a container of either method; or, if clutches "
        f"cannot be split, {need['per_arm']} clutches a method. It can settle a large difference "
        "only; more clutches show smaller ones, more fry a container hardly help."
    )


def design_words(answer: SurvivalAnswer) -> list[str]:
    """Say what the unit was, how many there are, and what so few can show."""
    d = answer.design
    fish = about(float(answer.by_unit["start_best"].sum()))
    if answer.comparison is None:
        one = f"There is one method ({d.usual})" if d.usual else "No method is named"
        return [f"{one}, in {count(len(answer.by_unit), 'batch', 'batches')} of {fish} fry."]
    if d.split:
        unit = (
            f"Clutches were split between {d.tested} and {d.usual}: the container is the unit, and "
            f"containers of one clutch are compared with each other."
        )
    elif d.unit == "clutch":
        unit = "Every clutch had one method: the clutch is the unit, however many fry it has."
    else:
        unit = "No clutches are recorded: the container is the unit."
    ways = whole(d.arrangements)
    floor = (
        f"The methods could have been dealt out in {ways} ways, so chance alone gives the cleanest "
        f"result in {one_in(d.p_min)} of such trials."
    )
    return [
        unit,
        f"Compared: {units_of(answer.design)}, {fish} fry at the start.",
        floor,
        ASSIGNED.get(d.assigned, ASSIGNED["unknown"]),
        companions_words(d.aliased),
        f"Every difference is {d.tested} minus {d.usual}.",
    ]


def way_names(answer: SurvivalAnswer) -> list[str]:
    """Name the ways of counting, one for every row of the sensitivity."""
    design = answer.design
    return [way_words(way, design.usual, design.tested) for way in answer.sensitivity["way"]]


PARTS: dict[str, Callable[[SurvivalAnswer], Said]] = {
    "design": lambda answer: Prose(items=design_words(answer)),
    "certainty": lambda answer: Prose(
        paragraphs=(how_sure(answer), claim_words(answer.claim)), items=secondary_words(answer)
    ),
    "box": lambda answer: AnswerBox(lines=box_words(answer)),
    "next": lambda answer: Prose(paragraphs=(fair_trial_words(answer),)),
}
