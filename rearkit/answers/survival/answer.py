"""Did more fry live? Survival of two methods to one day, or the fate of every batch."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar

import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.survival import tables, words
from rearkit.answers.survival.secondary import SecondaryOutcomes, secondary_outcomes
from rearkit.batch.evidence import judge_unit, tipping
from rearkit.batch.fates import lines_of
from rearkit.batch.remark import Remark
from rearkit.batch.stages import STAGES
from rearkit.batch.survival import BatchSurvival
from rearkit.design.claims import Claim, claim, fair_minimum
from rearkit.design.comparison import Comparison, compare_units
from rearkit.design.design import Design, find_design
from rearkit.design.downgrades import downgrades_of
from rearkit.design.judging_day import JudgingDay, choose_day
from rearkit.design.layout_remarks import about_the_claim, about_the_day, about_the_looks
from rearkit.design.sensitivity import (
    LEANS_TESTED,
    LEANS_USUAL,
    ways_of_counting,
    what_would_erase_it,
)
from rearkit.design.too_few import TooFew, tipping_icc, too_few
from rearkit.design.unit_survival import (
    follow_batches,
    survival_by_unit,
)
from rearkit.design.ways import weigh_survival
from rearkit.logbook.logbook import Logbook
from rearkit.words.remarks import SENTENCES, WRITTEN

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture

VERDICTS = {"p_permutation", "p_t", "p_welch", "t_conf_low", "t_conf_high"}
"""The facts that judge; they are withheld while the trial runs."""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SurvivalAnswer(Answer):
    """Survival from a common age to a day, one value a unit.

    Attributes
    ----------
    design : Design
        The layout as analysed.
    day : JudgingDay
        The day, who chose it, and the age from which all batches are compared.
    by_batch : dict of BatchSurvival
        Every batch that could be followed to the day.
    by_unit : DataFrame
        One row a unit: counts, survival and its own interval.
    comparison : Comparison or None
        Tested − usual; None with one method.
    claim : Claim
        How far the words may go.
    sensitivity : DataFrame
        The difference under every other way of counting.
    small : TooFew or None
        How far chance reaches, where there are too few units to test; shares.
    secondary : SecondaryOutcomes
        Stage mortality, hazard ratio, restricted mean, and what a fair trial would need.
    """

    key: ClassVar[str] = "survival"
    headline_words = staticmethod(words.headline)
    sentences = SENTENCES | words.SENTENCES
    written = WRITTEN | words.WRITTEN
    prose_parts = words.PARTS
    table_parts = tables.TABLES

    @classmethod
    def picture_parts(cls) -> Mapping[str, Callable[[SurvivalAnswer], Picture]]:
        """Return the pictures of this answer by name."""
        from rearkit.answers.survival.pictures import PICTURES

        return PICTURES

    design: Design
    day: JudgingDay
    by_batch: dict[str, BatchSurvival]
    by_unit: pd.DataFrame
    comparison: Comparison | None
    claim: Claim
    sensitivity: pd.DataFrame
    secondary: SecondaryOutcomes
    small: TooFew | None = None
    tipping: dict[str, float] = field(default_factory=dict)

    @property
    def interim(self) -> bool:
        """Whether this is a look at a trial that still runs: no verdict is given."""
        return self.day.interim

    def table(self) -> pd.DataFrame:
        """Return one row a unit."""
        return self.by_unit.copy()

    def facts(self) -> dict[str, Any]:
        """Return every number of the answer, full precision."""
        c, d = self.comparison, self.design
        fish = self.by_unit.groupby("tested")["start_best"].sum()
        facts: dict[str, Any] = {
            "compare": d.compare,
            "usual": d.usual,
            "tested": d.tested,
            "unit": d.unit,
            "split_clutches": d.split,
            "blocks": d.n_blocks,
            "units_usual": d.n_usual,
            "units_tested": d.n_tested,
            "fish_usual": float(fish.get(False, 0.0)),
            "fish_tested": float(fish.get(True, 0.0)),
            "day": self.day.day,
            "day_declared": self.day.declared,
            "landmark": self.day.landmark,
            "age_from": self.day.clock,
            "p_min": d.p_min,
            "arrangements": d.arrangements,
            "tier": d.tier,
            "aliased": list(d.aliased),
            "how_assigned": d.assigned,
            "claim_level": self.claim.level,
            "claim_before_downgrades": self.claim.before,
            "downgrades": list(self.claim.downgrades),
            "left_out": d.left_out,
            "remarks": [r.code for r in self.remarks],
        }
        facts |= _comparison_facts(c) | {"day_rule": self.day.rule}
        if self.interim:  # no verdict before the planned day
            facts |= dict.fromkeys(facts.keys() & VERDICTS)
        facts["interim"] = self.interim
        if self.small is not None:
            facts |= {f"small_{name}": value for name, value in vars(self.small).items()}
        facts["readings"] = [] if c is None else [r.facts() for r in c.readings]
        facts |= self.secondary.facts() | {f"tipping_{k}": v for k, v in self.tipping.items()}
        facts["sensitivity"] = self.sensitivity.to_dict("records")
        facts["by_unit"] = self.by_unit.drop(columns="tested").to_dict("records")
        return facts


def _comparison_facts(c: Comparison | None) -> dict[str, Any]:
    if c is None:
        names = ("survival_usual", "survival_tested", "difference", "conf_low", "conf_high")
        return dict.fromkeys((*names, "interval_method", "p_value", "p_method"))
    facts: dict[str, Any] = {
        "survival_usual": c.mean_usual,
        "survival_tested": c.mean_tested,
        "difference": c.estimate,
        "conf_low": c.conf_low,
        "conf_high": c.conf_high,
        "interval_method": c.interval_method,
        "p_value": c.p_value,
        "p_method": c.p_method,
    }
    if c.permutation is not None:
        facts["p_permutation"] = c.permutation.p_value
    if c.t is not None:
        facts |= {"t_conf_low": c.t.conf_low, "t_conf_high": c.t.conf_high, "t_df": c.t.df}
        if c.tier != "few":
            facts["p_t"] = c.t.p_value
    if c.welch is not None:
        facts |= {"p_welch": c.welch.p_value, "welch_df": c.welch.df}
    return facts


def compare_survival(
    log: Logbook,
    *,
    compare: str | None = None,
    usual: str | None = None,
    tested: str | None = None,
    day: float | None = None,
    earlier_looks: int = 0,
    seed: int = 20_260,
) -> SurvivalAnswer:
    """Compare survival to one day between two methods, or follow every batch if there is one.

    Parameters
    ----------
    log : Logbook
        The log.
    compare, usual, tested : str, optional
        The Batches column that tells methods apart and its two values (default: Trial sheet).
    day : float, optional
        Age in days to judge on (default: ``judged_on_day``, else the last age every unit reached).
    earlier_looks : int
        How often the result of this trial was looked at before; this look is one more.
    seed : int
        Seeds the draws of each unit's own interval.

    Returns
    -------
    SurvivalAnswer
        The answer; with one method it compares nothing and claims nothing.

    Raises
    ------
    DesignError
        If nothing can be followed, or a column or value is not in the log.

    Notes
    -----
    Missing fish count as dead, placed in proportion to the deaths between the full counts that
    bracket them. Fish taken out are censored. A unit not observed to the day is left out of the
    comparison and named.
    """
    design = find_design(log, compare=compare, usual=usual, tested=tested)
    chosen = choose_day(log, design, day)
    design = design.restricted(chosen.reached, reason="never_counted")
    by_batch = follow_batches(log, design, chosen, seed)
    by_unit = survival_by_unit(design, by_batch)
    comparison = weigh_survival(log, design, chosen, by_batch, seed)
    level = claim(
        design,
        downgrades_of(log, design, chosen, earlier_looks),
        readings=() if comparison is None else comparison.readings,
        interim=chosen.interim,
    )
    sensitivity = ways_of_counting(design, by_batch)
    return SurvivalAnswer(
        log_name=log.name,
        design=design,
        day=chosen,
        by_batch=by_batch,
        by_unit=by_unit,
        comparison=comparison,
        claim=level,
        sensitivity=sensitivity,
        secondary=secondary_outcomes(log, design, by_batch, chosen, STAGES, fair_minimum()),
        small=_small(design, by_unit),
        tipping=_tipping(design, by_unit, comparison),
        remarks=(
            *_remarks(
                log,
                design,
                by_unit,
                by_batch,
                chosen,
                comparison,
                sensitivity,
                level,
                earlier_looks,
            ),
            *_tipping_counts(log, design, chosen, by_unit, comparison),
            *what_would_erase_it(log, design, by_batch, chosen, comparison),
        ),
    )


def _remarks(
    log: Logbook,
    design: Design,
    by_unit: pd.DataFrame,
    by_batch: dict[str, BatchSurvival],
    chosen: JudgingDay,
    comparison: Comparison | None,
    sensitivity: pd.DataFrame,
    level: Claim,
    earlier_looks: int,
) -> Iterator[Remark]:
    """Yield every remark that the log and the result call for, most important first."""
    if comparison is not None:
        yield from about_the_claim(design, comparison, level)
    yield from design.remarks
    yield from about_the_day(log, design, chosen)
    yield from about_the_looks(log, design, chosen, earlier_looks)
    yield from _about_the_counts(by_unit, by_batch, comparison, sensitivity)
    if comparison is None:
        yield Remark(code="nothing_to_compare", values={"n": len(by_unit)})


def _about_the_counts(
    by_unit: pd.DataFrame,
    by_batch: dict[str, BatchSurvival],
    comparison: Comparison | None,
    sensitivity: pd.DataFrame,
) -> Iterator[Remark]:
    """Yield what the counts leave open: unknown starts, no last count, missing fish, ranges."""
    unknown = sorted(b for b, s in by_batch.items() if not s.start_known)
    if unknown:
        yield Remark(code="start_unknown", values={"batches": unknown})
    unseen = sorted(b for b, s in by_batch.items() if not s.final_count)
    if unseen:
        yield Remark(code="no_final_count", values={"batches": unseen})
    silent = sorted(b for b, s in by_batch.items() if not s.dead_recorded)
    if silent:
        yield Remark(code="dead_not_recorded", values={"batches": silent})
    missing = float(by_unit["missing"].sum())
    if missing >= 0.5 and by_unit["dead_recorded"].any():
        yield Remark(
            code="missing_fish",
            values={"missing": missing, "start": float(by_unit["start_best"].sum())},
        )
    ranged = (by_unit["start_high"] > by_unit["start_low"]).any()
    if ranged and comparison is not None:
        against = LEANS_USUAL if comparison.estimate > 0 else LEANS_TESTED
        lean = float(sensitivity.set_index("way").at[against, "difference"])
        yield Remark(
            code="count_ranges", variant="holds" if lean * comparison.estimate > 0 else "turns"
        )
    ill = sum(s.removed_ill for s in by_batch.values())
    if ill >= 0.5:
        yield Remark(code="ill_removed", values={"n_ill": ill})


MOST_TOLD = 3  # units of which the tipping count is told


def _tipping_counts(
    log: Logbook,
    design: Design,
    chosen: JudgingDay,
    by_unit: pd.DataFrame,
    comparison: Comparison | None,
) -> Iterator[Remark]:
    """Yield how many fish of an uncounted unit must be alive for the verdict as counted to hold."""
    if comparison is None or not comparison.readings or not comparison.readings[0].settled:
        return
    better = "better" if comparison.estimate > 0 else "worse"
    values = by_unit.set_index("unit")["survival"]
    lines = lines_of(log, design.compare)
    batches = design.units.set_index("unit")["batches"]
    loose = by_unit.loc[by_unit["grade"].isin(["stopped", "not_counted"]), "unit"]
    for unit in list(loose)[:MOST_TOLD]:

        def holds(share: float, unit: str = unit) -> bool:
            c = compare_units(design, values.where(values.index != unit, share))
            return c.settled and c.estimate * comparison.estimate > 0

        found = tipping(judge_unit([lines[b] for b in batches[unit]], chosen.day), holds)
        if found is not None and found.at_least:
            yield Remark(
                code="tipping_count",
                values={
                    "unit": unit,
                    "count": found.count,
                    "possible": found.possible,
                    "tested": design.tested,
                    "better": better,
                },
            )


def _small(design: Design, by_unit: pd.DataFrame) -> TooFew | None:
    if design.tier not in ("one", "few"):
        return None
    table = by_unit.set_index("unit")
    return too_few(design, table["survival"], fish=table["start_best"], most=1.0)


def _tipping(
    design: Design, by_unit: pd.DataFrame, comparison: Comparison | None
) -> dict[str, float]:
    """One unit a method: how unlike two tubs must be for the difference to mean nothing."""
    if comparison is None or design.tier != "one" or len(by_unit) != 2:
        return {}
    arms = by_unit.sort_values("tested")
    sd, icc = tipping_icc(
        *(
            float(x)
            for row in arms.itertuples(index=False)
            for x in (row.survival, max(row.start_best, 1.0))
        )
    )
    return {"sd": float(sd), "icc": float(icc)}
