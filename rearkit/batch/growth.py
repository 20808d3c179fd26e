"""One growth curve a container, the same kind for all, and what it says of any day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from rearkit.batch.lengths import MeasuredLengths
from rearkit.errors import DesignError
from rearkit.stats.growth.curve_choice import choose_curve
from rearkit.stats.growth.curve_fit import GrowthFit, fit_many
from rearkit.stats.growth.curves import CURVES, LEVELLING_OFF
from rearkit.stats.growth.daily_means import DailyMeans
from rearkit.stats.growth.profile import FULL_GROWN, Asymptote, asymptote_of

SAME_DAY = 1e-9
AS_GOOD = 4.0  # curves within so many AICc units are not told apart


@dataclass(frozen=True, kw_only=True, eq=False)
class ContainerGrowth:
    """The growth of the fish of one container.

    Attributes
    ----------
    batch : str
        The batch.
    data : DailyMeans
        Its mean lengths.
    fit : GrowthFit or None
        Its curve; None if it was measured on one day only.
    instead : str
        Why it has a straight line although another curve was chosen for all: ``"too_few_days"``,
        ``"no_growth"``, ``"did_not_settle"``; ``"one_day"`` if it has no curve; else empty.
    aicc : mapping
        The criterion of every curve in this container.
    cv : float
        CV among its fish over all days; nan if not known.
    """

    batch: str
    data: DailyMeans
    fit: GrowthFit | None
    instead: str
    aicc: Mapping[str, float]
    cv: float

    @property
    def first_day(self) -> float:
        """First sampled day."""
        return float(self.data.days[0])

    @property
    def last_day(self) -> float:
        """Last sampled day."""
        return float(self.data.days[-1])

    def extrapolated(self, day: float) -> bool:
        """Say whether a day lies outside the sampled ones."""
        return not self.first_day - SAME_DAY <= day <= self.last_day + SAME_DAY

    def measured_on(self, day: float) -> float | None:
        """Give the mean of the fish that were measured on that very day; None if none was."""
        same = np.flatnonzero(np.abs(self.data.days - day) <= SAME_DAY)
        return float(self.data.means[same[0]]) if same.size else None

    def length_at(self, day: float) -> float:
        """Give the length on a day: as measured on that very day, else by the curve."""
        measured = self.measured_on(day)
        if measured is not None:
            return measured
        return self.joined_at(day) if self.fit is None else float(self.fit.length_at(day))

    def joined_at(self, day: float) -> float:
        """Give the length read off the joined daily means; nan outside the sampled days."""
        return float(self.data.length_at(day))

    def day_reached(self, length: float) -> float:
        """Give the day on which a growing curve reaches a length; nan where it never does."""
        return float("nan") if self.fit is None else day_of_growth(self.fit, length)

    def can_tell(self, day: float) -> bool:
        """Say whether there is a length for this day, extrapolated or not."""
        return bool(np.isfinite(self.length_at(day)))


def day_of_growth(fit: GrowthFit, length: float) -> float:
    """Give the day on which a curve that grows has a length; nan where it never has."""
    if not fit.length_at(fit.last_day) > fit.length_at(fit.first_day):
        return float("nan")
    return float(fit.day_reached(length))


@dataclass(frozen=True, kw_only=True, eq=False)
class ContainerCurves:
    """The curves of all containers.

    Attributes
    ----------
    curve : str or None
        The kind of curve used for all; None if no container has one.
    by : str
        ``"aicc"``, ``"asked"``, ``"fewest_parameters"``, or ``"none"``.
    total_aicc : dict
        Sum of the criterion over the containers that could be compared, by curve.
    n_compared : int
        How many these were.
    held_length : float or None
        An adult length that was given and is held.
    containers : dict of ContainerGrowth
        Every measured batch.
    fits : dict of dict
        Every kind of curve in every container that has it: curve, then batch.
    """

    curve: str | None
    by: str
    total_aicc: dict[str, float]
    n_compared: int
    held_length: float | None
    containers: dict[str, ContainerGrowth]
    fits: dict[str, dict[str, GrowthFit]]

    def as_good(self, batch: str) -> list[GrowthFit]:
        """Give every curve of a batch that does about as well as the one that is used.

        Returns
        -------
        list of GrowthFit
            The curve that is used, and every other that lies within ``AS_GOOD`` AICc units of the
            best: over all containers, or in this one.
        """
        one = self.containers[batch]
        if one.fit is None:
            return []
        inside = [float(fits[batch].aicc) for fits in self.fits.values() if batch in fits]
        best = min(self.total_aicc.values(), default=np.inf), min(inside, default=np.inf)
        found = [one.fit]
        for name, fits in self.fits.items():
            fit = fits.get(batch)
            if fit is None or not fit.converged or name == one.fit.curve:
                continue
            behind = self.total_aicc.get(name, np.inf) - best[0] if np.isfinite(best[0]) else 0.0
            here = float(fit.aicc) - best[1] if np.isfinite(best[1]) else np.inf
            if min(behind, here) <= AS_GOOD:
                found.append(fit)
        return found


def grow_containers(
    measured: MeasuredLengths, *, curve: str | None = None, adult_length_mm: float | None = None
) -> ContainerCurves:
    """Fit one kind of curve to every measured container.

    Parameters
    ----------
    measured : MeasuredLengths
        The lengths.
    curve : str, optional
        The curve to use; by default the one with the smallest summed AICc.
    adult_length_mm : float, optional
        An adult length to hold as the final one; the curve is then one that levels off.

    Returns
    -------
    ContainerCurves
        A container that the chosen curve cannot be fitted to has a straight line instead, and
        says why.

    Raises
    ------
    DesignError
        If the curve is not known, cannot hold an adult length, or the adult length is not above
        every measured mean.
    """
    _check(measured, curve, adult_length_mm)
    batches, series = list(measured.series), list(measured.series.values())
    if not any(one.n_days > 1 for one in series):
        containers = {b: _container(measured, b, None, {}, "one_day") for b in batches}
        names = CURVES if adult_length_mm is None else LEVELLING_OFF
        return ContainerCurves(
            curve=None,
            by="none",
            total_aicc=dict.fromkeys(names, float("inf")),
            n_compared=0,
            held_length=adult_length_mm,
            containers=containers,
            fits={},
        )
    choice = choose_curve(series, asymptote=adult_length_mm)
    fits, best, by = choice.fits, choice.curve, choice.by
    if curve is not None:
        best, by = curve, "asked"
    lines = fits["line"] if "line" in fits else fit_many("line", series)
    containers = {}
    for i, batch in enumerate(batches):
        fit, instead = _usable(fits[best][i], lines[i])
        aicc = {name: each[i].aicc for name, each in fits.items()}
        containers[batch] = _container(measured, batch, fit, aicc, instead)
    return ContainerCurves(
        curve=best,
        by=by,
        total_aicc=dict(choice.total_aicc),
        n_compared=len(choice.compared),
        held_length=adult_length_mm,
        containers=containers,
        fits={
            name: {b: f for b, f in zip(batches, each, strict=True) if not f.problem}
            for name, each in fits.items()
        },
    )


def final_lengths(curves: ContainerCurves) -> dict[str, Asymptote]:
    """Give the final length of every container, or nothing if any of them is too young to tell.

    Parameters
    ----------
    curves : ContainerCurves
        The curves, with nothing held.

    Returns
    -------
    dict of Asymptote
        By the curve that is used, its interval over every curve that does about as well. Empty
        unless in every container that has a curve the largest measured mean has come to four
        fifths of the upper end under each of these. One container that seems to level off among
        others that do not is chance.
    """
    grown = {b: c for b, c in curves.containers.items() if c.fit is not None}
    if curves.curve not in LEVELLING_OFF or curves.held_length is not None:
        return {}
    found: dict[str, Asymptote] = {}
    for batch in grown:
        fits = curves.as_good(batch)
        if any(f.curve not in LEVELLING_OFF or not np.isfinite(f.params[0]) for f in fits):
            return {}
        if any(float(f.data.means.max()) < FULL_GROWN * f.params[0] for f in fits):
            return {}
        ends = [asymptote_of(f) for f in fits]
        if not all(a.reported for a in ends):
            return {}
        low = min(a.interval.conf_low for a in ends)
        high = max(a.interval.conf_high for a in ends)
        found[batch] = replace(
            ends[0],
            interval=replace(ends[0].interval, conf_low=low, conf_high=high),
            share_reached=min(a.share_reached for a in ends),
        )
    return found


def _check(measured: MeasuredLengths, curve: str | None, adult_length_mm: float | None) -> None:
    if curve is not None and curve not in CURVES:
        raise DesignError(
            f"there is no growth curve called {curve!r}",
            where="setting curve",
            todo=f"Use one of {', '.join(CURVES)}, or none to have it chosen.",
        )
    if adult_length_mm is None:
        return
    if curve is not None and curve not in LEVELLING_OFF:
        raise DesignError(
            f"the curve {curve!r} does not level off, so it has no adult length",
            where="settings curve and adult_length_mm",
            todo=f"Use one of {', '.join(LEVELLING_OFF)}.",
        )
    longest = max((float(s.means.max()) for s in measured.series.values()), default=0.0)
    if not adult_length_mm > longest:
        raise DesignError(
            f"an adult length of {adult_length_mm:g} mm is not above the longest mean measured, "
            f"{longest:g} mm",
            where="setting adult_length_mm",
            todo="Give the adult length of the species in millimetres.",
        )


def _usable(fit: GrowthFit, line: GrowthFit) -> tuple[GrowthFit | None, str]:
    """Return the fit, or the straight line and why it stands in for it."""
    if not fit.problem and fit.converged:
        return fit, ""
    if line.problem:
        return None, "one_day"
    return line, fit.problem or "did_not_settle"


def _container(
    measured: MeasuredLengths,
    batch: str,
    fit: GrowthFit | None,
    aicc: Mapping[str, float],
    instead: str,
) -> ContainerGrowth:
    return ContainerGrowth(
        batch=batch,
        data=measured.series[batch],
        fit=fit,
        instead=instead,
        aicc=aicc,
        cv=measured.cv_of(batch),
    )
