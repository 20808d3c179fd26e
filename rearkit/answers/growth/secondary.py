"""Secondary outcomes: other curves, evenness, growth and survival as one, warmth and weight."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from rearkit.batch.growth import ContainerCurves
from rearkit.design.comparison import Comparison, arm_means
from rearkit.design.design import Design
from rearkit.design.unit_lengths import UnitLengths
from rearkit.logbook.logbook import Logbook
from rearkit.stats.growth.curves import CURVES
from rearkit.stats.growth.growth_rates import (
    LengthWeight,
    degree_days,
    fit_length_weight,
    geometric_mean,
    thermal_growth_coefficient,
)

JOINED = "joined_means"  # beside the curves: the length read off the joined daily means
LEAST_DAYS = 3.0  # a shorter stretch of temperatures says nothing of growth
MG_PER_G = 1000.0
WARMTH_COLUMNS = (
    "batch",
    "from_day",
    "to_day",
    "n_readings",
    "mean_temp_c",
    "degree_days",
    "mm_per_degree_day",
    "weight_from_day",
    "weight_to_day",
    "weight_from_mg",
    "weight_to_mg",
    "thermal_growth_coefficient",
)


@dataclass(frozen=True, kw_only=True, eq=False)
class SecondaryOutcomes:
    """Secondary outcomes on the same units: estimates, never further verdicts.

    Attributes
    ----------
    by_curve : DataFrame
        ``curve``, ``total_aicc``, ``length`` (mean of units) and, with two methods,
        ``length_usual``, ``length_tested``, ``difference``; the last row (``joined_means``) joins
        the daily means.
    cv : Comparison or None
        Difference of the CV of lengths.
    long_enough : Comparison or None
        Difference of the fry of at least the wanted length per 20 started.
    """

    by_curve: pd.DataFrame
    cv: Comparison | None
    long_enough: Comparison | None

    def facts(self) -> dict[str, Any]:
        """Return the numbers, flat."""
        facts: dict[str, Any] = {}
        for name, c in (("cv", self.cv), ("long_enough_of_20", self.long_enough)):
            facts |= {
                f"{name}_usual": None if c is None else c.mean_usual,
                f"{name}_tested": None if c is None else c.mean_tested,
                f"{name}_difference": None if c is None else c.estimate,
                f"{name}_conf_low": None if c is None else c.conf_low,
                f"{name}_conf_high": None if c is None else c.conf_high,
            }
        facts["by_curve"] = self.by_curve.to_dict("records")
        return facts


def secondary_outcomes(lengths: UnitLengths) -> SecondaryOutcomes:
    """Compute what stands beside the comparison of lengths.

    Parameters
    ----------
    lengths : UnitLengths
        The lengths, evenness and joint outcome, as every page shows them.

    Returns
    -------
    SecondaryOutcomes
        Comparisons are None where nothing is compared.
    """
    day = np.nan if lengths.day is None else lengths.day
    return SecondaryOutcomes(
        by_curve=_by_curve(lengths.designs["length"], lengths.curves, day),
        cv=lengths.comparisons["length_cv"],
        long_enough=lengths.comparisons["long_enough"],
    )


def _by_curve(design: Design, curves: ContainerCurves, day: float) -> pd.DataFrame:
    """Return the lengths on the day under every kind of curve, and by joining the means."""
    rows = []
    for name in [c for c in CURVES if c in curves.fits]:
        fits = curves.fits[name]
        lengths = {b: float(f.length_at(day)) for b, f in fits.items()}
        rows.append(_row(design, name, curves.total_aicc.get(name), lengths))
    joined = {b: c.joined_at(day) for b, c in curves.containers.items()}
    rows.append(_row(design, JOINED, None, joined))
    return pd.DataFrame(rows)


def _row(
    design: Design, name: str, criterion: float | None, lengths: Mapping[str, float]
) -> dict[str, Any]:
    """Return one way of reading the length; blank where a unit cannot be read so."""
    values = {
        u.unit: float(
            np.mean([lengths.get(b, np.nan) for b in u.batches if b in lengths] or np.nan)
        )
        for u in design.units.itertuples(index=False)
    }
    series = pd.Series(values, dtype=float)
    row: dict[str, Any] = {
        "curve": name,
        "total_aicc": np.nan if criterion is None else criterion,
        "n_units": int(np.isfinite(series).sum()),
        "length": float(series.mean()) if len(series) else np.nan,
    }
    if design.tier == "single" or design.units["tested"].nunique() < 2:
        return row
    kept = design.restricted(series[np.isfinite(series)].index, reason="no_value")
    usual = tested = np.nan
    if kept.tier != "single":
        usual, tested = arm_means(kept, series)
    return row | {
        "length_usual": float(usual),
        "length_tested": float(tested),
        "difference": float(tested - usual),
    }


@dataclass(frozen=True, kw_only=True, eq=False)
class Warmth:
    """Growth a degree-day, and how weight goes with length.

    Attributes
    ----------
    zero_growth_c : float
        Temperature above which degrees are counted.
    by_batch : DataFrame
        One row a batch with temperatures; the thermal growth coefficient where fish were weighed
        on two days.
    weighed : bool
        Whether any fish was weighed.
    weight : LengthWeight or None
        The line of log weight on log length over all fish that were measured and weighed.
    n_weighed : int
        How many fish these are.
    weight_by_batch : dict of float
        The exponent in every batch with fish enough.
    weighed_from_mm, weighed_to_mm : float
        The shortest and the longest of the weighed fish.
    """

    zero_growth_c: float
    by_batch: pd.DataFrame
    weighed: bool
    weight: LengthWeight | None
    n_weighed: int
    weight_by_batch: dict[str, float]
    weighed_from_mm: float
    weighed_to_mm: float

    def facts(self) -> dict[str, Any]:
        """Return the numbers, flat."""
        w = self.weight
        return {
            "zero_growth_c": self.zero_growth_c,
            "warmth": self.by_batch.to_dict("records"),
            "n_weighed": self.n_weighed,
            "length_weight_b": None if w is None else w.exponent,
            "length_weight_log_a": None if w is None else w.intercept,
            "length_weight_unusual": None if w is None else w.unusual,
            "length_weight_b_by_batch": self.weight_by_batch,
        }


def growth_and_warmth(
    log: Logbook, batches: Iterable[str], curves: ContainerCurves, *, zero_growth_c: float
) -> Warmth:
    """Set growth against degree-days, and weights against lengths.

    Parameters
    ----------
    log : Logbook
        The log.
    batches : iterable of str
        The batches that are asked about.
    curves : ContainerCurves
        Their curves.
    zero_growth_c : float
        Temperature above which degrees are counted.

    Returns
    -------
    Warmth
        Degree-days run over the sampled days that the temperatures span.

    Notes
    -----
    The thermal growth coefficient takes the geometric mean weights of the first and the last day
    on which fish were weighed, the cube root of grams, and degree-days above 0 °C.
    """
    wanted = list(dict.fromkeys(batches))
    rows = [row for b in wanted if (row := _one_batch(log, b, curves, zero_growth_c)) is not None]
    sizes = log.sizes[log.sizes["batch"].isin(wanted) & log.sizes["weight_mg"].notna()]
    both = sizes[sizes["length_mm"].notna() & (sizes["fish"] == 1)]
    lengths = both["length_mm"]
    return Warmth(
        zero_growth_c=zero_growth_c,
        by_batch=pd.DataFrame(rows, columns=list(WARMTH_COLUMNS)),
        weighed=len(sizes) > 0,
        weight=_line(both),
        n_weighed=len(both),
        weight_by_batch={
            str(b): line.exponent
            for b, fish in both.groupby("batch", sort=False)
            if (line := _line(fish)) is not None
        },
        weighed_from_mm=float(lengths.min()) if len(both) else np.nan,
        weighed_to_mm=float(lengths.max()) if len(both) else np.nan,
    )


def _line(fish: pd.DataFrame) -> LengthWeight | None:
    if len(fish) < 3 or fish["length_mm"].nunique() < 2:
        return None
    return fit_length_weight(
        fish["length_mm"].to_numpy(dtype=float), fish["weight_mg"].to_numpy(dtype=float)
    )


def _one_batch(
    log: Logbook, batch: str, curves: ContainerCurves, zero_growth_c: float
) -> dict[str, Any] | None:
    daily = log.daily[(log.daily["batch"] == batch) & log.daily["temp_c"].notna()]
    container = curves.containers.get(batch)
    if daily.empty or container is None or container.fit is None:
        return None
    days, temps = daily["age_days"].to_numpy(dtype=float), daily["temp_c"].to_numpy(dtype=float)
    first = max(container.first_day, float(days.min()))
    last = min(container.last_day, float(days.max()))
    if last - first < LEAST_DAYS:
        return None
    warmth = degree_days(days, temps, base_c=zero_growth_c, from_day=first, to_day=last)
    plain = degree_days(days, temps, base_c=0.0, from_day=first, to_day=last)
    gain = container.length_at(last) - container.length_at(first)
    row = {
        "batch": batch,
        "from_day": first,
        "to_day": last,
        "n_readings": len(daily),
        "mean_temp_c": plain / (last - first),
        "degree_days": warmth,
        "mm_per_degree_day": gain / warmth if warmth > 0 else np.nan,
    }
    return row | _thermal(log, batch, days, temps)


def _thermal(log: Logbook, batch: str, days: np.ndarray, temps: np.ndarray) -> dict[str, float]:
    """Return the thermal growth coefficient between the first and the last weighing."""
    blank = dict.fromkeys(WARMTH_COLUMNS[7:], float("nan"))
    weighed = log.sizes[(log.sizes["batch"] == batch) & log.sizes["weight_mg"].notna()]
    ages = sorted(weighed["age_days"].unique())
    if len(ages) < 2:
        return blank
    means = [_mean_weight(weighed[weighed["age_days"] == age]) for age in (ages[0], ages[-1])]
    warmth = degree_days(days, temps, base_c=0.0, from_day=ages[0], to_day=ages[-1])
    return {
        "weight_from_day": float(ages[0]),
        "weight_to_day": float(ages[-1]),
        "weight_from_mg": means[0],
        "weight_to_mg": means[1],
        "thermal_growth_coefficient": float(
            thermal_growth_coefficient(means[0] / MG_PER_G, means[1] / MG_PER_G, warmth)
        )
        if warmth > 0
        else float("nan"),
    }


def _mean_weight(rows: pd.DataFrame) -> float:
    return geometric_mean(
        rows["weight_mg"].to_numpy(dtype=float), n_fish=rows["fish"].to_numpy(dtype=float)
    )
