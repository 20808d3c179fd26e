"""What must be said beside a comparison of methods: the layout, the looking, the outcomes."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from rearkit.answers.methods.outcomes import Measured, Outcome
from rearkit.batch.remark import Remark
from rearkit.design.claims import Claim
from rearkit.design.design import Design
from rearkit.design.downgrades import plan_is_late
from rearkit.design.judging_day import JudgingDay
from rearkit.design.layout_remarks import about_the_claim, about_the_day
from rearkit.logbook.logbook import Logbook

UNEQUAL_LOOKING = 1.5  # one method was looked at this many times as often as the other


def margin_is_early(log: Logbook) -> bool:
    """Whether the plan, with the smallest useful difference in it, was written before the start."""
    return log.trial.get("plan_written_on") is not None and not plan_is_late(log)


def remarks_of(
    log: Logbook,
    design: Design,
    chosen: JudgingDay,
    measured: Measured,
    outcomes: tuple[Outcome, ...],
    level: Claim,
    sensitivity: pd.DataFrame,
) -> Iterator[Remark]:
    """Yield every remark that one comparison calls for, most important first."""
    main = outcomes[0]
    if main.comparison is None:
        yield Remark(
            code="main_not_measured", values={"outcome": main.name, "tested": design.tested}
        )
    else:
        yield from about_the_claim(design, main.comparison, level, measured.survival)
    yield from design.remarks
    yield from about_the_day(log, design, chosen)
    yield from _about_looking(log, design, chosen)
    yield from _about_the_missing(measured.survival)
    yield from _about_the_margin(log, main)
    yield from _about_other_outcomes(measured, outcomes, chosen)
    yield from _about_sensitivity(sensitivity, design)


def _about_looking(log: Logbook, design: Design, chosen: JudgingDay) -> Iterator[Remark]:
    """Yield how unlike the methods were looked at, and that fry lost before are unseen."""
    gaps = {}
    for arm, units in design.units.groupby("tested"):
        batches = [b for bs in units["batches"] for b in bs]
        f = log.fates[log.fates["batch"].isin(batches)]
        f = f[(f["age_to"] > chosen.landmark) & (f["age_from"] < chosen.day)]
        gaps[bool(arm)] = float((f["age_to"] - f["age_from"]).sum() / max(len(f), 1))
    if min(gaps.values()) > 0 and max(gaps.values()) / min(gaps.values()) >= UNEQUAL_LOOKING:
        yield Remark(
            code="unequal_looking",
            values={
                "usual": design.usual,
                "tested": design.tested,
                "days_usual": gaps[False],
                "days_tested": gaps[True],
            },
        )
    late = [b for b, a in chosen.firsts.items() if a > min(chosen.firsts.values())]
    if late:
        yield Remark(code="unseen_before_first", values={"batches": sorted(late)})


def _about_the_missing(by_unit: pd.DataFrame) -> Iterator[Remark]:
    missing = float(by_unit["missing"].sum())
    if missing >= 0.5 and by_unit["dead_recorded"].any():
        start = float((by_unit["start_best"] + by_unit["added"]).sum())
        yield Remark(code="missing_fish", values={"missing": missing, "start": start})


def _about_the_margin(log: Logbook, main: Outcome) -> Iterator[Remark]:
    if main.comparison is None:
        return
    if log.trial.get("smallest_useful_difference") is None:
        yield Remark(code="no_margin")
    elif not margin_is_early(log):
        yield Remark(code="margin_not_before")


def _about_other_outcomes(
    measured: Measured, outcomes: tuple[Outcome, ...], chosen: JudgingDay
) -> Iterator[Remark]:
    if any(o.p_value is not None for o in outcomes if o.role == "adjusted"):
        yield Remark(code="others_adjusted")
    lengths = next(o for o in outcomes if o.name == "length")
    if lengths.comparison is not None:
        yield Remark(code="length_of_survivors")
        if not measured.lengths.on_judging_day:
            yield Remark(
                code="length_on_other_day",
                values={"day": measured.lengths.day, "judged": chosen.day},
            )
        if measured.lengths.long_from == "these fish":
            yield Remark(code="long_enough_chosen", values={"mm": measured.lengths.long_mm})
    for o in outcomes:
        if o.lacking and o.comparison is not None and o.role != "estimate":
            yield Remark(
                code="outcome_lacks_units", values={"outcome": o.name, "units": list(o.lacking)}
            )
    if measured.minutes.hollow:
        yield Remark(code="too_few_survivors", values={"units": list(measured.minutes.hollow)})


def _about_sensitivity(table: pd.DataFrame, design: Design) -> Iterator[Remark]:
    """Yield which other ways of looking turn the difference round or change whether it is clear."""
    if table.empty:
        return
    base = table.iloc[0]
    others = table.iloc[1:]
    turned = others[np.sign(others["difference"]) * np.sign(base["difference"]) < 0]
    if len(turned):
        names = design.usual, design.tested
        ways = [(kind, what, *names) for kind, what in turned[["kind", "what"]].to_numpy()]
        yield Remark(code="sign_turns", values={"ways": ways})
    known = others[others["p_value"].notna()]
    if pd.notna(base["p_value"]):
        other = known[(known["p_value"] <= 0.05) != (base["p_value"] <= 0.05)]
        single = list(other.loc[other["kind"] == "without", "what"])
        if single:
            variant = "clear" if base["p_value"] <= 0.05 else "open"
            yield Remark(code="hangs_on_one", values={"left_out": single}, variant=variant)
