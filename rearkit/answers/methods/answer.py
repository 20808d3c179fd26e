"""Is method B better than method A? All outcomes on the same units, one of them tested."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, ClassVar

import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.methods import tables, words
from rearkit.answers.methods.lesson import Lesson, Trap, lesson_of, trap_of
from rearkit.answers.methods.outcomes import (
    Margin,
    Measured,
    Outcome,
    adjusted,
    margin_of,
    measure,
    outcomes_of,
)
from rearkit.answers.methods.remarks import margin_is_early, remarks_of
from rearkit.answers.methods.sensitivity import sensitivity_of
from rearkit.batch.fates import accounts_of, fates_of
from rearkit.design.claims import Claim, beside_survival, claim
from rearkit.design.companions import values_in
from rearkit.design.design import Design, find_design
from rearkit.design.downgrades import downgrades_of
from rearkit.design.judging_day import JudgingDay, choose_day
from rearkit.design.unit_lengths import unit_lengths
from rearkit.design.unit_survival import follow_batches, survival_by_unit
from rearkit.design.ways import weigh_survival
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook
from rearkit.words.remarks import SENTENCES, WRITTEN

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture

MAIN_OUTCOMES = ("survival", "length", "minutes")


@dataclass(frozen=True, kw_only=True, eq=False)
class Contrast:
    """One method against the usual one.

    Attributes
    ----------
    design, day : Design, JudgingDay
        The layout as analysed, and the days it is judged over.
    measured : Measured
        Everything measured on its units.
    outcomes : tuple of Outcome
        The main one first; p adjusted for all that is looked at.
    claim : Claim
        How far the words may go.
    margin : Margin or None
        The main difference held against the smallest useful one, if that was written before.
    sensitivity : DataFrame
        The main difference under every other way of looking.
    trap : Trap or None
        What counting from different first days would have shown.
    lesson : Lesson or None
        What counting every fish as separate proof would have claimed.
    """

    design: Design
    day: JudgingDay
    measured: Measured
    outcomes: tuple[Outcome, ...]
    claim: Claim
    margin: Margin | None
    sensitivity: pd.DataFrame
    trap: Trap | None
    lesson: Lesson | None

    @property
    def main(self) -> Outcome:
        """The main outcome."""
        return self.outcomes[0]

    def outcome(self, name: str) -> Outcome:
        """Return one outcome by its name."""
        return next(o for o in self.outcomes if o.name == name)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MethodsAnswer(Answer):
    """Every other method against the usual one.

    Attributes
    ----------
    compare, usual : str, str or None
        The Batches column, and the value that the others are compared with.
    main_outcome : str
        Survival, length or minutes: the one that is tested.
    declared : bool
        Whether the Trial sheet names it.
    contrasts : tuple of Contrast
        The tested method first; empty where there is nothing to compare.
    impossible : dict
        Methods that cannot be compared, and why.
    """

    key: ClassVar[str] = "methods"
    headline_words = staticmethod(words.headline)
    sentences = SENTENCES | words.SENTENCES
    written = WRITTEN | words.WRITTEN
    prose_parts = words.PARTS
    table_parts = tables.TABLES

    @classmethod
    def picture_parts(cls) -> Mapping[str, Callable[[MethodsAnswer], Picture]]:
        """Return the pictures of this answer by name."""
        from rearkit.answers.methods.pictures import PICTURES

        return PICTURES

    compare: str
    usual: str | None
    main_outcome: str
    declared: bool
    contrasts: tuple[Contrast, ...]
    impossible: dict[str, str]

    @property
    def first(self) -> Contrast | None:
        """The comparison that the page is about."""
        return self.contrasts[0] if self.contrasts else None

    def table(self) -> pd.DataFrame:
        """Return one row a unit and comparison, with every outcome."""
        tables = [c.measured.by_unit().assign(compared=c.design.tested) for c in self.contrasts]
        return pd.concat(tables, ignore_index=True) if tables else pd.DataFrame()

    def facts(self) -> dict[str, Any]:
        """Return every number of the answer, full precision."""
        facts: dict[str, Any] = {
            "compare": self.compare,
            "usual": self.usual,
            "main_outcome": self.main_outcome,
            "main_outcome_declared": self.declared,
            "n_methods": len(self.contrasts) + len(self.impossible) + (self.usual is not None),
            "impossible": self.impossible,
            "remarks": [r.code for r in self.remarks],
        }
        facts |= _facts(self.contrasts[0]) if self.contrasts else {"tested": None}
        facts["contrasts"] = [_facts(c) for c in self.contrasts]
        return facts


def compare_methods(
    log: Logbook,
    *,
    compare: str | None = None,
    usual: str | None = None,
    tested: str | None = None,
    day: float | None = None,
    main_outcome: str | None = None,
    earlier_looks: int = 0,
    seed: int = 20_260,
) -> MethodsAnswer:
    """Compare every other method of a log with the usual one, in all outcomes, testing one.

    Parameters
    ----------
    log : Logbook
        The log.
    compare : str, optional
        Any Batches column that tells methods apart (default: the Trial sheet's).
    usual, tested : str, optional
        Its values for the usual method and for the one the page is about; further values are
        compared with the usual one too.
    day : float, optional
        Age in days to judge on (default: ``judged_on_day``).
    main_outcome : str, optional
        ``"survival"``, ``"length"`` or ``"minutes"`` (default: the Trial sheet's, else survival).
    earlier_looks, seed : int
        As in ``compare_survival``.

    Returns
    -------
    MethodsAnswer
        With one method it compares nothing and says so.

    Raises
    ------
    DesignError
        If a column, a value or an outcome is not known.

    Notes
    -----
    One value a unit throughout; the decision table and the claim ladder are those of survival.
    The p of the main outcome is Holm-adjusted over the methods, that of the other outcomes over
    all of them together; mortality by stage is an estimate. A main outcome other than the
    declared one costs a step of the ladder.
    """
    declared = log.trial.get("main_outcome")
    main = main_outcome or str(declared or "survival")
    if main not in MAIN_OUTCOMES:
        raise DesignError(
            f"there is no main outcome {main!r}",
            where="main_outcome",
            todo=f"Choose one of {', '.join(MAIN_OUTCOMES)}.",
        )
    changed = declared is not None and main != declared
    whole = find_design(log, compare=compare, usual=usual, tested=tested)
    contrasts, impossible = [], {}
    for value in _others(log, whole):
        try:
            contrasts.append(_contrast(log, whole, value, day, main, earlier_looks, seed, changed))
        except DesignError as error:
            impossible[value] = error.what
    interim = any(c.day.interim for c in contrasts)
    groups = adjusted([c.outcomes for c in contrasts], withheld=interim)
    made = tuple(replace(c, outcomes=o) for c, o in zip(contrasts, groups, strict=True))
    return MethodsAnswer(
        log_name=log.name,
        compare=whole.compare,
        usual=whole.usual,
        main_outcome=main,
        declared=declared is not None,
        contrasts=made,
        impossible=impossible,
        remarks=remarks_of(
            log,
            whole,
            made,
            impossible,
            main=main,
            declared=declared is not None,
            earlier_looks=earlier_looks,
        ),
    )


def _others(log: Logbook, whole: Design) -> list[str]:
    """Return the methods that are compared with the usual one, the tested one first."""
    if whole.tested is None:
        return []
    usable = log.batches[~log.batches["stopped"].astype(bool)]
    values = set(values_in(usable, whole.compare).dropna()) - {whole.usual, whole.tested}
    return [whole.tested, *sorted(values)]


def _contrast(
    log: Logbook,
    whole: Design,
    value: str,
    day: float | None,
    main: str,
    earlier_looks: int,
    seed: int,
    changed: bool,
) -> Contrast:
    entire = find_design(log, compare=whole.compare, usual=whole.usual, tested=value)
    chosen = choose_day(log, entire, day)
    design = entire.restricted(chosen.reached, reason="never_counted")
    if design.units.empty or design.tier == "single":
        raise DesignError("no units of both were watched over the same days")
    by_batch = follow_batches(log, design, chosen, seed)
    by_unit = survival_by_unit(design, by_batch)
    weighed = weigh_survival(log, design, chosen, by_batch, seed)
    lengths = unit_lengths(log, entire, day=day, seed=seed)
    measured = measure(log, design, chosen, by_batch, by_unit, weighed, lengths)
    outcomes = outcomes_of(design, measured, by_batch, chosen, main)
    steps = downgrades_of(log, design, chosen, earlier_looks)
    if changed and design.tier not in ("single", "one"):
        steps.append("outcome_changed")
    level = claim(
        design,
        steps,
        readings=() if outcomes[0].comparison is None else outcomes[0].comparison.readings,
        interim=chosen.interim,
    )
    survival = next(o for o in outcomes if o.name == "survival").comparison
    size = log.trial.get("smallest_useful_difference")
    scale = 100.0 if main == "survival" else 1.0
    judged = size is not None and margin_is_early(log) and not chosen.interim
    return Contrast(
        design=design,
        day=chosen,
        measured=measured,
        outcomes=outcomes,
        claim=beside_survival(level, weighed) if main != "survival" else level,
        margin=margin_of(design, outcomes[0], float(str(size)) / scale) if judged else None,
        sensitivity=sensitivity_of(log, design, chosen, by_batch, outcomes[0]),
        lesson=lesson_of(
            design,
            chosen,
            fates_of(log, design.compare),
            accounts_of(log, design.compare),
        ),
        trap=None if survival is None else trap_of(design, chosen, by_batch, survival),
    )


def _facts(c: Contrast) -> dict[str, Any]:
    """Return the numbers of one comparison, full precision."""
    d, main = c.design, c.main
    facts: dict[str, Any] = {
        "tested": d.tested,
        "unit": d.unit,
        "blocks": d.n_blocks,
        "units_usual": d.n_usual,
        "units_tested": d.n_tested,
        "landmark": c.day.landmark,
        "day": c.day.day,
        "day_declared": c.day.declared,
        "interim": c.day.interim,
        "aliased": list(d.aliased),
        "how_assigned": d.assigned,
        "p_min": d.p_min,
        "arrangements": d.arrangements,
        "claim_level": c.claim.level,
        "claim_before_downgrades": c.claim.before,
        "downgrades": list(c.claim.downgrades),
        "length_day": c.measured.lengths.day,
        "long_enough_mm": c.measured.lengths.long_mm,
    }
    row = _outcome_facts(main, withheld=c.day.interim)
    facts |= {k: v for k, v in row.items() if k not in ("outcome", "role")}
    facts["outcomes"] = [_outcome_facts(o, withheld=c.day.interim) for o in c.outcomes]
    if c.margin is not None:
        r = c.margin.result
        facts |= {
            "margin": c.margin.size,
            "equivalence_p_value": r.p_value,
            "equivalence_conf_low": r.conf_low,
            "equivalence_conf_high": r.conf_high,
            "inside_margin": c.margin.inside,
            "no_worse": c.margin.no_worse,
        }
    if c.trap is not None:
        names = ("first_usual", "first_tested", "difference", "p_value")
        facts |= {f"trap_{name}": getattr(c.trap, name) for name in names}
    if c.lesson is not None and not c.day.interim:
        facts |= {f"lesson_{name}": value for name, value in vars(c.lesson).items()}
    facts["left_out"] = d.left_out
    facts["sensitivity"] = c.sensitivity.to_dict("records")
    facts["by_unit"] = c.measured.by_unit().drop(columns="tested").to_dict("records")
    return facts


def _outcome_facts(o: Outcome, *, withheld: bool) -> dict[str, Any]:
    c = o.comparison
    return {
        "outcome": o.name,
        "role": o.role,
        "mean_usual": c and c.mean_usual,
        "mean_tested": c and c.mean_tested,
        "difference": c and c.estimate,
        "conf_low": c and c.conf_low,
        "conf_high": c and c.conf_high,
        "interval_method": c and c.interval_method,
        "p_value": o.p_value,
        "p_unadjusted": c.p_value if c and o.role == "tested" and not withheld else None,
        "p_method": c.p_method if c and o.p_value is not None else None,
    }
