"""The growth answer as plain numbers, one name a number."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rearkit.design.comparison import Comparison

if TYPE_CHECKING:
    from rearkit.answers.growth.answer import GrowthAnswer


def growth_facts(answer: GrowthAnswer) -> dict[str, Any]:
    """Return every number of a growth answer, full precision."""
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
    if answer.interim:  # no verdict before the planned day
        facts |= dict.fromkeys([k for k in facts if k.startswith("p_") and k != "p_min"])
    facts |= _survivor_facts(answer)
    facts |= answer.extras.facts() | answer.warmth.facts()
    facts["spread"] = answer.measured.spread_table().to_dict("records")
    facts["by_container"] = answer.by_container.drop(columns="tested").to_dict("records")
    facts["by_unit"] = answer.by_unit.drop(columns="tested").to_dict("records")
    facts["by_method"] = answer.by_method.to_dict("records")
    return facts


def _comparison_facts(c: Comparison | None) -> dict[str, Any]:
    facts: dict[str, Any] = {
        "length_usual": None if c is None else c.mean_usual,
        "length_tested": None if c is None else c.mean_tested,
        "difference": None if c is None else c.estimate,
        "conf_low": None if c is None else c.conf_low,
        "conf_high": None if c is None else c.conf_high,
        "interval_method": None if c is None else c.interval_method,
        "p_value": None if c is None else c.p_value,
        "p_method": None if c is None else c.p_method,
    }
    if c is not None and c.permutation is not None:
        facts["p_permutation"] = c.permutation.p_value
    if c is not None and c.t is not None:
        facts |= {"t_conf_low": c.t.conf_low, "t_conf_high": c.t.conf_high, "t_df": c.t.df}
        if c.tier != "pattern":
            facts["p_t"] = c.t.p_value
    if c is not None and c.welch is not None:
        facts |= {"p_welch": c.welch.p_value, "welch_df": c.welch.df}
    return facts


def _survivor_facts(answer: GrowthAnswer) -> dict[str, Any]:
    """Return survival beside growth, and what the loss of the smallest alone could do."""
    chosen = answer.beside.chosen
    facts: dict[str, Any] = {
        "survival_day": None if chosen is None else chosen.day,
        "survival_landmark": None if chosen is None else chosen.landmark,
    }
    names = ("survival_usual", "survival_tested", "runts_lost_low", "runts_lost_high")
    facts |= dict.fromkeys(names)
    if answer.comparison is None:
        return facts
    arms = answer.by_method.set_index("tested")
    return facts | {
        "survival_usual": float(arms.at[False, "survival"]),
        "survival_tested": float(arms.at[True, "survival"]),
        "runts_lost_low": -float(arms.at[False, "runts_lost_mm"]),
        "runts_lost_high": float(arms.at[True, "runts_lost_mm"]),
    }
