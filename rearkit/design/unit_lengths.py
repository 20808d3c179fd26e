"""Lengths of every unit on one day, with the survival they stand beside: one source for all."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from rearkit.batch.fates import fates_of, lines_of
from rearkit.batch.growth import ContainerCurves, ContainerGrowth, grow_containers
from rearkit.batch.lengths import MeasuredLengths, measured_lengths
from rearkit.batch.remark import Remark
from rearkit.batch.survival import BatchSurvival
from rearkit.design.comparison import Comparison
from rearkit.design.design import Design, find_design
from rearkit.design.judging_day import JudgingDay, choose_day
from rearkit.design.unit_survival import follow_batches, follow_lines
from rearkit.design.ways import weigh_outcome, weigh_survival
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook
from rearkit.stats.growth.size_spread import share_at_least

FRY = 20.0  # joint outcomes are told per so many fry started
NOTHING = float("nan")
OUTCOMES = ("length", "length_cv", "long_enough")


@dataclass(frozen=True, kw_only=True, eq=False)
class LengthDay:
    """The day on which lengths are compared.

    Attributes
    ----------
    day : float or None
        Age in days; None if nothing was measured.
    declared : bool
        Whether it was written in the Trial sheet or asked for.
    wanted : float or None
        The declared day, where no container was measured that late.
    """

    day: float | None
    declared: bool
    wanted: float | None


@dataclass(frozen=True, kw_only=True, eq=False)
class BesideGrowth:
    """Survival of every line that started, those that died out included.

    Attributes
    ----------
    chosen : JudgingDay or None
        The day of the lengths, as survival is judged on it; None if it cannot be followed to it.
    by_batch : dict of BatchSurvival
        Every line that was ever counted.
    """

    chosen: JudgingDay | None
    by_batch: dict[str, BatchSurvival]

    def survival(self, batch: str) -> float:
        """Give the share alive on the day; nan if the line was never counted."""
        return self.by_batch[batch].survival if batch in self.by_batch else NOTHING

    @property
    def at_best(self) -> bool:
        """Whether some line was not counted on the day, so that no more than this were alive."""
        return any(not (s.final_count and s.start_known) for s in self.by_batch.values())

    def curves(self) -> dict[str, pd.DataFrame]:
        """Return the survival curve of every line."""
        return {b: s.curve for b, s in self.by_batch.items()}


@dataclass(frozen=True, kw_only=True, eq=False)
class UnitLengths:
    """Lengths of the units of a design on one day, compared once: every page shows these.

    Attributes
    ----------
    when : LengthDay
        The day.
    on_judging_day : bool
        Whether it is the day on which survival is judged.
    interim : bool
        Whether the trial still runs, or is looked at before its day.
    long_mm : float or None
        The length that counts as long enough: asked for, else the size to move, else one that
        these fish come to.
    long_from : str
        ``"asked"``, ``"trial"``, ``"these fish"`` or ``"none"``.
    measured : MeasuredLengths
        What was measured.
    curves : ContainerCurves
        The curve of every line.
    beside : BesideGrowth
        Survival to the same day.
    by_line : DataFrame
        ``line``, ``unit``, ``length`` (the measured mean on a day that was measured, else by the
        curve), ``joined`` (by joined means), ``extrapolated``, ``length_cv`` (on the sampled day
        nearest), ``survival``, ``long_enough`` (of 20 fry, alive on the day and so long).
    by_unit : DataFrame
        The means over the lines of every unit that have a value.
    designs : dict of Design
        The layout of the units that have each outcome.
    comparisons : dict of Comparison or None
        Tested − usual, by the name of their column, held against the readings that change the
        units; None with one method.
    survival : Comparison or None
        Survival to the judging day, held against its own readings.
    """

    when: LengthDay
    on_judging_day: bool
    interim: bool
    long_mm: float | None
    long_from: str
    measured: MeasuredLengths
    curves: ContainerCurves
    beside: BesideGrowth
    by_line: pd.DataFrame
    by_unit: pd.DataFrame
    designs: dict[str, Design]
    comparisons: dict[str, Comparison | None]
    survival: Comparison | None

    @property
    def day(self) -> float | None:
        """The day on which lengths are compared."""
        return self.when.day

    @property
    def remarks(self) -> tuple[Remark, ...]:
        """What was done to the rows."""
        return self.measured.remarks

    @property
    def extrapolated(self) -> list[str]:
        """Units whose compared length lies outside the sampled days of a container."""
        inside = set(self.designs["length"].units["unit"])
        rows = self.by_unit[self.by_unit["extrapolated"]]
        return [u for u in rows["unit"] if u in inside]


def unit_lengths(
    log: Logbook,
    design: Design,
    *,
    day: float | None,
    seed: int,
    length_mm: float | None = None,
    curve: str | None = None,
    adult_length_mm: float | None = None,
) -> UnitLengths:
    """Give the length of every unit on one day, and compare it between the methods.

    Parameters
    ----------
    log : Logbook
        The log.
    design : Design
        The layout with every unit that started.
    day : float or None
        A day asked for; else ``judged_on_day`` if any container was measured that late; else the
        latest sampled day on which most containers can be compared.
    seed : int
        Seeds the intervals of single containers.
    length_mm : float, optional
        The length that counts as long enough.
    curve, adult_length_mm
        As for ``grow_containers``.

    Returns
    -------
    UnitLengths
        A unit without lengths has nan; a unit all of whose fish died has no length and no fry
        that are long enough.
    """
    lines = lines_of(log, design.compare)
    names = [b for bs in design.units["batches"] for b in bs]
    measured = measured_lengths(log, names, lines=lines)
    curves = grow_containers(measured, curve=curve, adult_length_mm=adult_length_mm)
    grown = [curves.containers[b] for b in names if b in curves.containers]
    when = length_day(log, grown, day)
    judged = _judging_day(log, design, day)
    beside = survival_beside(log, design, judged, when.day, seed)
    long_mm, source = long_enough_mm(log, grown, length_mm)
    by_line = _by_line(_lines_of_units(design), curves, measured, beside, when.day)
    if long_mm is None and by_line["length"].notna().any():
        long_mm = round(2.0 * float(by_line["length"].mean())) / 2.0
    by_line["long_enough"] = [_joint(row, long_mm) for row in by_line.to_dict("records")]
    others = _left_out(log, design, curves, beside, when.day, seed)
    others["long_enough"] = [_joint(row, long_mm) for row in others.to_dict("records")]
    values = by_line.set_index("line")[list(OUTCOMES)].astype(float)
    more = others.set_index("line")[list(OUTCOMES)].astype(float)
    values = pd.concat([values, more]) if len(more) else values
    designs = {name: _having(design, by_line, name) for name in OUTCOMES}
    compared = {name: _compared(log, kept, judged, values[name]) for name, kept in designs.items()}
    the_day = judged.day if judged is not None else None
    return UnitLengths(
        when=when,
        on_judging_day=when.day is not None and the_day is not None and when.day == the_day,
        interim=judged is not None and judged.interim and design.tier != "single",
        long_mm=long_mm,
        long_from=source,
        measured=measured,
        curves=curves,
        beside=beside,
        by_line=by_line,
        by_unit=_by_unit(design, by_line),
        designs=designs,
        comparisons=compared,
        survival=_survival(log, design, judged, seed),
    )


def length_day(log: Logbook, grown: Sequence[ContainerGrowth], day: float | None) -> LengthDay:
    """Choose the day on which lengths are compared.

    Returns
    -------
    LengthDay
        The day asked for; else ``judged_on_day`` if any container was measured that late; else
        the latest sampled day on which most containers can be compared.
    """
    if not grown:
        return LengthDay(day=None, declared=day is not None, wanted=day)
    if day is not None and any(c.can_tell(day) for c in grown):
        return LengthDay(day=float(day), declared=True, wanted=None)
    declared = log.trial.get("judged_on_day")
    planned = None if declared is None else float(str(declared))
    if day is None and planned is not None and any(not c.extrapolated(planned) for c in grown):
        return LengthDay(day=planned, declared=True, wanted=None)
    days = sorted({float(d) for c in grown for d in c.data.days})
    latest = max(days, key=lambda d: (sum(not c.extrapolated(d) for c in grown), d))
    return LengthDay(day=latest, declared=False, wanted=day if day is not None else planned)


def long_enough_mm(
    log: Logbook, grown: Sequence[ContainerGrowth], length_mm: float | None
) -> tuple[float | None, str]:
    """Choose the length that counts as long enough, and tell where it is from.

    Returns
    -------
    tuple
        What was asked for; the size to move; the whole millimetre that every container comes to
        within its measured days, if there is one.
    """
    if length_mm is not None:
        return float(length_mm), "asked"
    planned = log.trial.get("size_to_move_mm")
    if planned is not None:
        return float(str(planned)), "trial"
    curved = [c for c in grown if c.fit is not None]
    if not curved:
        return None, "these fish" if grown else "none"
    most = math.floor(min(c.length_at(c.last_day) for c in curved))
    least = max(c.length_at(c.first_day) for c in curved)
    return (float(most) if most >= least and most > 0 else None), "these fish"


def _judging_day(log: Logbook, design: Design, day: float | None) -> JudgingDay | None:
    try:
        return choose_day(log, design, day)
    except DesignError:
        return None


def survival_beside(
    log: Logbook, design: Design, judged: JudgingDay | None, day: float | None, seed: int
) -> BesideGrowth:
    """Follow every line that started to the day on which its fish are measured.

    Parameters
    ----------
    log, design
        The log and its layout.
    judged : JudgingDay or None
        The day on which survival is judged; taken where it is that of the lengths.
    day : float or None
        The day of the lengths; None if nothing was measured.
    seed : int
        Seeds each line's own interval.
    """
    nothing = BesideGrowth(chosen=None, by_batch={})
    if day is None:
        return nothing
    chosen = judged if judged is not None and _is_on(judged, day) else None
    chosen = chosen or _judging_day(log, design, day)
    if chosen is None:
        return nothing
    followed = follow_batches(log, _counted(design, chosen), chosen, seed)
    return BesideGrowth(chosen=chosen, by_batch=followed)


def _is_on(judged: JudgingDay, day: float) -> bool:
    return day in (judged.day, judged.wanted)


def _counted(design: Design, chosen: JudgingDay) -> Design:
    return design.restricted(chosen.reached, reason="never_counted")


def _survival(
    log: Logbook, design: Design, judged: JudgingDay | None, seed: int
) -> Comparison | None:
    if judged is None:
        return None
    kept = _counted(design, judged)
    if kept.tier == "single" or kept.units.empty or kept.units["tested"].nunique() < 2:
        return None
    return weigh_survival(log, kept, judged, follow_batches(log, kept, judged, seed), seed)


def _lines_of_units(design: Design) -> list[tuple[str, str]]:
    return [(u.unit, b) for u in design.units.itertuples(index=False) for b in u.batches]


def _left_out(
    log: Logbook,
    design: Design,
    curves: ContainerCurves,
    beside: BesideGrowth,
    day: float | None,
    seed: int,
) -> pd.DataFrame:
    """Return the lines that a reading may put back, each by a curve of the kind that is used."""
    names: list[tuple[str, str]] = []
    if design.tested is not None:
        whole = find_design(
            log, compare=design.compare, usual=design.usual, tested=design.tested, put_back=True
        )
        known = {b for _, b in _lines_of_units(design)}
        names = [(u, b) for u, b in _lines_of_units(whole) if b not in known]
    lines = lines_of(log, design.compare)
    measured = measured_lengths(log, [b for _, b in names], lines=lines)
    grown = grow_containers(measured, curve=curves.curve)
    followed: dict[str, BatchSurvival] = {}
    if beside.chosen is not None:
        fates = fates_of(log, design.compare)
        can = [b for _, b in names if b in fates]
        followed = follow_lines(log, design.compare, can, beside.chosen, seed)
    return _by_line(names, grown, measured, replace(beside, by_batch=followed), day)


def _by_line(
    lines: Sequence[tuple[str, str]],
    curves: ContainerCurves,
    measured: MeasuredLengths,
    beside: BesideGrowth,
    day: float | None,
) -> pd.DataFrame:
    rows = []
    at = NOTHING if day is None else day
    for unit, line in lines:
        one, survival = curves.containers.get(line), beside.survival(line)
        row: dict[str, object] = {"line": line, "unit": unit, "survival": survival}
        row |= dict.fromkeys(("length", "joined", "length_cv"), NOTHING) | {"extrapolated": False}
        if one is not None and day is not None and survival != 0:  # of none left none is measured
            row |= {
                "length": one.length_at(at),
                "joined": one.joined_at(at),
                "extrapolated": one.extrapolated(at),
                "length_cv": measured.cv_near(line, at),
            }
        rows.append(row)
    columns = ["line", "unit", "length", "joined", "extrapolated", "length_cv", "survival"]
    return pd.DataFrame(rows, columns=columns)


def _joint(row: Mapping[str, float], long_mm: float | None) -> float:
    """Return the fry that are alive and long enough, of 20 that started."""
    if long_mm is None:
        return NOTHING
    if row["survival"] == 0:
        return 0.0
    return FRY * row["survival"] * float(share_at_least(long_mm, row["length"], row["length_cv"]))


def _by_unit(design: Design, by_line: pd.DataFrame) -> pd.DataFrame:
    numbers = by_line.groupby("unit")[["length", "joined", "length_cv", "long_enough"]].mean()
    measured = by_line[by_line["length"].notna()]
    outside = set(measured.loc[measured["extrapolated"], "unit"])
    table = numbers.reindex(design.units["unit"]).reset_index()
    return table.assign(extrapolated=[u in outside for u in table["unit"]])


def _having(design: Design, by_line: pd.DataFrame, name: str) -> Design:
    """Return the layout of the units that have an outcome, and say why the others have not."""
    known = set(by_line.loc[np.isfinite(by_line[name].astype(float)), "line"])
    if name == "length":
        gone = by_line.groupby("unit")["survival"].max() == 0
        design = design.restricted(
            [u for u in design.units["unit"] if not gone[u]], reason="no_fish_left"
        )
    return design.of_lines(known, reason="not_measured" if name == "length" else "no_value")


def _compared(
    log: Logbook, design: Design, judged: JudgingDay | None, values: pd.Series
) -> Comparison | None:
    if design.tier == "single" or design.units.empty or design.units["tested"].nunique() < 2:
        return None
    return weigh_outcome(log, design, judged, values.astype(float))
