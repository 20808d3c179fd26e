"""One growth curve for all containers, chosen by how well it does over all of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rearkit.errors import FitError
from rearkit.stats.growth.curve_fit import GrowthFit, fit_many
from rearkit.stats.growth.curves import CURVES, LEVELLING_OFF, PLAIN
from rearkit.stats.growth.daily_means import DailyMeans


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


def choose_curve(data: Sequence[DailyMeans], *, asymptote: float | None = None) -> CurveChoice:
    """Fit every curve to every container and choose one by the summed AICc.

    Parameters
    ----------
    data : sequence of DailyMeans
        One a container.
    asymptote : float, optional
        A final length to hold; then only the curves that level off are fitted.

    Returns
    -------
    CurveChoice

    Raises
    ------
    FitError
        If no container was measured on two days, or the asymptote is not above 0.

    Notes
    -----
    Sums are compared over the same containers: those that grow and have measurements enough for
    the AICc of every curve. If there is none, the curves with most parameters are left out and
    the rest compared; if even that is impossible, the simplest curve is taken: that with fewest
    parameters, of plain lengths first. It also wins where sums are equal but for rounding, as
    they are where every curve passes through all means. A curve that did not converge in a
    compared container is not eligible. One curve is used for all, as choosing one a container
    would add its own error to their spread.

    References
    ----------
    Hurvich, C. M. and Tsai, C.-L. (1989). Regression and time series model selection in small
    samples. Biometrika 76, 297-307.
    """
    if not any(series.n_days > 1 for series in data):
        raise FitError(
            "No container was measured on two different days, so growth cannot be seen",
            todo="Measure the same container again a week later.",
        )
    curves = tuple(CURVES) if asymptote is None else LEVELLING_OFF
    fits = {curve: fit_many(curve, data, asymptote=asymptote) for curve in curves}
    simplicity = {
        curve: (len(CURVES[curve].parameters), CURVES[curve].scale is not PLAIN) for curve in curves
    }
    for most in sorted({n_params for n_params, _ in simplicity.values()}, reverse=True):
        eligible = [curve for curve in curves if simplicity[curve][0] <= most]
        compared = _comparable([fits[curve] for curve in eligible])
        total = dict.fromkeys(curves, float("inf"))
        total |= {curve: _total(fits[curve], compared) for curve in eligible if compared}
        best = min(eligible, key=lambda curve: (round(total[curve], 6), *simplicity[curve]))
        if np.isfinite(total[best]):
            return CurveChoice(
                curve=best, by="aicc", total_aicc=total, fits=fits, compared=compared
            )
    return CurveChoice(
        curve=min(curves, key=lambda curve: simplicity[curve]),
        by="fewest_parameters",
        total_aicc=dict.fromkeys(curves, float("inf")),
        fits=fits,
        compared=(),
    )


def _comparable(fits: Sequence[Sequence[GrowthFit]]) -> tuple[int, ...]:
    """Give the containers in which the AICc of every curve exists."""
    rows = zip(*fits, strict=True)
    return tuple(row for row, each in enumerate(rows) if all(np.isfinite(f.aicc) for f in each))


def _total(fits: Sequence[GrowthFit], compared: Sequence[int]) -> float:
    """Add up the criterion, infinite if one of the fits did not settle."""
    return sum(fits[row].aicc if fits[row].converged else float("inf") for row in compared)
