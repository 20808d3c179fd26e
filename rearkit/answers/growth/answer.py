"""Did the fry grow better? Length of two methods on one day, or the growth of every batch."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, ClassVar

import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.growth import tables, words
from rearkit.answers.growth.remarks import growth_downgrades, growth_remarks
from rearkit.answers.growth.secondary import (
    SecondaryOutcomes,
    Warmth,
    growth_and_warmth,
    secondary_outcomes,
)
from rearkit.answers.growth.unit_growth import (
    GrowthDays,
    check_asked,
    choose_growth_days,
    growth_by_container,
    growth_by_method,
    growth_by_unit,
)
from rearkit.batch.growth import ContainerCurves, final_lengths
from rearkit.batch.lengths import MeasuredLengths
from rearkit.design.claims import UNSETTLED_MOST, Claim, beside_survival, claim
from rearkit.design.comparison import Comparison
from rearkit.design.design import Design, find_design
from rearkit.design.too_few import TooFew, too_few
from rearkit.design.unit_lengths import BesideGrowth, UnitLengths, unit_lengths
from rearkit.logbook.logbook import Logbook
from rearkit.stats.growth.profile import Asymptote
from rearkit.words.remarks import SENTENCES, WRITTEN

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class GrowthAnswer(Answer):
    """Growth, one curve a container and one value a unit, never without survival beside it.

    Attributes
    ----------
    design : Design
        The layout of the units that have a length on the day.
    days : GrowthDays
        The day, the length waited for, and the ages that rates are taken between.
    lengths : UnitLengths
        Lengths of every unit on the day, compared, with survival beside them.
    finals : dict of Asymptote
        Final lengths, if they may be told.
    by_container, by_unit, by_method : DataFrame
        What the curves say.
    comparison : Comparison or None
        Length on the day, tested − usual; None where nothing is compared.
    claim : Claim
        How far the words may go.
    small : TooFew or None
        How far chance reaches, where there are too few units to test; in mm.
    secondary : SecondaryOutcomes
        The other curves, evenness, fry of at least the length per 20 started.
    warmth : Warmth
        Degree-days, thermal growth, weight and length.
    main_outcome : str or None
        The outcome that the plan named as the main one.
    """

    key: ClassVar[str] = "growth"
    headline_words = staticmethod(words.headline)
    sentences = SENTENCES | words.SENTENCES
    written = WRITTEN | words.WRITTEN
    prose_parts = words.PARTS
    table_parts = tables.TABLES

    @classmethod
    def picture_parts(cls) -> Mapping[str, Callable[[GrowthAnswer], Picture]]:
        """Return the pictures of this answer by name."""
        from rearkit.answers.growth.pictures import PICTURES

        return PICTURES

    design: Design
    days: GrowthDays
    lengths: UnitLengths
    finals: dict[str, Asymptote]
    by_container: pd.DataFrame
    by_unit: pd.DataFrame
    by_method: pd.DataFrame
    comparison: Comparison | None
    claim: Claim
    small: TooFew | None
    secondary: SecondaryOutcomes
    warmth: Warmth
    main_outcome: str | None

    @property
    def measured(self) -> MeasuredLengths:
        """What was measured."""
        return self.lengths.measured

    @property
    def curves(self) -> ContainerCurves:
        """The curve of every container."""
        return self.lengths.curves

    @property
    def beside(self) -> BesideGrowth:
        """Survival of the same containers."""
        return self.lengths.beside

    @property
    def interim(self) -> bool:
        """Whether this is a look at a trial that still runs: no verdict is given."""
        return self.comparison is not None and self.lengths.interim

    @property
    def extrapolated(self) -> bool:
        """Whether a compared length lies outside the sampled days of its container."""
        return bool(self.lengths.extrapolated)

    def table(self) -> pd.DataFrame:
        """Return one row a unit."""
        return self.by_unit.copy()

    def facts(self) -> dict[str, Any]:
        """Return every number of the answer, full precision."""
        return _facts(self)


def compare_growth(
    log: Logbook,
    *,
    compare: str | None = None,
    usual: str | None = None,
    tested: str | None = None,
    day: float | None = None,
    length_mm: float | None = None,
    rate_from: float | None = None,
    rate_to: float | None = None,
    curve: str | None = None,
    adult_length_mm: float | None = None,
    zero_growth_c: float = 0.0,
    earlier_looks: int = 0,
    seed: int = 20_260,
) -> GrowthAnswer:
    """Compare growth between two methods, or follow the growth of every batch if there is one.

    Parameters
    ----------
    log : Logbook
        The log.
    compare, usual, tested : str, optional
        The Batches column that tells methods apart and its two values (default: Trial sheet).
    day : float, optional
        Age in days on which lengths are compared (default: ``judged_on_day``).
    length_mm : float, optional
        Length whose day is asked for (default: ``size_to_move_mm`` of the Trial sheet).
    rate_from, rate_to : float, optional
        Ages that growth rates are taken between (default: the ages inside all sampled spans).
    curve : str, optional
        ``"line"``, ``"exponential"``, ``"logistic"``, ``"gompertz"`` or ``"von_bertalanffy"``
        (default: the one with the smallest summed AICc).
    adult_length_mm : float, optional
        Adult length of the species, to be held as the final length.
    zero_growth_c : float
        Temperature in °C above which degree-days are counted.
    earlier_looks : int
        How often the result of this trial was looked at before; this look is one more.
    seed : int
        Seeds the draws behind the survival of each batch.

    Returns
    -------
    GrowthAnswer
        With no lengths in the log it says so; with one method it compares nothing.

    Raises
    ------
    DesignError
        If a column, a value or a setting cannot be.

    Notes
    -----
    One curve a container, all of one kind, fitted to its daily means. On a day that was measured
    the measured mean is the length, between days the curve; it is one value a unit, and units are
    compared as in every other question, by every reading that changes them. Fish are never the
    unit. Where survival is not settled alike by all its readings, no more than an association is
    claimed of length.
    A length outside the sampled days of a container is extrapolated and costs a step.
    """
    check_asked(day, length_mm, rate_from, rate_to)
    whole = find_design(log, compare=compare, usual=usual, tested=tested)
    lengths = unit_lengths(
        log,
        whole,
        day=day,
        seed=seed,
        length_mm=length_mm,
        curve=curve,
        adult_length_mm=adult_length_mm,
    )
    curves = lengths.curves
    days = choose_growth_days(lengths, rate_from=rate_from, rate_to=rate_to)
    finals = final_lengths(curves)
    litres = log.batches.set_index("batch")["litres"].astype(float).to_dict()
    by_container = growth_by_container(whole, lengths, days, finals, litres)
    by_unit = growth_by_unit(whole, by_container)
    design = lengths.designs["length"]
    comparison = lengths.comparisons["length"]
    main = log.trial.get("main_outcome")
    answer = GrowthAnswer(
        log_name=log.name,
        design=design,
        days=days,
        lengths=lengths,
        finals=finals,
        by_container=by_container,
        by_unit=by_unit,
        by_method=growth_by_method(design, by_unit, _alive_then(lengths)),
        comparison=comparison,
        claim=_claim(log, lengths, earlier_looks),
        small=_small(design, by_unit),
        secondary=secondary_outcomes(lengths),
        warmth=growth_and_warmth(log, by_container["batch"], curves, zero_growth_c=zero_growth_c),
        main_outcome=None if main is None else str(main),
    )
    return replace(answer, remarks=tuple(growth_remarks(log, answer, earlier_looks)))


def _alive_then(lengths: UnitLengths) -> Comparison | None:
    """Return survival of the methods, where it is judged on the very day of the lengths."""
    judged = lengths.beside.chosen
    return lengths.survival if lengths.on_judging_day and judged is not None else None


def _claim(log: Logbook, lengths: UnitLengths, earlier_looks: int) -> Claim:
    """Place the comparison of lengths on the claim ladder, never above where survival lets it."""
    design, comparison = lengths.designs["length"], lengths.comparisons["length"]
    level = claim(
        design,
        growth_downgrades(log, lengths, earlier_looks),
        readings=() if comparison is None else comparison.readings,
        interim=lengths.interim,
    )
    if comparison is not None and lengths.survival is None:
        return replace(level, level=min(level.level, UNSETTLED_MOST))
    return beside_survival(level, lengths.survival)


def _small(design: Design, by_unit: pd.DataFrame) -> TooFew | None:
    if design.tier not in ("one", "few"):
        return None
    return too_few(design, by_unit.set_index("unit")["length_at"])


def _facts(answer: GrowthAnswer) -> dict[str, Any]:
    d, days, curves = answer.design, answer.days, answer.curves
    facts: dict[str, Any] = {
        "compare": d.compare,
        "usual": d.usual,
        "tested": d.tested,
        "unit": d.unit,
        "split_clutches": d.split,
        "blocks": d.n_blocks,
        "units_usual": d.n_usual,
        "units_tested": d.n_tested,
        "day": days.day,
        "day_declared": days.declared,
        "length_mm": days.length_mm,
        "length_from": days.length_from,
        "rate_from": days.rate_from,
        "rate_to": days.rate_to,
        "curve": curves.curve,
        "curve_by": curves.by,
        "adult_length_mm": curves.held_length,
        "aicc": curves.total_aicc,
        "aicc_containers": curves.n_compared,
        "n_measured": float(answer.by_unit["n_measured"].sum()),
        "p_min": d.p_min,
        "arrangements": d.arrangements,
        "tier": d.tier,
        "aliased": list(d.aliased),
        "how_assigned": d.assigned,
        "claim_level": answer.claim.level,
        "claim_before_downgrades": answer.claim.before,
        "downgrades": list(answer.claim.downgrades),
        "left_out": d.left_out,
        "extrapolated": answer.extrapolated,
        "asymptote_reported": bool(answer.finals),
        "interim": answer.interim,
        "remarks": [r.code for r in answer.remarks],
    }
    facts |= _comparison_facts(answer.comparison)
    p = _p_facts(answer.comparison)
    facts |= dict.fromkeys(p) if answer.interim else p  # no verdict before the planned day
    facts["readings"] = (
        [] if answer.comparison is None else [r.facts() for r in answer.comparison.readings]
    )
    if answer.small is not None:
        facts |= {f"small_{name}": value for name, value in vars(answer.small).items()}
    facts |= _survivor_facts(answer)
    facts |= answer.secondary.facts() | answer.warmth.facts()
    facts["spread"] = answer.measured.spread_table().to_dict("records")
    facts["by_container"] = answer.by_container.drop(columns="tested").to_dict("records")
    facts["by_unit"] = answer.by_unit.drop(columns="tested").to_dict("records")
    facts["by_method"] = answer.by_method.to_dict("records")
    return facts


def _comparison_facts(c: Comparison | None) -> dict[str, Any]:
    facts: dict[str, Any] = {
        "length_usual": c and c.mean_usual,
        "length_tested": c and c.mean_tested,
        "difference": c and c.estimate,
        "conf_low": c and c.conf_low,
        "conf_high": c and c.conf_high,
        "interval_method": c and c.interval_method,
    }
    if c is not None and c.t is not None:
        facts |= {"t_conf_low": c.t.conf_low, "t_conf_high": c.t.conf_high, "t_df": c.t.df}
    if c is not None and c.welch is not None:
        facts["welch_df"] = c.welch.df
    return facts


def _p_facts(c: Comparison | None) -> dict[str, Any]:
    """Return every p of the comparison and how it was made: what an interim look withholds."""
    facts: dict[str, Any] = {"p_value": c and c.p_value, "p_method": c and c.p_method}
    if c is not None and c.permutation is not None:
        facts["p_permutation"] = c.permutation.p_value
    if c is not None and c.t is not None and c.tier != "few":
        facts["p_t"] = c.t.p_value
    if c is not None and c.welch is not None:
        facts["p_welch"] = c.welch.p_value
    return facts


def _survivor_facts(answer: GrowthAnswer) -> dict[str, Any]:
    """Return survival beside growth, and what the loss of the smallest alone could do.

    ``runts_lost_low`` and ``runts_lost_high`` are the ends of what it can do to the difference.
    """
    chosen = answer.beside.chosen
    facts: dict[str, Any] = {
        "survival_day": None if chosen is None else chosen.day,
        "survival_landmark": None if chosen is None else chosen.landmark,
    }
    facts["survival_at_best"] = answer.beside.at_best
    names = ("survival_usual", "survival_tested", "runts_lost_low", "runts_lost_high")
    facts |= dict.fromkeys(names)
    if answer.comparison is None:
        return facts
    arms = answer.by_method.set_index("tested")
    return facts | {
        "survival_usual": float(arms.at[False, "survival"]),
        "survival_tested": float(arms.at[True, "survival"]),
        "runts_lost_low": -float(arms.at[False, "runts_lost_high"]),
        "runts_lost_high": float(arms.at[True, "runts_lost_high"]),
    }
