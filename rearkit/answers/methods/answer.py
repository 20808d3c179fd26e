"""Is method B better than method A? All outcomes on the same units, one of them tested."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.methods import tables, words
from rearkit.answers.methods.contrast import Contrast, contrast_facts
from rearkit.answers.methods.lesson import lesson_of
from rearkit.answers.methods.outcomes import adjusted, measure, outcomes_of
from rearkit.answers.methods.remarks import margin_is_early, remarks_of
from rearkit.answers.methods.sensitivity import margin_of, sensitivity_of, trap_of
from rearkit.batch.remark import Remark
from rearkit.design.claims import claim
from rearkit.design.companions import values_in
from rearkit.design.design import Design, find_design
from rearkit.design.downgrades import downgrades_of
from rearkit.design.judging_day import choose_day
from rearkit.design.layout_remarks import about_the_looks
from rearkit.design.unit_survival import follow_batches, survival_by_unit
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook
from rearkit.words.remarks import SENTENCES, WRITTEN

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture

MAIN_OUTCOMES = ("survival", "length", "minutes")


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
        facts |= contrast_facts(self.contrasts[0]) if self.contrasts else {"tested": None}
        facts["contrasts"] = [contrast_facts(c) for c in self.contrasts]
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
    all of them together; mortality by stage is an estimate. A main outcome or a day other than
    the declared one costs a step of the ladder.
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
    changed |= day is not None and log.trial.get("judged_on_day") not in (None, day)
    whole = find_design(log, compare=compare, usual=usual, tested=tested)
    contrasts, impossible = [], {}
    for value in _others(log, whole):
        try:
            contrasts.append(_contrast(log, whole, value, day, main, earlier_looks, seed, changed))
        except DesignError as error:
            impossible[value] = error.what
    interim = any(c["day"].interim for c in contrasts)
    groups = adjusted([c["outcomes"] for c in contrasts], withheld=interim)
    made = tuple(Contrast(**(c | {"outcomes": o})) for c, o in zip(contrasts, groups, strict=True))
    return MethodsAnswer(
        log_name=log.name,
        compare=whole.compare,
        usual=whole.usual,
        main_outcome=main,
        declared=declared is not None,
        contrasts=made,
        impossible=impossible,
        remarks=_remarks(log, whole, made, impossible, main, declared, earlier_looks),
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
) -> dict[str, Any]:
    entire = find_design(log, compare=whole.compare, usual=whole.usual, tested=value)
    chosen = choose_day(log, entire, day)
    design = entire.restricted(chosen.reached, reason="not_observed_to_day")
    if design.units.empty or design.tier == "single":
        raise DesignError("no units of both were watched over the same days")
    by_batch = follow_batches(log, design, chosen, seed)
    by_unit = survival_by_unit(design, by_batch)
    measured = measure(log, design, chosen, by_batch, by_unit)
    outcomes = outcomes_of(design, measured, by_batch, chosen, main)
    steps = downgrades_of(log, design, by_unit, chosen, earlier_looks)
    if changed and design.tier not in ("single", "one"):
        steps.append("outcome_changed")
    survival = next(o for o in outcomes if o.name == "survival").comparison
    size = log.trial.get("smallest_useful_difference")
    scale = 100.0 if main == "survival" else 1.0
    judged = size is not None and margin_is_early(log) and not chosen.interim
    return {
        "design": design,
        "day": chosen,
        "measured": measured,
        "outcomes": outcomes,
        "claim": claim(design, steps),
        "margin": margin_of(design, outcomes[0], float(str(size)) / scale) if judged else None,
        "sensitivity": sensitivity_of(log, entire, design, chosen, by_batch, outcomes[0]),
        "lesson": lesson_of(
            design,
            chosen,
            {str(b): f for b, f in log.fates.groupby("batch", sort=False)},
            log.account.set_index("batch", drop=False),
        ),
        "trap": None if survival is None else trap_of(design, chosen, by_batch, survival),
    }


def _remarks(
    log: Logbook,
    whole: Design,
    contrasts: tuple[Contrast, ...],
    impossible: dict[str, str],
    main: str,
    declared: object,
    earlier_looks: int,
) -> tuple[Remark, ...]:
    said: list[Remark] = []
    if not contrasts and whole.tested is None:
        said.append(Remark(code="nothing_to_compare", values={"n": len(whole.units)}))
    said += [r for r in whole.remarks if r.code == "usual_assumed"]
    if len(contrasts) > 1:
        names = [str(c.design.tested) for c in contrasts]
        said.append(Remark(code="several_methods", values={"methods": names, "usual": whole.usual}))
    if impossible:
        said.append(Remark(code="methods_impossible", values={"methods": sorted(impossible)}))
    if contrasts and declared is None:
        said.append(Remark(code="main_not_declared", values={"outcome": main}))
    for c in contrasts:
        said += remarks_of(log, c.design, c.day, c.measured, c.outcomes, c.claim, c.sensitivity)
        said += about_the_looks(log, c.design, c.day, earlier_looks)
    unique = {(r.code, str(r.values)): r for r in said if r.code != "other_method"}
    return tuple(unique.values())
