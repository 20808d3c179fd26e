"""The comparison of methods in words, by claim level and never above it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rearkit.words import comparisons
from rearkit.words.blocks import Said, listed_prose
from rearkit.words.comparisons import days_of, p_or_why, units_of, way_words
from rearkit.words.numbers import (
    decimals,
    listed,
    more_or_fewer,
    p_is,
    p_words,
    signed,
    signed_span,
    span_words,
    whole,
)

if TYPE_CHECKING:
    from rearkit.answers.methods.answer import Contrast, MethodsAnswer
    from rearkit.answers.methods.outcomes import Outcome

SENTENCES: dict[str, str] = {
    "several_methods": "Several methods ({methods}) are compared with {usual}; p is adjusted for "
    "that, since more comparisons find more by chance.",
    "methods_impossible": "Not watched over the same days as the usual method, and so not "
    "compared: {methods}.",
    "main_not_declared": "No main outcome was declared; {outcome} is taken, and anyone could have "
    "chosen it after seeing the result.",
    "main_not_measured": "The main outcome ({outcome}) was not measured in enough units of "
    "{tested}.",
    "outcome_changed": "The main outcome is another than the one that was declared; that takes a "
    "step off what may be said.",
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
    "length_extrapolated": "The lengths on day {day} are extrapolated for {units}: their measured "
    "days do not reach around it.",
    "length_on_other_day": "Lengths are compared on day {day}, the last one inside the measured "
    "days of all, not on day {judged}.",
    "long_enough_chosen": "No size to move was declared; {mm} mm, about the mean of these fry, is "
    "taken as long enough.",
    "outcome_lacks_units": "Not known of every unit: {outcome} is missing for {units}.",
    "sign_turns": "Looked at in another fair way, the difference turns round: {ways}.",
    "hangs_on_one.clear": "It hangs on single units: left out, {left_out} would leave it not "
    "settled (a smaller trial settles less, whatever is left out).",
    "hangs_on_one.open": "It hangs on single units: without {left_out} it would look settled.",
}
"""What limits this answer, one template a code."""

OUTCOMES = {
    "survival": "survival",
    "length": "length",
    "length_cv": "unevenness of length",
    "long_enough": "fry alive and long enough",
    "minutes": "minutes a container",
    "minutes_per_survivor": "minutes a survivor",
}

WRITTEN: dict[str, Callable[[Any], str]] = {
    "outcome": OUTCOMES.__getitem__,
    "ways": lambda ways: listed([looked_words(*way) for way in ways], most=8),
    "left_out": lambda ones: listed([" with ".join(units) for units in ones], last="or"),
}


@dataclass(frozen=True, kw_only=True)
class OutcomeWords:
    """How one outcome is said.

    Attributes
    ----------
    name : str
        What it is, as a heading of a row.
    unit : str
        The unit of the numbers in tables.
    scale, places : float, int
        What its values are multiplied by, and how they are rounded.
    up, down : str
        The words for more and for less of it.
    gap : str
        A clause with ``{n}`` (the difference with its word) and ``{days}``.
    """

    name: str
    unit: str
    scale: float = 1.0
    places: int = 1
    up: str = "more"
    down: str = "fewer"
    gap: str = ""

    def number(self, x: float | None) -> str:
        """Write a value."""
        return decimals(None if x is None else self.scale * x, self.places)

    def change(self, x: float) -> str:
        """Write a difference with a word for its direction."""
        return more_or_fewer(self.scale * x, self.places, self.up, self.down)

    def span(self, low: float | None, high: float | None) -> str:
        """Write a range of a difference in words."""
        return span_words(self._scaled(low), self._scaled(high), self.places, self.up, self.down)

    def signed(self, x: float | None) -> str:
        """Write a difference with its sign."""
        return signed(self._scaled(x), self.places)

    def signed_span(self, low: float | None, high: float | None) -> str:
        """Write a range of a difference with its signs."""
        return signed_span(self._scaled(low), self._scaled(high), self.places)

    def _scaled(self, x: float | None) -> float | None:
        return None if x is None else self.scale * x


OUTCOME_WORDS: dict[str, OutcomeWords] = {
    "survival": OutcomeWords(
        name="fry alive",
        unit="of 20",
        scale=20.0,
        gap="about {n} of 20 fry stayed alive {days}",
    ),
    "length": OutcomeWords(
        name="length",
        unit="mm",
        up="mm longer",
        down="mm shorter",
        gap="the fry were about {n} on day {length_day}",
    ),
    "length_cv": OutcomeWords(
        name="unevenness of length",
        unit="%",
        scale=100.0,
        up="points more uneven",
        down="points more even",
        gap="the fry were about {n} in length on day {length_day}",
    ),
    "long_enough": OutcomeWords(
        name="fry alive and at least {long_mm} mm",
        unit="of 20",
        gap="about {n} of 20 fry started were alive and at least {long_mm} mm long",
    ),
    "minutes": OutcomeWords(
        name="work",
        unit="minutes a container",
        places=0,
        gap="a container took about {n} minutes {days}",
    ),
    "minutes_per_survivor": OutcomeWords(
        name="work",
        unit="minutes a survivor",
        gap="every fry alive at the end took about {n} minutes",
    ),
}


def said(name: str) -> OutcomeWords:
    """Return how an outcome is said; mortality of a stage goes by its days."""
    if name in OUTCOME_WORDS:
        return OUTCOME_WORDS[name]
    days = name.removeprefix("deaths ").replace("–", " to ")
    return OutcomeWords(name=f"deaths a day, day {days}", unit="per 100", places=2)


HEADLINES: dict[str, str] = {
    "none": "There is one method only in this log, so no methods are compared.",
    "unnamed": "The log does not say which two of its methods to compare, so none are compared.",
    "impossible": "The methods of this log were not watched over the same days, so they cannot be "
    "compared.",
    "unmeasured": "The main outcome, {outcome}, was not written down in enough {noun} of {tested} "
    "and {usual}, so nothing is tested.",
    "interim": "Interim look, no verdict: so far, with {tested}, {gap} than with {usual}, in "
    "{units}.",
    "0": "One batch beside one batch: with {tested}, {gap} than with {usual}. That says nothing "
    "yet about {tested} and {usual} in general.",
    "1": "Too little to go on: with {tested}, {gap} than with {usual}, in {units}.",
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

STEPS = comparisons.STEPS | {
    "outcome_changed": "a main outcome other than the declared one",
}


def looked_words(look: Any, usual: str | None, tested: str | None) -> str:
    """Write one way of looking at the same trial: a row of the sensitivity of a comparison."""
    if look.kind == "counting":
        return way_words(look.way, usual, tested)
    units = listed(look.units)
    return {
        "as_analysed": "as analysed",
        "without": f"without {units}",
        "landmark": f"counted from day {decimals(look.landmark, 1)} on",
    }[look.kind]


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
    "few": "With so little to go on, nothing is said of "
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
        if answer.remark("which_methods") is not None:
            return HEADLINES["unnamed"]
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
    if c.claim.level < 2:
        return str(c.claim.level)
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
        lines[-1] += f" {comparisons.claim_words(c.claim, STEPS)}"
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
        return MARGIN["few"]
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
                naive_p=_p(c, t.p_value),
                fair=f"it is {s.change(t.fair_difference)} of 20",
                fair_p=_p(c, t.fair_p_value),
            )
        )
    return lines or [TRAP["none"] if answer.contrasts else NOTHING]


def _p(c: Contrast, p: float | None) -> str:
    if c.day.interim:
        return "no p before the planned day"
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


PARTS: dict[str, Callable[[MethodsAnswer], Said]] = {
    "design": lambda answer: listed_prose(design_words(answer)),
    "certainty": lambda answer: listed_prose(certainty_words(answer)),
    "margin": lambda answer: listed_prose(margin_words(answer)),
    "trap": lambda answer: listed_prose(trap_words(answer)),
    "lesson": lambda answer: listed_prose(lesson_words(answer)),
}
