"""Growth curves fitted to the daily means of many containers at once.

There is one way of fitting, the batched one: tests hold it against scipy's optimiser on every
curve and against certified values, and one series is simply a batch of one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rearkit.errors import FitError
from rearkit.stats.growth.curves import CURVES, Curve, find_curve
from rearkit.stats.growth.daily_means import DailyMeans
from rearkit.stats.growth.fitted_form import (
    Batch,
    Form,
    bounds,
    day_of,
    end_form,
    evaluate,
    expand,
    make_batch,
    starting_values,
    usual_params,
)
from rearkit.stats.growth.least_squares import Solved, solve_many

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

_SINGULAR = 1e-13
_TINY = 1e-300


@dataclass(frozen=True, kw_only=True, eq=False)
class GrowthFit:
    """One curve fitted to one container.

    Attributes
    ----------
    curve : str
        The name of the curve.
    params : tuple of float
        Its usual parameters, in the order of ``CURVES[curve].parameters``; ``inf`` for an
        asymptote that lies at no finite length.
    covariance : ndarray, shape (parameters, parameters)
        Their covariance; 0 for an asymptote that was held, nan at a bound or without degrees of
        freedom. It is that of these fish: between containers use one value a container.
    theta : ndarray, shape (3,)
        The same curve in the scaled form it was fitted in (heights at both ends, shape).
    rss : float
        Sum of squares of the fish about the curve (of the means, each times its fish, where the
        spread within days is not known).
    df : float
        Residual degrees of freedom.
    aicc : float
        Corrected Akaike criterion with the residual variance counted as a parameter; ``inf``
        where there are too few observations to say.
    converged : bool
        Whether the fit settled.
    at_bound : bool
        Whether it settled on a bound (no finite asymptote, a step between two days), or where the
        data do not determine the parameters. Fitted lengths still hold within the sampled days.
    problem : str
        "" or why there is no fit: "too_few_days", "no_growth".
    held_asymptote : float or None
        The asymptote, if it was held.
    data : DailyMeans
        What was fitted.
    """

    curve: str
    params: tuple[float, ...]
    covariance: Floats
    theta: Floats
    rss: float
    df: float
    aicc: float
    converged: bool
    at_bound: bool
    problem: str
    held_asymptote: float | None
    data: DailyMeans

    @property
    def first_day(self) -> float:
        """First sampled day."""
        return float(self.data.days[0])

    @property
    def last_day(self) -> float:
        """Last sampled day."""
        return float(self.data.days[-1])

    @property
    def sigma(self) -> float:
        """Residual standard deviation of one fish, ``sqrt(rss / df)``."""
        return _sigma(self.rss, self.df)

    @property
    def std_error(self) -> Floats:
        """Standard errors of the usual parameters."""
        return np.sqrt(np.diag(self.covariance))

    def length_at(self, day: ArrayLike) -> Floats:
        """Give the fitted length on each day, shaped like ``day``."""
        day = np.asarray(day, dtype=float)
        u = ((day - self.first_day) / (self.last_day - self.first_day)).reshape(1, -1)
        scaled, _ = evaluate(end_form(CURVES[self.curve], 1), self.theta[None, :], u)
        return scaled.reshape(day.shape) * self.data.means.max()

    def day_reached(self, length: ArrayLike) -> Floats:
        """Give the day on which the curve has each length; nan where it never has."""
        length, curve = np.asarray(length, dtype=float), CURVES[self.curve]
        scaled = np.where(length > 0, length, np.nan) / self.data.means.max()
        u = day_of(end_form(curve, 1), self.theta[None, :], curve.scale.height(scaled))
        return self.first_day + u * (self.last_day - self.first_day)


def fit_many(
    curve: str, data: Sequence[DailyMeans], *, asymptote: float | None = None
) -> list[GrowthFit]:
    """Fit one growth curve to each of many containers.

    Parameters
    ----------
    curve : str
        One of :data:`~rearkit.stats.growth.curves.CURVES`, the same for all.
    data : sequence of DailyMeans
        One a container.
    asymptote : float, optional
        A final length to hold, such as the adult length; in all containers.

    Returns
    -------
    list of GrowthFit
        One a container, in order. Where there can be no fit, ``problem`` says why, the numbers
        are nan and ``aicc`` is ``inf``.

    Raises
    ------
    FitError
        If the curve does not exist, or its asymptote cannot be held.

    Notes
    -----
    Least squares on the scale of lengths, each mean weighing as many fish as it stands for.
    ``sigma**2 = (weighted squares of the means about the curve + squares of the fish about their
    means) / (fish - parameters)``, so group means with n and sd give what the fish give.

    References
    ----------
    Bates, D. M. and Watts, D. G. (1988). Nonlinear Regression Analysis and Its Applications.

    Examples
    --------
    >>> from rearkit.stats.growth.daily_means import daily_means
    >>> fit = fit_many("line", [daily_means([0, 10, 20], [5.0, 8.0, 11.0])])[0]
    >>> fit.length_at(15.0).round(6).tolist()
    9.5
    """
    kind = find_curve(curve)
    if asymptote is not None and not (kind.levels_off and asymptote > 0):
        raise FitError(
            f"An asymptote of {asymptote:g} cannot be held in the curve {curve!r}",
            todo="Give one above 0, and a curve that levels off.",
        )
    n_free = len(kind.parameters) - (asymptote is not None)
    problems = [_problem(kind, n_free, series) for series in data]
    good = [series for series, problem in zip(data, problems, strict=True) if not problem]
    fits = iter(_fit_good(kind, good, n_free, asymptote) if good else [])
    return [
        _no_fit(kind, series, problem, asymptote) if problem else next(fits)
        for series, problem in zip(data, problems, strict=True)
    ]


def solve(form: Form, batch: Batch, start: Floats) -> Solved:
    """Fit the free parameters of every series to its means.

    Parameters
    ----------
    form : Form
        The curves and what is held.
    batch : Batch
        The scaled means.
    start : ndarray, shape (series, free)
        First guesses.

    Returns
    -------
    Solved
        Free parameters and scaled, weighted sums of squares.
    """
    root = np.sqrt(batch.weights)

    def residuals(phi: Floats, rows: Rows) -> tuple[Floats, Floats]:
        part = form.rows(rows)
        theta, by_phi = expand(part, phi)
        fitted, by_theta = evaluate(part, theta, batch.u[rows])
        error = (fitted - batch.lengths[rows]) * root[rows]
        return error, (by_theta @ by_phi) * root[rows][..., None]

    lower, upper = bounds(form, batch)
    return solve_many(residuals, start, lower=lower, upper=upper)


def _solve_best(form: Form, batch: Batch, starts: Floats) -> Solved:
    """Fit from several first guesses and keep the best of each series."""
    best = solve(form, batch, starts[0])
    for start in starts[1:]:
        other = solve(form, batch, start)
        better = other.rss < best.rss * (1.0 - 1e-9)
        best = Solved(
            values=np.where(better[:, None], other.values, best.values),
            rss=np.where(better, other.rss, best.rss),
            converged=np.where(better, other.converged, best.converged),
        )
    return best


def _fit_good(
    curve: Curve, data: list[DailyMeans], n_free: int, asymptote: float | None
) -> list[GrowthFit]:
    """Fit series that have days enough."""
    batch = make_batch(data)
    form = end_form(curve, len(data))
    if asymptote is not None:
        top = curve.scale.height(asymptote / batch.scale)
        form = end_form(curve, len(data), hold="asymptote", value=top)
    solved = _solve_best(form, batch, starting_values(form, batch))
    theta, _ = expand(form, solved.values)
    params = usual_params(curve, batch, theta)
    if asymptote is not None:
        params[:, 0] = asymptote
    spread = _spread(curve, batch, params, n_free)
    lower, upper = bounds(form, batch)
    at_bound = np.any((solved.values <= lower) | (solved.values >= upper), axis=-1)
    at_bound |= np.isnan(spread[:, -1, -1])
    spread[at_bound] = np.nan
    spread[:, :-n_free, :] = spread[:, :, :-n_free] = 0.0
    fits = []
    for row, series in enumerate(data):
        df = series.n_days - n_free + series.within_df
        rss = float(solved.rss[row] * batch.scale[row] ** 2 * batch.fish[row] + series.within_ss)
        fits.append(
            GrowthFit(
                curve=curve.name,
                params=tuple(float(value) for value in params[row]),
                covariance=spread[row] * _sigma(rss, df) ** 2,
                theta=theta[row],
                rss=rss,
                df=float(df),
                aicc=_aicc(rss, series, n_free),
                converged=bool(solved.converged[row]),
                at_bound=bool(at_bound[row]),
                problem="",
                held_asymptote=asymptote,
                data=series,
            )
        )
    return fits


def _spread(curve: Curve, batch: Batch, params: Floats, n_free: int) -> Floats:
    """Give the covariance of the usual parameters for a residual variance of one.

    The last ``n_free`` parameters are free, the others were held. nan where the data do not
    determine the parameters.
    """
    usable = np.all(np.isfinite(params), axis=-1)
    columns = np.where(usable[:, None], params, 1.0).T[..., None]
    slopes = curve.slopes(batch.days, list(columns))[..., -n_free:]
    slopes *= np.sqrt(batch.weights * batch.fish[:, None])[..., None]
    size = np.maximum(np.linalg.norm(slopes, axis=-2), _TINY)
    _, values, axes = np.linalg.svd(slopes / size[:, None, :], full_matrices=False)
    usable &= values[:, -1] > _SINGULAR
    values[~usable] = np.nan
    axes = axes / values[..., None] / size[:, None, :]
    spread = np.zeros((len(params), *params.shape[1:] * 2))
    spread[:, -n_free:, -n_free:] = np.swapaxes(axes, -1, -2) @ axes
    return spread


def _sigma(rss: float, df: float) -> float:
    return float(np.sqrt(rss / df)) if df > 0 else float("nan")


def _aicc(rss: float, series: DailyMeans, n_free: int) -> float:
    """Give the corrected criterion of Hurvich and Tsai, inf where it does not exist.

    The observations are the fish where the spread within days is known, the means otherwise.
    A sum of squares that is nothing but rounding counts as rounding.
    """
    n = series.n_days + series.within_df
    counted = n_free + 1
    if n <= counted + 1:
        return float("inf")
    floor = n * (1e-15 * float(series.means.max())) ** 2
    deviance = n * (np.log(2.0 * np.pi * max(rss, floor) / n) + 1.0)
    return float(deviance + 2.0 * counted * n / (n - counted - 1.0))


def _no_fit(curve: Curve, series: DailyMeans, problem: str, asymptote: float | None) -> GrowthFit:
    """Stand in for a fit that cannot be."""
    nan, n_params = float("nan"), len(curve.parameters)
    return GrowthFit(
        curve=curve.name,
        params=(nan,) * n_params,
        covariance=np.full((n_params, n_params), nan),
        theta=np.full(3, nan),
        rss=nan,
        df=nan,
        aicc=float("inf"),
        converged=False,
        at_bound=False,
        problem=problem,
        held_asymptote=asymptote,
        data=series,
    )


def _problem(curve: Curve, n_free: int, series: DailyMeans) -> str:
    """Say why a curve cannot be fitted to a series at all, or nothing."""
    if series.n_days < max(n_free, 2):
        return "too_few_days"
    if curve.levels_off:
        centred = series.days - np.average(series.days, weights=series.n_fish)
        rise = np.sum(series.n_fish * centred * series.means)
        scale = np.sum(series.n_fish * np.abs(centred)) * series.means.max()
        if rise <= 1e-12 * scale:
            return "no_growth"
    return ""
