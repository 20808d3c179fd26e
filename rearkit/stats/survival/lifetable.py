"""Estimate survival from counts of fish at risk and dead, and from single fish."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from rearkit.errors import DesignError
from rearkit.stats.layout import FloatArray
from rearkit.stats.logrank import LogRank, expected_deaths, log_rank
from rearkit.stats.product_limit import (
    effective_n,
    greenwood,
    product_limit,
    read_counts,
    share_dying,
)

__all__ = [
    "LifeCurve",
    "LogRank",
    "SurvivalAt",
    "effective_n",
    "expected_deaths",
    "greenwood",
    "kaplan_meier",
    "log_rank",
    "product_limit",
    "restricted_mean",
    "stage_mortality",
    "survival_at",
]

_ROUNDING = 1e-9


@dataclass(frozen=True, kw_only=True, eq=False)
class SurvivalAt:
    """Report survival to a day that may fall between two looks.

    Attributes
    ----------
    estimate : (...) array
        Deaths of the interval that spans the day shared by days.
    low, high : (...) array
        All of them at its start, and all of them at its end.
    """

    estimate: FloatArray
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class LifeCurve:
    """Report a product-limit curve of single fish at the ages at which any died.

    Attributes
    ----------
    age, at_risk, deaths, survival, std_error : (k,) array
        Standard errors are Greenwood's.
    conf_low, conf_high : (k,) array
        Log-log limits, both 0 where survival is 0. Fish are taken as independent.
    conf_level : float
        Level of the limits.
    """

    age: FloatArray
    at_risk: FloatArray
    deaths: FloatArray
    survival: FloatArray
    std_error: FloatArray
    conf_low: FloatArray
    conf_high: FloatArray
    conf_level: float


def survival_at(
    age_from: ArrayLike, age_to: ArrayLike, at_risk: ArrayLike, deaths: ArrayLike, day: float
) -> SurvivalAt:
    """Estimate survival from the first age of the record to a day.

    Parameters
    ----------
    age_from, age_to : (k,) array
        Ends of the look intervals in days; each starts where the one before ended.
    at_risk, deaths : (..., k) array
        Fish alive at the start of each interval and dead within it; leading axes are draws.
    day : float
        Age in days.

    Returns
    -------
    SurvivalAt
        One value a draw. Where the day is the end of an interval all three agree.

    Raises
    ------
    DesignError
        If the day lies outside the record (a container where all died is known to stay at 0),
        the intervals leave a gap or overlap, or the counts are impossible.
    """
    starts, ends = _intervals(age_from, age_to)
    share = share_dying(*read_counts(at_risk, deaths))
    if day < starts[0] - _ROUNDING:
        raise DesignError(f"Day {day:g} is before the record begins on day {starts[0]:g}")
    over = ends <= day + _ROUNDING
    before = np.prod(1 - share[..., over], axis=-1)
    if over.all():
        if day > ends[-1] + _ROUNDING and (before > 0).any():
            raise DesignError(
                f"Day {day:g} is after the record ends on day {ends[-1]:g} with fish alive"
            )
        return SurvivalAt(estimate=before, low=before, high=before)
    spanning = int(np.argmin(over))
    part = max(0.0, (day - starts[spanning]) / (ends[spanning] - starts[spanning]))
    if part <= _ROUNDING:
        return SurvivalAt(estimate=before, low=before, high=before)
    dying = share[..., spanning]
    return SurvivalAt(estimate=before * (1 - part * dying), low=before * (1 - dying), high=before)


def restricted_mean(
    ages: ArrayLike,
    survival: ArrayLike,
    day: float,
    *,
    shape: Literal["trapezium", "step"] = "trapezium",
) -> FloatArray:
    """Estimate the mean number of days lived up to a day: the area under the curve.

    Parameters
    ----------
    ages : (k,) array
        Ages in days at which survival is known, rising; the first is the start, survival 1.
    survival : (..., k) array
        Survival at these ages; leading axes are draws.
    day : float
        Last day that counts.
    shape : {"trapezium", "step"}
        Joined by straight lines (looks), or holding each value until the next age (exact ages).

    Returns
    -------
    (...) array
        Days, counted from the first age.

    Raises
    ------
    DesignError
        If the day lies outside the ages (unless nobody is left), or the ages do not rise.

    Examples
    --------
    >>> float(restricted_mean([0, 10], [1.0, 0.5], 10))
    7.5
    """
    x, s = np.asarray(ages, dtype=np.float64), np.asarray(survival, dtype=np.float64)
    if x.size == 0 or (np.diff(x) <= 0).any():
        raise DesignError("Ages of a survival curve must rise")
    if day > x[-1] + _ROUNDING and not (s[..., -1] > 0).any():
        x, s = np.append(x, day), np.concatenate((s, s[..., -1:]), axis=-1)
    if not x[0] <= day <= x[-1] + _ROUNDING:
        raise DesignError(f"Day {day:g} is outside the curve, day {x[0]:g} to {x[-1]:g}")
    widths = np.diff(np.minimum(x, day))
    if shape == "step":
        return np.asarray((s[..., :-1] * widths).sum(axis=-1))[()]
    slopes = np.diff(s, axis=-1) / np.diff(x)
    return np.asarray(((s[..., :-1] + slopes * widths / 2) * widths).sum(axis=-1))[()]


def stage_mortality(
    age_from: ArrayLike,
    age_to: ArrayLike,
    at_risk: ArrayLike,
    deaths: ArrayLike,
    edges: ArrayLike,
) -> FloatArray:
    """Estimate the death rate a day, Z = -log(survival) / days, in named stages.

    Parameters
    ----------
    age_from, age_to : (k,) array
        Ends of the look intervals in days.
    at_risk, deaths : (..., k) array
        As in ``survival_at``.
    edges : (m + 1,) array
        Ages in days at which stages begin and end; a last edge of infinity stands for the end
        of the record.

    Returns
    -------
    (..., m) array
        Z of each stage; infinite where all die in it, nan where nobody enters it alive or the
        record does not cover it whole.

    Raises
    ------
    DesignError
        If the edges do not rise, or as in ``survival_at``.
    """
    starts, ends = _intervals(age_from, age_to)
    n, d = read_counts(at_risk, deaths)
    marks = np.asarray(edges, dtype=np.float64)
    if (np.diff(marks) <= 0).any():
        raise DesignError("Edges of stages must rise")
    marks = np.where(np.isinf(marks), max(ends[-1], marks[-2]), marks)
    curve = np.full((*n.shape[:-1], marks.size), np.nan)
    for place, mark in enumerate(marks):
        if starts[0] - _ROUNDING <= mark <= ends[-1] + _ROUNDING:
            curve[..., place] = survival_at(starts, ends, n, d, mark).estimate
    entered = np.where(curve[..., :-1] > 0, curve[..., :-1], np.nan)
    days = np.diff(marks)
    with np.errstate(divide="ignore"):
        rates = np.log(curve[..., 1:] / entered) / np.where(days > 0, days, np.nan)
    return 0.0 - rates


def kaplan_meier(
    durations: ArrayLike,
    died: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    conf_level: float = 0.95,
) -> LifeCurve:
    """Estimate a survival curve from fish whose age at death or at leaving is known.

    Parameters
    ----------
    durations : (n,) array
        Age at death or when last seen, in days.
    died : (n,) bool array
        False for fish that were removed or alive at the end.
    weights : (n,) integer array, optional
        How many fish a row stands for.
    conf_level : float
        Level of the log-log limits.

    Returns
    -------
    LifeCurve
        No rows if nobody died.

    Raises
    ------
    DesignError
        If weights are not whole numbers above zero.

    Notes
    -----
    Limits are S**exp(+-z se / (S log S)): other programs default to other limits, which differ
    by up to six points with twenty fish. They say nothing about containers.
    """
    from lifelines import KaplanMeierFitter

    ages = np.asarray(durations, dtype=np.float64)
    counts = np.ones(ages.size) if weights is None else np.asarray(weights, dtype=np.float64)
    if (counts < 1).any() or (counts != np.round(counts)).any():
        raise DesignError("A row must stand for a whole number of fish")
    fitter = KaplanMeierFitter(alpha=1 - conf_level)
    fitter.fit(ages, event_observed=np.asarray(died, dtype=bool), weights=counts.astype(int))
    table = fitter.event_table
    rows = table["observed"].to_numpy() > 0
    n = table["at_risk"].to_numpy(dtype=np.float64)[rows]
    d = table["observed"].to_numpy(dtype=np.float64)[rows]
    survival, std_error = product_limit(n, d), greenwood(n, d)
    limits = fitter.confidence_interval_.to_numpy()[rows]
    return LifeCurve(
        age=table.index.to_numpy(dtype=np.float64)[rows],
        at_risk=n,
        deaths=d,
        survival=survival,
        std_error=std_error,
        conf_low=limits[:, 0],
        conf_high=limits[:, 1],
        conf_level=conf_level,
    )


def _intervals(age_from: ArrayLike, age_to: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Refuse intervals that run backwards, overlap or leave a gap."""
    starts, ends = np.asarray(age_from, dtype=np.float64), np.asarray(age_to, dtype=np.float64)
    if starts.size == 0 or starts.shape != ends.shape or (ends < starts).any():
        raise DesignError("Look intervals must end after they begin")
    if (np.abs(starts[1:] - ends[:-1]) > _ROUNDING).any():
        raise DesignError("Each look interval must begin where the one before ended")
    return starts, ends
