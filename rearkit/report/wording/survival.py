"""The survival answer in words, by claim level and never above it."""

from __future__ import annotations

from rearkit.questions.survival import SurvivalAnswer
from rearkit.report.wording.numbers import (
    count,
    decimals,
    listed,
    of_20,
    one_in,
    p_words,
    percent,
    span_of_20,
)

# What may be said when a difference was seen: by claim level, settled or not.
HEADLINES: dict[str, str] = {
    "0.single": "By day {day}, {alive} of every 20 fry of {batch} were alive; there is nothing to "
    "compare it with.",
    "0.diary": "This log follows {batches} side by side and compares nothing: {fates}.",
    "0.one": "This {tested} batch did {better} than this {usual} batch up to day {day}: {alive_tested} "
    "of 20 fry alive against {alive_usual}. That says nothing yet about {tested} and {usual} "
    "in general.",
    "1": "A pattern, not more: up to day {day}, {alive_tested} of 20 fry lived with {tested} and "
    "{alive_usual} of 20 with {usual}, in {units}.",
    "2.settled": "Up to day {day} {more} fry lived where the method was {tested}: about {gap} of 20 "
    "({span}), in {units}. The two go together; that one made the other cannot be told.",
    "2.open": "Whether {tested} goes with better survival than {usual} is not settled: {gap_of} to day "
    "{day} ({span}), in {units}.",
    "3.settled": "A hint: with {tested}, about {gap} of 20 fry were alive on day {day} compared "
    "with {usual} ({span}), in {units}.",
    "3.open": "Not settled: {gap_of} with {tested} than with {usual} on day {day} ({span}), in {units}. "
    "The layout was fair but too small.",
    "4.settled": "With {tested}, about {gap} of every 20 fry were alive on day {day} than with "
    "{usual} ({span}), in a fair test of {units}.",
    "4.open": "This fair test of {units} did not settle whether {tested} or {usual} keeps more fry "
    "alive: {gap_of} on day {day} ({span}).",
}


def headline(answer: SurvivalAnswer) -> str:
    """Say the answer in one sentence that stays at or below its claim level."""
    if answer.comparison is None:
        return _diary(answer)
    c, level = answer.comparison, answer.claim.level
    if level <= 1:
        key = "0.one" if level == 0 else "1"
    else:
        key = f"{level}.{'settled' if c.settled else 'open'}"
    more = "more" if c.estimate >= 0 else "fewer"
    gap = f"{of_20(c.estimate)} {more}"
    span = (
        "no range"
        if c.conf_low is None or c.conf_high is None
        else span_of_20(c.conf_low, c.conf_high)
    )
    return HEADLINES[key].format(
        day=decimals(answer.day.day, 1),
        tested=answer.design.tested,
        usual=answer.design.usual,
        units=units_words(answer),
        better="better" if c.estimate > 0 else ("worse" if c.estimate < 0 else "the same"),
        alive_tested=of_20(c.mean_tested),
        alive_usual=of_20(c.mean_usual),
        more=more,
        gap=gap,
        gap_of=f"about {gap} of 20",
        span=span,
    )


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


def units_words(answer: SurvivalAnswer) -> str:
    """Say how many units stand behind the answer: "6 split clutches", "4 against 5 clutches"."""
    d = answer.design
    if d.split:
        text = count(d.n_blocks, "split clutch", "split clutches")
        if d.n_usual + d.n_tested > 2 * d.n_blocks:
            text += f" ({d.n_tested} against {d.n_usual} containers)"
        return text
    return f"{d.n_tested} against {d.n_usual} {'clutches' if d.unit == 'clutch' else 'containers'}"


def how_sure(answer: SurvivalAnswer) -> str:
    """Say what the test found, or why there is none, in one or two sentences."""
    c, d = answer.comparison, answer.design
    if c is None:
        return "Nothing is compared, so there is nothing to be sure or unsure of."
    if c.p_value is None:
        if d.tier == "one":
            return tipping_words(answer)
        return (
            f"No test is claimed: with {units_words(answer)}, chance alone gives a clean gap in "
            f"{one_in(d.p_min)} trials, and it cannot go below that."
        )
    ways = f"{d.arrangements:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    text = f"p = {p_words(c.p_value)} ({c.p_method}"
    text += (
        f"; {ways} ways to deal out the methods)." if "arrangements" in (c.p_method or "") else ")."
    )
    if d.tier == "t":
        text += f" The arrangement test cannot go below {one_in(d.p_min)} with this layout."
    if not c.settled:
        text += " That is not settled, which is not the same as 'no difference'."
    return text


def tipping_words(answer: SurvivalAnswer) -> str:
    """One unit a method: say how unlike two tubs must be for the difference to mean nothing."""
    icc = answer.tipping.get("icc")
    if icc is None:
        return "With one unit of a method no test is possible."
    sd = percent(answer.tipping["sd"])
    if icc <= 0:
        return "The difference is within what luck with so few fish gives, even in identical tubs."
    if icc < 0.02:
        tail = "the smallest spread that is realistic between tubs already explains it."
    elif icc < 0.20:
        tail = "tubs commonly differ by as much, so this difference may be no more than that."
    else:
        tail = "tubs seldom differ by so much, but one pair cannot show it."
    return (
        f"If two tubs kept in the same way differ by about {sd} (an intraclass correlation of "
        f"{decimals(icc, 3)}), this difference could be tub luck: {tail}"
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
