"""The comparison of methods in words, by claim level and never above it."""

from __future__ import annotations

from rearkit.questions.methods import MethodsAnswer
from rearkit.questions.methods_contrast import Contrast
from rearkit.questions.methods_outcomes import Outcome
from rearkit.report.wording import claims, survival
from rearkit.report.wording.layouts import days_of, p_is, p_or_why, units_of
from rearkit.report.wording.numbers import decimals, p_words, whole
from rearkit.report.wording.outcome_words import said

HEADLINES: dict[str, str] = {
    "none": "There is one method only in this log, so no methods are compared.",
    "impossible": "The methods of this log were not watched over the same days, so they cannot be "
    "compared.",
    "unmeasured": "The main outcome, {outcome}, was not written down in enough {noun} of {tested} "
    "and {usual}, so nothing is tested.",
    "interim": "Interim look, no verdict: so far, with {tested}, {gap} than with {usual}, in "
    "{units}.",
    "0": "One batch beside one batch: with {tested}, {gap} than with {usual}. That says nothing "
    "yet about {tested} and {usual} in general.",
    "1": "A pattern, not more: with {tested}, {gap} than with {usual}, in {units}.",
    "1.even": "No pattern to speak of: with {tested}, {gap} than with {usual}, in {units}.",
    "2.settled": "Where the method was {tested}, {gap} than where it was {usual} ({span}), in "
    "{units}. The two go together; that one made the other cannot be told.",
    "2.open": "Not settled, and an association at most: where the method was {tested}, {gap} than "
    "where it was {usual} ({span}), in {units}.",
    "3.settled": "A hint: with {tested}, {gap} than with {usual} ({span}), in {units}.",
    "3.open": "Not settled: with {tested}, {gap} than with {usual} ({span}), in {units}. The "
    "layout was fair but too small.",
    "4.settled": "With {tested}, {gap} than with {usual} ({span}), in a fair test of {units}.",
    "4.open": "This fair test of {units} did not settle it: with {tested}, {gap} than with "
    "{usual} ({span}).",
}
NOTHING = "Nothing to compare."
SEVERAL = " {n} methods were each compared with {usual}; p is adjusted for that."

STEPS = claims.STEPS | {
    "outcome_changed": "a main outcome or day other than the declared one",
}

ROLES = {
    "tested": "tested",
    "adjusted": "adjusted",
    "estimate": "estimate",
}

MARGIN = {
    "inside.low": "The whole range ({span}, at 90 %) lies within {size}, the smallest difference "
    "that was called useful before the start. What went along with the methods may still hide a "
    "difference.",
    "inside.fair": "The whole range ({span}, at 90 %) lies within {size}, the smallest difference "
    "that was called useful before the start: by that measure {tested} is neither better nor worse "
    "than {usual}.",
    "no_worse.low": "The range ({span}, at 90 %) reaches beyond {size} on the good side only, the "
    "smallest difference that was called useful before the start. What went along with the methods "
    "may still hide a loss.",
    "no_worse.fair": "The range ({span}, at 90 %) reaches beyond {size}, the smallest difference "
    "that was called useful before the start, on the good side only: by that measure {tested} is "
    "no worse than {usual}.",
    "outside": "The range ({span}, at 90 %) reaches beyond {size}, the smallest difference that "
    "was called useful before the start, so this trial cannot say that the methods are as good as "
    "each other.",
    "pattern": "With so few units, and words that go no further than a pattern, nothing is said of "
    "whether the methods are as good as each other.",
    "none": "Whether the methods are as good as each other is not judged: {why}.",
}
WHY = {
    "no_margin": "no smallest useful difference was written down",
    "margin_not_before": "the smallest useful difference carries no date before the start",
    "interim": "the trial still runs",
    "too_few": "there are too few units for it",
}

TRAP = {
    "shown": "The trap: {usual} were first counted at age {first_usual} on average, {tested} at "
    "age {first_tested}. Counted each from its own first day, {naive} ({naive_p}). From day "
    "{landmark} on, which all of them were watched from, {fair} ({fair_p}). The first difference "
    "is made by the counting, not by the method: fry that die before the first count are in one "
    "sum and not in the other.",
    "none": "All were counted from the same age, so the days do not make a difference by "
    "themselves.",
}

LESSON = {
    "shown": "A lesson, not a result. Had every one of the {fish} fry counted as separate proof, a "
    "test of {tested} against {usual} would give {by_fish}. Dealt out again by {noun}, the "
    "deaths lie as far apart in {as_far} of {ways} ways: {by_unit}. Fry of one tub share its "
    "water, its food and its luck, so only the second number means anything.",
    "none": "With so few units there is nothing to deal out again.",
}


def headline(answer: MethodsAnswer) -> str:
    """Say in one sentence how the tested method did, at or below its claim level."""
    c = answer.first
    if c is None:
        return HEADLINES["impossible" if answer.impossible else "none"]
    text = HEADLINES[_key(c)].format(**_values(c, c.main))
    if len(answer.contrasts) > 1:
        text += SEVERAL.format(n=len(answer.contrasts), usual=answer.usual)
    return text


def _key(c: Contrast) -> str:
    if c.main.comparison is None:
        return "unmeasured"
    if c.day.interim:
        return "interim"
    even = c.main.name == "survival" and abs(c.main.comparison.estimate) < survival.EVEN
    if c.claim.level < 2:
        return "1.even" if even and c.claim.level == 1 else str(c.claim.level)
    return f"{c.claim.level}.{'settled' if c.main.settled else 'open'}"


def _values(c: Contrast, o: Outcome) -> dict[str, str]:
    s, x = said(o.name), o.comparison
    return {
        "tested": str(c.design.tested),
        "usual": str(c.design.usual),
        "units": units_of(c.design),
        "noun": "clutches" if c.design.unit == "clutch" else "containers",
        "outcome": s.name.format(long_mm=long_words(c)),
        "gap": "" if x is None else gap_words(c, o.name, x.estimate),
        "span": "" if x is None else s.span(x.conf_low, x.conf_high),
    }


def gap_words(c: Contrast, name: str, x: float) -> str:
    """Say a difference of one outcome as a clause."""
    s, lengths = said(name), c.measured.lengths
    return s.gap.format(
        n=s.change(x),
        days=days_of(c.day),
        length_day="not known" if lengths.day is None else decimals(lengths.day, 1),
        long_mm=long_words(c),
    )


def long_words(c: Contrast) -> str:
    """Write the length that counts as long enough."""
    return decimals(c.measured.lengths.long_mm, 1)


def design_words(answer: MethodsAnswer) -> list[str]:
    """Say of every comparison what the unit was and what so few can show."""
    lines = []
    for c in answer.contrasts:
        d = c.design
        ways = whole(d.arrangements)
        lines.append(
            f"Compared: {d.tested} with {d.usual}, told apart by the column {d.compare}, in "
            f"{units_of(d)}, {days_of(c.day)}. The methods could have been dealt out in {ways} "
            f"ways, so no test of the arrangement can go below p = {p_words(d.p_min)}."
        )
    if answer.contrasts:
        lines.append(
            f"The main outcome, {said(answer.main_outcome).name}, is tested. The others stand "
            "beside it."
        )
        lines.append("Every difference is the other method minus the usual one.")
    return lines or [NOTHING]


def certainty_words(answer: MethodsAnswer) -> list[str]:
    """Say the p of every comparison or why there is none, and how far the words may go."""
    lines = []
    for c in answer.contrasts:
        name = f"Main outcome, {c.design.tested} with {c.design.usual}: "
        if c.main.comparison is None:
            lines.append(f"{name}the main outcome was not measured.")
            continue
        if c.day.interim:
            lines.append(f"{name}no p before the planned day.")
        else:
            lines.append(f"{name}{p_or_why(c.design, c.main.comparison)}")
            if len(answer.contrasts) > 1 and c.main.p_value is not None:
                adjusted = f"Adjusted for {len(answer.contrasts)} methods: {p_is(c.main.p_value)}."
                lines[-1] += f" {adjusted}"
        lines[-1] += f" {claims.claim_words(c.claim, STEPS)}"
    return lines or [NOTHING]


def margin_words(answer: MethodsAnswer) -> list[str]:
    """Say whether the difference lies within the smallest useful one, if it was written before."""
    return [_margin(answer, c) for c in answer.contrasts] or [NOTHING]


def _margin(answer: MethodsAnswer, c: Contrast) -> str:
    if c.margin is None:
        codes = {r.code for r in answer.remarks}
        said_why = [w for w in ("no_margin", "margin_not_before") if w in codes]
        why = "interim" if c.day.interim else [*said_why, "too_few"][0]
        return MARGIN["none"].format(why=WHY[why])
    if c.claim.level < 2:
        return MARGIN["pattern"]
    m, s = c.margin, said(c.main.name)
    key = "inside" if m.inside else ("no_worse" if m.no_worse else "outside")
    if key != "outside":
        key += ".fair" if c.claim.level == 4 else ".low"
    size = f"{decimals(s.scale * m.size, 1)} {s.unit if s.unit != 'of 20' else 'of 20 fry'}"
    return MARGIN[key].format(
        span=s.span(m.result.conf_low, m.result.conf_high),
        size=size,
        tested=c.design.tested,
        usual=c.design.usual,
    )


def trap_words(answer: MethodsAnswer) -> list[str]:
    """Show what counting from different first days makes of the same fry."""
    lines = []
    for c in answer.contrasts:
        t = c.trap
        if t is None:
            continue
        s = said("survival")
        lines.append(
            TRAP["shown"].format(
                usual=f"batches with {c.design.usual}",
                tested=f"batches with {c.design.tested}",
                first_usual=decimals(t.first_usual, 1),
                first_tested=decimals(t.first_tested, 1),
                landmark=decimals(c.day.landmark, 1),
                naive=f"{s.change(t.difference)} of 20 would seem to live with {c.design.tested}",
                naive_p=_p(t.p_value),
                fair=f"it is {s.change(t.fair_difference)} of 20",
                fair_p=_p(None if c.day.interim else t.fair_p_value),
            )
        )
    return lines or [TRAP["none"] if answer.contrasts else NOTHING]


def _p(p: float | None) -> str:
    return "no p with so few" if p is None else p_is(p)


def lesson_words(answer: MethodsAnswer) -> list[str]:
    """Show what counting fish as separate proof would have claimed, as the mistake it is."""
    lines = [
        LESSON["shown"].format(
            fish=decimals(c.lesson.fish, 0),
            tested=c.design.tested,
            usual=c.design.usual,
            by_fish=p_is(c.lesson.p_by_fish),
            by_unit=p_is(c.lesson.p_by_unit),
            noun="clutches" if c.design.unit == "clutch" else "containers",
            as_far=whole(c.lesson.as_far),
            ways=whole(c.lesson.arrangements),
        )
        for c in answer.contrasts
        if c.lesson is not None and not c.day.interim
    ]
    return lines or [LESSON["none"] if answer.contrasts else NOTHING]
