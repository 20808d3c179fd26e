"""What must be said beside a comparison of methods: the layout, the looking, the outcomes."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from rearkit.answers.methods.outcomes import Outcome
from rearkit.batch.remark import Remark
from rearkit.design.design import Design
from rearkit.design.downgrades import plan_is_late
from rearkit.design.judging_day import JudgingDay
from rearkit.design.layout_remarks import about_the_claim, about_the_day, about_the_looks
from rearkit.logbook.logbook import Logbook

if TYPE_CHECKING:
    from rearkit.answers.methods.answer import Contrast

UNEQUAL_LOOKING = 1.5  # one method was looked at this many times as often as the other


def margin_is_early(log: Logbook) -> bool:
    """Whether the plan, with the smallest useful difference in it, was written before the start."""
    return log.trial.get("plan_written_on") is not None and not plan_is_late(log)


def remarks_of(
    log: Logbook,
    whole: Design,
    contrasts: tuple[Contrast, ...],
    impossible: Collection[str],
    *,
    main: str,
    declared: bool,
    earlier_looks: int,
) -> tuple[Remark, ...]:
    """Return every remark that the answer calls for, most important first, none twice.

    Parameters
    ----------
    log, whole
        The log and its layout.
    contrasts : tuple of Contrast
        The comparisons, the tested method first.
    impossible : collection of str
        Methods that cannot be compared.
    main : str
        The main outcome.
    declared : bool
        Whether the Trial sheet names it.
    earlier_looks : int
        Looks at the result before this one.
    """
    said: list[Remark] = []
    if not contrasts and whole.tested is None:
        which = [r for r in whole.remarks if r.code == "which_methods"]
        said += which or [Remark(code="nothing_to_compare", values={"n": len(whole.units)})]
    said += [r for r in whole.remarks if r.code == "usual_assumed"]
    if len(contrasts) > 1:
        names = [str(c.design.tested) for c in contrasts]
        said.append(Remark(code="several_methods", values={"methods": names, "usual": whole.usual}))
    if impossible:
        said.append(Remark(code="methods_impossible", values={"methods": sorted(impossible)}))
    if contrasts and not declared:
        said.append(Remark(code="main_not_declared", values={"outcome": main}))
    for c in contrasts:
        said += _about_one(log, c)
        said += about_the_looks(log, c.design, c.day, earlier_looks)
    unique = {(r.code, str(r.values)): r for r in said if r.code != "other_method"}
    return tuple(unique.values())


def _about_one(log: Logbook, c: Contrast) -> Iterator[Remark]:
    if c.main.comparison is None:
        yield Remark(
            code="main_not_measured", values={"outcome": c.main.name, "tested": c.design.tested}
        )
    else:
        yield from about_the_claim(c.design, c.main.comparison, c.claim)
    yield from c.design.remarks
    yield from about_the_day(log, c.design, c.day)
    yield from _about_looking(log, c.design, c.day)
    yield from _about_the_missing(c.measured.survival)
    yield from _about_the_margin(log, c.main)
    yield from _about_other_outcomes(c)
    yield from _about_sensitivity(c)


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


def _about_other_outcomes(c: Contrast) -> Iterator[Remark]:
    measured = c.measured
    if any(o.p_value is not None for o in c.outcomes if o.role == "adjusted"):
        yield Remark(code="others_adjusted")
    if c.outcome("length").comparison is not None:
        yield Remark(code="length_of_survivors")
        if not measured.lengths.on_judging_day:
            yield Remark(
                code="length_on_other_day",
                values={"day": measured.lengths.day, "judged": c.day.day},
            )
        if measured.lengths.extrapolated:
            units = {"day": measured.lengths.day, "units": measured.lengths.extrapolated}
            yield Remark(code="length_extrapolated", values=units)
        if measured.lengths.long_from == "these fish":
            yield Remark(code="long_enough_chosen", values={"mm": measured.lengths.long_mm})
    for o in c.outcomes:
        if o.lacking and o.comparison is not None and o.role != "estimate":
            yield Remark(
                code="outcome_lacks_units", values={"outcome": o.name, "units": list(o.lacking)}
            )
    if measured.minutes.hollow:
        yield Remark(code="too_few_survivors", values={"units": list(measured.minutes.hollow)})


def _about_sensitivity(c: Contrast) -> Iterator[Remark]:
    """Yield which other ways of looking turn the difference round or change whether it is clear."""
    if c.sensitivity.empty:
        return
    base, others = c.sensitivity.iloc[0], c.sensitivity.iloc[1:]
    turned = others[np.sign(others["difference"]) * np.sign(base["difference"]) < 0]
    if len(turned):
        names = c.design.usual, c.design.tested
        ways = [(look, *names) for look in turned.itertuples(index=False)]
        yield Remark(code="sign_turns", values={"ways": ways})
    if pd.notna(base["p_value"]):
        known = others[others["p_value"].notna() & (others["kind"] == "without")]
        single = known.loc[(known["p_value"] <= 0.05) != (base["p_value"] <= 0.05), "units"]
        if len(single):
            variant = "clear" if base["p_value"] <= 0.05 else "open"
            values = {"left_out": list(single)}
            yield Remark(code="hangs_on_one", values=values, variant=variant)
