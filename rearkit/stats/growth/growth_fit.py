"""What a fit of one growth curve to one container holds and can say."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rearkit.stats.curves import PARAMETERS
from rearkit.stats.daily_means import DailyMeans
from rearkit.stats.ends_form import day_of, evaluate, free_form, height

Floats = NDArray[np.float64]
Hold = tuple[str, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class GrowthFit:
    """One curve fitted to one container.

    Attributes
    ----------
    curve : str
        The curve.
    params : tuple of float
        Its usual parameters, in the order of ``PARAMETERS[curve]``; ``inf`` for an asymptote
        that lies at no finite length.
    std_error : tuple of float
        Their standard errors; 0 for a parameter that was held, nan at a bound or without
        degrees of freedom.
    covariance : ndarray, shape (parameters, parameters)
        Their covariance.
    theta : ndarray, shape (3,)
        The same curve in the scaled form it was fitted in (heights at both ends, shape).
    rss : float
        Sum of squares of the fish about the curve (of the means, each times its fish, where the
        spread within days is not known).
    sigma : float
        Residual standard deviation of one fish, ``sqrt(rss / df)``.
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
    held : tuple or None
        Name and value of a parameter that was held.
    data : DailyMeans
        What was fitted.
    """

    curve: str
    params: tuple[float, ...]
    std_error: tuple[float, ...]
    covariance: Floats
    theta: Floats
    rss: float
    sigma: float
    df: float
    aicc: float
    converged: bool
    at_bound: bool
    problem: str
    held: Hold | None
    data: DailyMeans

    @property
    def first_day(self) -> float:
        """First sampled day."""
        return float(self.data.days[0])

    @property
    def last_day(self) -> float:
        """Last sampled day."""
        return float(self.data.days[-1])

    def param(self, name: str) -> float:
        """Give one usual parameter by its name."""
        return self.params[PARAMETERS[self.curve].index(name)]

    def length_at(self, day: ArrayLike) -> Floats:
        """Give the fitted length on each day, shaped like ``day``."""
        day = np.asarray(day, dtype=float)
        u = ((day - self.first_day) / (self.last_day - self.first_day)).reshape(1, -1)
        scaled, _ = evaluate(free_form(self.curve, 1), self.theta[None, :], u)
        return scaled.reshape(day.shape) * self.data.means.max()

    def day_reached(self, length: ArrayLike) -> Floats:
        """Give the day on which the curve has each length; nan where it never has."""
        length = np.asarray(length, dtype=float)
        form = free_form(self.curve, 1)
        scaled = np.where(length > 0, length, np.nan) / self.data.means.max()
        u = day_of(form, self.theta[None, :], height(form.link, scaled))
        return self.first_day + u * (self.last_day - self.first_day)

    def growth_rate(self, from_day: float, to_day: float) -> float:
        """Give the specific growth rate between two days, in % a day."""
        first, last = self.length_at([from_day, to_day])
        if not (first > 0 and last > 0 and from_day != to_day):
            return float("nan")
        return float(100.0 * np.log(last / first) / (to_day - from_day))

    def extrapolated(self, day: float) -> bool:
        """Say whether a day lies outside the sampled ones (or is no day at all)."""
        return not self.first_day <= day <= self.last_day
