"""Growth curves fitted to the daily means of one container, or of many at once.

Notes
-----
There is one way of fitting, the batched one: tests hold it against scipy's optimiser on every
curve and against certified values, and one series is simply a batch of one.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rearkit.errors import FitError
from rearkit.stats.curves import PARAMETERS, check_curve
from rearkit.stats.daily_means import DailyMeans, daily_means
from rearkit.stats.ends_form import SHAPED, Form, expand, free_form, height
from rearkit.stats.fit_batch import Batch, bounds, make_batch, solve_best
from rearkit.stats.growth_fit import GrowthFit, Hold
from rearkit.stats.natural_form import free_part, natural_params, natural_spread, scaled_theta
from rearkit.stats.starts import starting_values

Floats = NDArray[np.float64]

_HOLDS = {
    "asymptote": "asymptote",
    "rate_per_day": "rate",
    "inflection_day": "turn",
    "zero_day": "turn",
}
_LONGER = {"von_bertalanffy": "von Bertalanffy", "gompertz": "Gompertz", "line": "straight-line"}


def fit_curve(
    curve: str,
    days: ArrayLike,
    lengths: ArrayLike,
    *,
    n_fish: ArrayLike | None = None,
    sd: ArrayLike | None = None,
    hold: Hold | None = None,
    start: Sequence[float] | None = None,
) -> GrowthFit:
    """Fit one growth curve to the fish, or the group means, of one container.

    Parameters
    ----------
    curve : str
        "line", "exponential", "logistic", "gompertz" or "von_bertalanffy".
    days, lengths : array_like, shape (rows,)
        Day and length of each fish, or day and mean of each group.
    n_fish, sd : array_like, shape (rows,), optional
        Number and standard deviation of each group.
    hold : (str, float), optional
        A parameter to hold and its value, such as ``("asymptote", 90.0)``: the adult length.
    start : sequence of float, optional
        First guess of the usual parameters; never needed.

    Returns
    -------
    GrowthFit

    Raises
    ------
    FitError
        If the measurements are too few, or do not grow although the curve has to.

    Notes
    -----
    Least squares on the scale of lengths, each mean weighing as many fish as it stands for.
    ``sigma**2 = (weighted squares of the means about the curve + squares of the fish about their
    means) / (fish - parameters)``, so group means with n and sd give what the fish give.
    The standard errors are those of these fish; between containers use one value a container.

    References
    ----------
    Bates, D. M. and Watts, D. G. (1988). Nonlinear Regression Analysis and Its Applications.

    Examples
    --------
    >>> fit = fit_curve("line", [0, 10, 20], [5.0, 8.0, 11.0])
    >>> fit.length_at(15.0).round(6).tolist()
    9.5
    """
    data = daily_means(days, lengths, n_fish=n_fish, sd=sd)
    fit = fit_many(curve, [data], hold=hold, start=start)[0]
    if fit.problem == "too_few_days":
        n_free = _n_free(curve, hold)
        raise FitError(
            f"{_spoken(curve)} cannot be fitted to {_day_list(data)}",
            todo=f"It needs measurements on {n_free} different days or more.",
        )
    if fit.problem == "no_growth":
        raise FitError(
            f"{_spoken(curve)} needs growth, but the mean goes from {data.means[0]:g} on day"
            f" {data.days[0]:g} to {data.means[-1]:g} on day {data.days[-1]:g}",
            todo="Use the straight line, or compare lengths on one day.",
        )
    return fit


def fit_many(
    curve: str,
    data: Sequence[DailyMeans],
    *,
    hold: Hold | None = None,
    start: Sequence[float] | None = None,
) -> list[GrowthFit]:
    """Fit one growth curve to each of many containers at once.

    Parameters
    ----------
    curve, hold, start
        As for :func:`fit_curve`, the same for all.
    data : sequence of DailyMeans
        One a container.

    Returns
    -------
    list of GrowthFit
        One a container, in order. Where there can be no fit, ``problem`` says why, the numbers
        are nan and ``aicc`` is ``inf``.

    Raises
    ------
    FitError
        If the curve or the parameter to hold does not exist.
    """
    check_curve(curve)
    n_free = _n_free(curve, hold)
    problems = [_problem(curve, n_free, series) for series in data]
    good = [series for series, problem in zip(data, problems, strict=True) if not problem]
    fits = iter(_fit_good(curve, good, n_free, hold, start) if good else [])
    return [
        _no_fit(curve, series, problem, hold) if problem else next(fits)
        for series, problem in zip(data, problems, strict=True)
    ]


def _fit_good(
    curve: str,
    data: list[DailyMeans],
    n_free: int,
    hold: Hold | None,
    start: Sequence[float] | None,
) -> list[GrowthFit]:
    """Fit series that have days enough."""
    batch = make_batch(data)
    form = _held_form(curve, batch, hold)
    if start is None:
        guesses = starting_values(form, batch.u, batch.lengths, batch.weights)
    else:
        guesses = free_part(form, scaled_theta(curve, batch, start))[None]
    solved = solve_best(form, batch, guesses)
    theta, by_phi = expand(form, solved.values)
    params = natural_params(curve, batch, theta)
    spread = natural_spread(form, batch, theta, by_phi, params)
    at_bound = _at_bound(form, batch, solved.values) | np.isnan(spread[:, 0, 0])
    spread[at_bound] = np.nan
    if hold is not None:
        held_at = PARAMETERS[curve].index(hold[0])
        spread[:, held_at, :] = spread[:, :, held_at] = 0.0
        params[:, held_at] = hold[1]
    fits = []
    for row, series in enumerate(data):
        df = series.n_days - n_free + series.within_df
        rss = float(solved.rss[row] * batch.scale[row] ** 2 * batch.fish[row] + series.within_ss)
        sigma = float(np.sqrt(rss / df)) if df > 0 else float("nan")
        cov = spread[row] * sigma**2
        fits.append(
            GrowthFit(
                curve=curve,
                params=tuple(float(value) for value in params[row]),
                std_error=tuple(float(value) for value in np.sqrt(np.diag(cov))),
                covariance=cov,
                theta=theta[row],
                rss=rss,
                sigma=sigma,
                df=float(df),
                aicc=_aicc(rss, series, n_free),
                converged=bool(solved.converged[row]),
                at_bound=bool(at_bound[row]),
                problem="",
                held=hold,
                data=series,
            )
        )
    return fits


def _held_form(curve: str, batch: Batch, hold: Hold | None) -> Form:
    """Write down the curve with what is held, in scaled units."""
    form = free_form(curve, len(batch.span))
    if hold is None:
        return form
    name, value = hold
    kind = _HOLDS[name]
    if kind == "rate":
        scaled = value * batch.span
    elif kind == "turn":
        scaled = (value - batch.first_day) / batch.span
    else:
        if not value > 0:
            raise FitError(f"An asymptote of {value:g} cannot be held", todo="Give one above 0.")
        scaled = height(form.link, value / batch.scale)
    return Form(curve=curve, knot_a=form.knot_a, knot_b=form.knot_b, hold=kind, value=scaled)


def _at_bound(form: Form, batch: Batch, phi: Floats) -> NDArray[np.bool_]:
    """Say which series ended on a bound."""
    lower, upper = bounds(form, batch, phi.shape[1])
    return np.any((phi <= lower) | (phi >= upper), axis=-1)


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


def _no_fit(curve: str, series: DailyMeans, problem: str, hold: Hold | None) -> GrowthFit:
    """Stand in for a fit that cannot be."""
    nan = float("nan")
    none = (nan,) * len(PARAMETERS[curve])
    return GrowthFit(
        curve=curve,
        params=none,
        std_error=none,
        covariance=np.full((len(none), len(none)), nan),
        theta=np.full(3, nan),
        rss=nan,
        sigma=nan,
        df=nan,
        aicc=float("inf"),
        converged=False,
        at_bound=False,
        problem=problem,
        held=hold,
        data=series,
    )


def _problem(curve: str, n_free: int, series: DailyMeans) -> str:
    """Say why a curve cannot be fitted to a series at all, or nothing."""
    if series.n_days < max(n_free, 2):
        return "too_few_days"
    if curve in SHAPED:
        centred = series.days - np.average(series.days, weights=series.n_fish)
        rise = np.sum(series.n_fish * centred * series.means)
        scale = np.sum(series.n_fish * np.abs(centred)) * series.means.max()
        if rise <= 1e-12 * scale:
            return "no_growth"
    return ""


def _n_free(curve: str, hold: Hold | None) -> int:
    """Count the free parameters."""
    if hold is None:
        return len(PARAMETERS[curve])
    if curve not in SHAPED or hold[0] not in PARAMETERS[curve]:
        raise FitError(
            f"The curve {curve!r} has no parameter {hold[0]!r} that can be held",
            todo=f"Hold one of {', '.join(PARAMETERS[SHAPED[0]])} of a curve that has it.",
        )
    return len(PARAMETERS[curve]) - 1


def _spoken(curve: str) -> str:
    return f"The {_LONGER.get(curve, curve)} curve"


def _day_list(data: DailyMeans) -> str:
    if data.n_days == 1:
        return f"measurements of one day (day {data.days[0]:g})"
    return f"measurements of {data.n_days} days (days {data.days[0]:g} to {data.days[-1]:g})"
