"""Did more fry live? Survival of two methods to one day, or the fate of every batch."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar

import numpy as np
import pandas as pd

from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook
from rearkit.questions.answer import Answer
from rearkit.questions.batch_survival import BatchSurvival, survive
from rearkit.questions.claims import Claim, claim, fair_minimum
from rearkit.questions.comparison import Comparison, compare_units
from rearkit.questions.design import Design, find_design
from rearkit.questions.judging_day import JudgingDay, choose_day
from rearkit.questions.survival_extras import Extras, secondary_outcomes
from rearkit.questions.survival_remarks import downgrades_of, remarks_of
from rearkit.questions.survival_sensitivity import ways_of_counting, what_would_erase_it
from rearkit.stats.clustering import tipping_icc
from rearkit.stats.unit_t import empirical_logit

STAGES = (0.0, 7.0, 14.0, 28.0)


@dataclass(frozen=True, kw_only=True, eq=False)
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
    extras : Extras
        Stage mortality, hazard ratio, restricted mean, and what a fair trial would need.
    """

    key: ClassVar[str] = "survival"

    design: Design
    day: JudgingDay
    by_batch: dict[str, BatchSurvival]
    by_unit: pd.DataFrame
    comparison: Comparison | None
    claim: Claim
    sensitivity: pd.DataFrame
    extras: Extras
    tipping: dict[str, float] = field(default_factory=dict)

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
        facts |= _comparison_facts(c)
        facts |= self.extras.facts() | {f"tipping_{k}": v for k, v in self.tipping.items()}
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
        if c.tier != "pattern":
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
    design = design.restricted(chosen.reached, reason="not_observed_to_day")
    if design.units.empty:
        raise DesignError(
            f"no unit of either method was observed from age {chosen.landmark:g} to "
            f"{chosen.day:g} days",
            todo="Choose an earlier judging day.",
        )
    by_batch = _follow_batches(log, design, chosen, seed)
    by_unit = _by_unit(design, by_batch)
    comparison = _compare(design, by_unit, by_batch)
    steps = downgrades_of(log, design, by_unit, chosen)
    level = claim(design, steps)
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
        extras=secondary_outcomes(log, design, by_batch, chosen, STAGES, fair_minimum()),
        tipping=_tipping(design, by_unit, comparison),
        remarks=(
            *remarks_of(log, design, by_unit, by_batch, chosen, comparison, sensitivity, level),
            *what_would_erase_it(log, design, by_batch, chosen, comparison),
        ),
    )


def _follow_batches(
    log: Logbook, design: Design, chosen: JudgingDay, seed: int
) -> dict[str, BatchSurvival]:
    accounts = log.account.set_index("batch", drop=False)
    fates = dict(iter(log.fates.groupby("batch", sort=False)))
    seeds = np.random.SeedSequence(seed).generate_state(len(log.batches))
    seed_of = dict(zip(log.batches["batch"], seeds, strict=True))
    return {
        b: survive(
            fates[b],
            accounts.loc[b],
            landmark=chosen.landmark,
            day=chosen.day_of(b),
            seed=int(seed_of[b]),
        )
        for batches in design.units["batches"]
        for b in batches
    }


def _by_unit(design: Design, by_batch: dict[str, BatchSurvival]) -> pd.DataFrame:
    """One row a unit; the batches of one unsplit clutch are added up and their shares averaged."""
    rows = []
    for unit in design.units.itertuples(index=False):
        parts = [by_batch[b] for b in unit.batches]
        draws = np.mean([p.draws for p in parts], axis=0)
        row: dict[str, Any] = {
            "unit": unit.unit,
            "block": unit.block,
            "method": unit.method,
            "tested": unit.tested,
        }
        for name in (
            "start_low",
            "start_best",
            "start_high",
            "added",
            "dead",
            "removed",
            "missing",
        ):
            row[name] = float(sum(getattr(p, name) for p in parts))
        row["alive"] = float(sum(p.alive for p in parts))
        row["survival"] = float(np.mean([p.survival for p in parts]))
        row["survival_low"] = float(np.quantile(draws, 0.025))
        row["survival_high"] = float(np.quantile(draws, 0.975))
        for name in ("look_low", "look_high", "count_low", "count_high"):
            row[name] = float(np.mean([getattr(p, name) for p in parts]))
        row["dead_recorded"] = any(p.dead_recorded for p in parts)
        row["at_best"] = not all(p.start_known and p.final_count for p in parts)
        rows.append(row)
    return pd.DataFrame(rows)


def _compare(
    design: Design, by_unit: pd.DataFrame, by_batch: dict[str, BatchSurvival]
) -> Comparison | None:
    if design.tier == "single":
        return None
    values = by_unit.set_index("unit")["survival"]
    logits = None
    if values.mean() > 0.9 or values.mean() < 0.1:
        logits = pd.Series(
            {
                unit.unit: float(
                    np.mean(
                        [
                            empirical_logit(by_batch[b].logit_alive, by_batch[b].logit_n)
                            for b in unit.batches
                        ]
                    )
                )
                for unit in design.units.itertuples(index=False)
            }
        )
    return compare_units(design, values, test_scale=logits)


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
