"""The survival answer in words, by claim level and never above it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from rearkit.answers.survival.certainty import how_sure, how_sure_short, secondary_words
from rearkit.words.blocks import AnswerBox, Prose, Said
from rearkit.words.comparisons import (
    ASSIGNED,
    EVEN,
    claim_words,
    companions_words,
    days_of,
    units_of,
)
from rearkit.words.numbers import about, count, decimals, listed, of_20, one_in, span_of_20, whole

if TYPE_CHECKING:
    from rearkit.answers.survival.answer import SurvivalAnswer

SENTENCES: dict[str, str] = {
    "count_ranges.holds": "Start counts are ranges. Even with every count leaning against it, the "
    "difference keeps its sign.",
    "count_ranges.turns": "Start counts are ranges. With every count leaning against it, the "
    "difference would turn round.",
    "ill_removed": "Taken out as sick or runts, and counted as taken out, not as dead: {n_ill}.",
    "dead_not_recorded": "No dead fish were written down for {batches}: all that is known is how "
    "many were left.",
    "no_final_count": "Nobody counted all the fish on or after the judging day in {batches}; fish "
    "that vanished there cannot be seen, so survival is 'at best'.",
    "start_unknown": "How many fry started is not known for {batches}; counted back from later, "
    "their survival is 'at best', since fry lost before the first count cannot be seen.",
}
"""What limits this answer, one template a code."""


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
    "1.pattern": "A pattern, not more: {alive_tested} of 20 fry lived with {tested} and "
    "{alive_usual} of 20 with {usual}, {days}, in {units}.",
    "1.even": "No pattern to speak of: {alive_tested} of 20 fry lived with {tested} and "
    "{alive_usual} of 20 with {usual}, {days}, in {units}.",
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
        return "1.even" if abs(c.estimate) < EVEN else "1.pattern"
    if not c.settled and abs(20 * c.estimate) < NOTHING:
        return "same"
    return f"{level}.{'settled' if c.settled else 'open'}"


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
    need = answer.extras.fair_minimum
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


PARTS: dict[str, Callable[[SurvivalAnswer], Said]] = {
    "design": lambda answer: Prose(items=design_words(answer)),
    "certainty": lambda answer: Prose(
        paragraphs=(how_sure(answer), claim_words(answer.claim)), items=secondary_words(answer)
    ),
    "box": lambda answer: AnswerBox(lines=box_words(answer)),
    "next": lambda answer: Prose(paragraphs=(fair_trial_words(answer),)),
}
