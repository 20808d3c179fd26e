"""One growth curve for all containers, chosen by how well it does over all of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rearkit.errors import FitError
from rearkit.stats.curve_fit import fit_many
from rearkit.stats.curves import CURVES, PARAMETERS, check_curve
from rearkit.stats.daily_means import DailyMeans
from rearkit.stats.growth_fit import GrowthFit


@dataclass(frozen=True, kw_only=True, eq=False)
class CurveChoice:
    """All curves fitted to all containers, and the one that does best.

    Attributes
    ----------
    curve : str
        The chosen curve.
    by : str
        "aicc", or "fewest_parameters" where no container has measurements enough to compare.
    total_aicc : mapping of str to float
        Sum over the compared containers; ``inf`` for a curve that is not eligible.
    fits : mapping of str to list of GrowthFit
        Every curve in every container, in order.
    compared : tuple of int
        Numbers of the containers that were summed over.
    """

    curve: str
    by: str
    total_aicc: Mapping[str, float]
    fits: Mapping[str, list[GrowthFit]]
    compared: tuple[int, ...]


def choose_curve(data: Sequence[DailyMeans], *, curves: Sequence[str] = CURVES) -> CurveChoice:
    """Fit several curves to every container and choose one by the summed AICc.

    Parameters
    ----------
    data : sequence of DailyMeans
        One a container.
    curves : sequence of str
        Curves to try.

    Returns
    -------
    CurveChoice

    Raises
    ------
    FitError
        If no container was measured on two days.

    Notes
    -----
    Sums are compared over the same containers: those that grow and have measurements enough for
    the AICc of every curve. If there is none, the curves with most parameters are left out and
    the rest compared; if even that is impossible, the first curve with fewest parameters is
    taken. A curve that did not converge in a compared container is not eligible. One curve is
    used for all, as choosing one a container would add its own error to their spread.

    References
    ----------
    Hurvich, C. M. and Tsai, C.-L. (1989). Regression and time series model selection in small
    samples. Biometrika 76, 297-307.
    """
    for curve in curves:
        check_curve(curve)
    if not any(series.n_days > 1 for series in data):
        raise FitError(
            "No container was measured on two different days, so growth cannot be seen",
            todo="Measure the same container again a week later.",
        )
    fits = {curve: fit_many(curve, data) for curve in curves}
    most = max(len(PARAMETERS[curve]) for curve in curves)
    fewest = min(len(PARAMETERS[curve]) for curve in curves)
    for n_params in range(most, fewest - 1, -1):
        eligible = [curve for curve in curves if len(PARAMETERS[curve]) <= n_params]
        compared = _comparable([fits[curve] for curve in eligible])
        if compared:
            total = {curve: float("inf") for curve in curves}
            total |= {curve: _total(fits[curve], compared) for curve in eligible}
            best = min(eligible, key=lambda curve: (total[curve], len(PARAMETERS[curve])))
            if np.isfinite(total[best]):
                return CurveChoice(
                    curve=best, by="aicc", total_aicc=total, fits=fits, compared=compared
                )
    simplest = next(curve for curve in curves if len(PARAMETERS[curve]) == fewest)
    none = {curve: float("inf") for curve in curves}
    return CurveChoice(
        curve=simplest, by="fewest_parameters", total_aicc=none, fits=fits, compared=()
    )


def _comparable(fits: Sequence[Sequence[GrowthFit]]) -> tuple[int, ...]:
    """Give the containers in which the AICc of every curve exists."""
    rows = zip(*fits, strict=True)
    return tuple(row for row, each in enumerate(rows) if all(np.isfinite(f.aicc) for f in each))


def _total(fits: Sequence[GrowthFit], compared: Sequence[int]) -> float:
    """Add up the criterion, infinite if one of the fits did not settle."""
    return sum(fits[row].aicc if fits[row].converged else float("inf") for row in compared)
