"""One method against the usual one: all that was found, and its numbers laid flat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from rearkit.answers.methods.lesson import Lesson
from rearkit.answers.methods.outcomes import Measured, Outcome
from rearkit.answers.methods.sensitivity import Margin, Trap
from rearkit.design.claims import Claim
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay


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


def contrast_facts(c: Contrast) -> dict[str, Any]:
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
