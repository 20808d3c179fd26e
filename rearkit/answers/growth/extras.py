"""Beside the main comparison of lengths: other curves, evenness, and one joint outcome."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from rearkit.batch.growth import ContainerCurves
from rearkit.design.comparison import Comparison, arm_means, compare_units
from rearkit.design.design import Design
from rearkit.stats.growth.curves import CURVES

JOINED = "joined daily means"


@dataclass(frozen=True, kw_only=True, eq=False)
class GrowthExtras:
    """Secondary outcomes on the same units: estimates, never further verdicts.

    Attributes
    ----------
    by_curve : DataFrame
        ``curve``, ``total_aicc``, ``length`` (mean of units) and, with two methods,
        ``length_usual``, ``length_tested``, ``difference``; the last row joins the daily means.
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


def growth_extras(
    design: Design, compared: Design, curves: ContainerCurves, by_unit: pd.DataFrame, day: float
) -> GrowthExtras:
    """Compute what stands beside the comparison of lengths.

    Parameters
    ----------
    design : Design
        The layout with every unit.
    compared : Design
        The layout of the units that have a length.
    curves : ContainerCurves
        The curves of all containers.
    by_unit : DataFrame
        One row a unit.
    day : float
        The day of the lengths.

    Returns
    -------
    GrowthExtras
        Comparisons are None where nothing is compared.
    """
    return GrowthExtras(
        by_curve=_by_curve(compared, curves, day),
        cv=compare_known(design, by_unit, "cv"),
        long_enough=compare_known(design, by_unit, "long_enough_of_20"),
    )


def compare_known(design: Design, by_unit: pd.DataFrame, name: str) -> Comparison | None:
    """Compare one column of the units that have it; None where fewer than two methods remain."""
    values = by_unit.set_index("unit")[name].astype(float)
    known = values[np.isfinite(values)]
    kept = design.restricted(known.index, reason="no_value")
    if kept.tier == "single" or kept.units["tested"].nunique() < 2:
        return None
    return compare_units(kept, known)


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
