"""The walk along one quantity of a curve, outwards until the fit has become too bad.

Every step is a fit with the quantity held, started from the fit of the step before.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from rearkit.stats.ends_form import Form, evaluate, expand, free_form, height
from rearkit.stats.fit_batch import Batch, make_batch, solve
from rearkit.stats.growth_fit import GrowthFit
from rearkit.stats.natural_form import free_part

Floats = NDArray[np.float64]

_FIRST_STEP = 0.02
_DOUBLINGS = 45
_SECTIONS = 24
_NARROW = 1e-10
# The log of a rate per sampled span beyond which the curve is a step all the same.
_STEEPEST = 6.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Profile:
    """One quantity of one fit, ready to be held at any value.

    Attributes
    ----------
    form : Form
        The form of the fit itself.
    theta : ndarray, shape (1, 3)
        Its heights and shape.
    batch : Batch
        Its scaled means, alone.
    kind : str
        What is held: "height", "day", "ratio", "rise", "rate", "asymptote" or "turn".
    at : tuple of float
        The day of a height, the height of a day, or the two days of a ratio; scaled.
    within_ss : float
        Sum of squares that no curve can change.
    most_rss : float
        Sum of squares up to which a value belongs to the interval.
    """

    form: Form
    theta: Floats
    batch: Batch
    kind: str
    at: tuple[float, ...]
    within_ss: float
    most_rss: float

    @classmethod
    def of(cls, fit: GrowthFit, kind: str, at: tuple[float, ...], most_rss: float) -> Profile:
        """Set up the walk along one quantity of a fit."""
        return cls(
            form=free_form(fit.curve, 1),
            theta=fit.theta[None, :],
            batch=make_batch([fit.data]),
            kind=kind,
            at=at,
            within_ss=fit.data.within_ss,
            most_rss=most_rss,
        )

    def held(self, values: Floats) -> Form:
        """Write the curve with the quantity held at each of some values."""
        zero = np.zeros(len(values))
        knot_a, knot_b, hold, held = zero, zero + 1.0, self.kind, values
        if self.kind == "height":
            knot_a, knot_b = zero + self.at[0], zero + (1.0 if self.at[0] < 0.5 else 0.0)
        elif self.kind == "day":
            knot_a, knot_b = values, np.where(values < 0.5, 1.0, 0.0)
            hold, held = "height", zero + self.at[0]
        elif self.kind == "ratio" and self.at:
            knot_a, knot_b = zero + self.at[0], zero + self.at[1]
        elif self.kind == "rate":
            held = np.exp(np.clip(values, -_STEEPEST, _STEEPEST))
        return Form(curve=self.form.curve, knot_a=knot_a, knot_b=knot_b, hold=hold, value=held)

    def fit(self, values: Floats, near: tuple[Form, Floats]) -> tuple[Floats, Form, Floats]:
        """Fit with the quantity held at each value, from a solved neighbour.

        Parameters
        ----------
        values : ndarray, shape (values,)
            Values to hold.
        near : (Form, ndarray of shape (1, 3))
            Form and heights and shape of a curve near by.

        Returns
        -------
        rss : ndarray, shape (values,)
        form : Form
        theta : ndarray, shape (values, 3)
        """
        form = self.held(values)
        solved = solve(form, self.batch.repeated(len(values)), _start(form, *near))
        rss = solved.rss * self.batch.scale[0] ** 2 * self.batch.fish[0] + self.within_ss
        return rss, form, expand(form, solved.values)[0]


def held_rise(fit: GrowthFit, conf_level: float) -> float:
    """Give the sum of squares up to which a held curve still belongs to the interval.

    Parameters
    ----------
    fit : GrowthFit
        The best curve.
    conf_level : float
        Level of the interval.

    Returns
    -------
    float
        Infinite without residual degrees of freedom: then nothing is excluded.
    """
    if not fit.df > 0:
        return float("inf")
    return fit.rss * (1.0 + float(stats.f.ppf(conf_level, 1, fit.df)) / fit.df)


def find_edge(profile: Profile, start: float, direction: float) -> float:
    """Find where the fit becomes too bad, going out from the best value.

    Parameters
    ----------
    profile : Profile
        The quantity.
    start : float
        Its best value.
    direction : float
        1 to go up, -1 to go down.

    Returns
    -------
    float
        The end of the interval, infinite if the fit never becomes too bad.
    """
    beyond = float("inf") * direction
    if not np.isfinite(profile.most_rss):
        return beyond
    inside, near = start, (profile.form, profile.theta)
    step = _FIRST_STEP
    for _ in range(_DOUBLINGS):
        outside = start + direction * step
        rss, form, theta = profile.fit(np.array([outside]), near)
        if not rss[0] <= profile.most_rss:
            return _narrowed(profile, inside, outside, near)
        inside, near = outside, (form, theta)
        step *= 2.0
    return beyond


def _narrowed(profile: Profile, inside: float, outside: float, near: tuple[Form, Floats]) -> float:
    """Cut the stretch that holds the edge into sections until it is narrow."""
    while abs(outside - inside) > _NARROW * (abs(inside) + abs(outside) + 1e-3):
        values = np.linspace(inside, outside, _SECTIONS + 2)[1:-1]
        rss, form, theta = profile.fit(values, near)
        within = rss <= profile.most_rss
        last = int(np.argmin(within)) if not within.all() else len(values)
        if last < len(values):
            outside = float(values[last])
        if last > 0:
            rows = np.array([last - 1])
            inside, near = float(values[last - 1]), (form.rows(rows), theta[rows])
    return 0.5 * (inside + outside)


def _start(form: Form, near_form: Form, near_theta: Floats) -> Floats:
    """Give the first guess for held curves from one solved curve: the same curve, re-knotted."""
    knots = np.stack([form.knot_a, form.knot_b], axis=-1)
    lengths, _ = evaluate(near_form, near_theta, knots.reshape(1, -1))
    positive = lengths if form.link == "identity" else np.maximum(lengths, 1e-12)
    theta = np.empty((len(knots), 3))
    theta[:, :2] = height(form.link, positive.reshape(-1, 2))
    theta[:, 2] = near_theta[0, 2]
    if form.hold == "asymptote":
        below = form.value - 0.02 * np.abs(form.value - theta[:, 0])
        theta[:, 1] = np.minimum(theta[:, 1], below)
        theta[:, 0] = np.minimum(theta[:, 0], theta[:, 1])
    return free_part(form, theta)
