"""Estimate how alike fish of one container are, and what that costs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize
from scipy.special import gammaln

from rearkit.errors import DesignError
from rearkit.stats.layout import FloatArray

_EDGE = 1e-9
_LARGEST_RHO = 0.999
_STARTS = (0.02, 0.2)


@dataclass(frozen=True, kw_only=True, eq=False)
class BetaBinomial:
    """Report a beta-binomial fit of survivors by container.

    Attributes
    ----------
    groups : tuple
        Names of the groups, in order of appearance.
    mean : (g,) array
        Mean survival of each group; equal where the means were held common.
    rho : (g,) array
        Correlation of two fish of one container in each group; equal where held common. 0 means
        no more spread than independent fish give; nan where all fish fared alike, which says
        nothing of it.
    log_likelihood : float
        With the binomial coefficients.
    n_parameters : int
        Free means and correlations.
    """

    groups: tuple[object, ...]
    mean: FloatArray
    rho: FloatArray
    log_likelihood: float
    n_parameters: int


def icc_anova(alive: ArrayLike, n: ArrayLike, group: ArrayLike | None = None) -> float:
    """Estimate the correlation of two fish of one container from mean squares of 0s and 1s.

    Parameters
    ----------
    alive, n : (c,) array
        Survivors and starters of each container.
    group : (c,) array, optional
        Arm of each container; containers are compared with others of their arm.

    Returns
    -------
    float
        Not cut off at 0; nan where no fish differs from any other.

    Raises
    ------
    DesignError
        If survivors exceed starters, or no group has two containers.

    References
    ----------
    Donner, A. and Koval, J. J. (1980). The estimation of intraclass correlation in the analysis
    of family data. Biometrics 36, 19-25.
    """
    y, m, arms = _containers(alive, n, group)
    within = float((y * (m - y) / m).sum())
    return _icc_from_sums(y, m, arms, within)


def icc_anova_values(
    values: ArrayLike, container: ArrayLike, group: ArrayLike | None = None
) -> float:
    """Estimate the correlation of a measurement on two fish of one container.

    Parameters
    ----------
    values : (f,) array
        One measurement a fish.
    container : (f,) array
        The container of each fish.
    group : (f,) array, optional
        The arm of each fish; containers are compared with others of their arm.

    Returns
    -------
    float
        Not cut off at 0; nan where no fish differs from any other.

    Raises
    ------
    DesignError
        If no group has two containers, or no container has two fish.
    """
    x = np.asarray(values, dtype=np.float64)
    names, first, place = np.unique(
        np.asarray(container).astype(str), return_index=True, return_inverse=True
    )
    sizes = np.bincount(place).astype(np.float64)
    totals: FloatArray = np.bincount(place, weights=x).astype(np.float64)
    within = float(((x - (totals / sizes)[place]) ** 2).sum())
    arms = _codes(None if group is None else np.asarray(group)[first], names.size)[1]
    return _icc_from_sums(totals, sizes, arms, within)


def icc_pairwise(alive: ArrayLike, n: ArrayLike) -> float:
    """Estimate the correlation of two fish of one container from all pairs that share one.

    Parameters
    ----------
    alive, n : (c,) array
        Survivors and starters of containers of one arm.

    Returns
    -------
    float
        nan where all fish fared alike.

    Raises
    ------
    DesignError
        If survivors exceed starters, or no container has two fish.

    References
    ----------
    Karlin, S., Cameron, E. C. and Williams, P. T. (1981). Sibling and parent-offspring
    correlation estimation with variable family size. Proceedings of the National Academy of
    Sciences 78, 2664-2668.
    """
    y, m, _ = _containers(alive, n, None)
    pairs = float((m * (m - 1)).sum())
    if pairs <= 0:
        raise DesignError("No container holds two fish to compare")
    share = float(((m - 1) * y).sum()) / pairs
    both = float((y * (y - 1)).sum()) / pairs
    variance = share * (1 - share)
    return (both - share**2) / variance if variance > 0 else float("nan")


def design_effect(fish: float, icc: float, *, cv: float = 0.0) -> float:
    """State by what factor sharing containers inflates the variance of a mean.

    Parameters
    ----------
    fish : float
        Mean number of fish a container.
    icc : float
        Correlation of two fish of one container.
    cv : float
        Standard deviation over mean of the number of fish a container.

    Returns
    -------
    float
        1 + ((1 + cv**2) fish - 1) icc.
    """
    return 1 + ((1 + cv * cv) * fish - 1) * icc


def tipping_icc(p1: float, n1: float, p2: float, n2: float) -> tuple[float, float]:
    """State how much containers must differ by themselves to explain a difference of two.

    Parameters
    ----------
    p1, p2 : float
        Survival of the two containers.
    n1, n2 : float
        Fish in each at the start.

    Returns
    -------
    (float, float)
        Standard deviation of true survival between containers, and the correlation of two fish
        of one container, at which the difference is 1.96 standard errors. Zero where chance among
        the fish alone is enough; the correlation is nan where all fish fared alike.

    Raises
    ------
    DesignError
        If a survival is not between 0 and 1 or a container holds no fish.

    Examples
    --------
    >>> round(tipping_icc(0.6, 100, 0.8, 100)[1], 3)
    0.015
    """
    if not (0 <= p1 <= 1 and 0 <= p2 <= 1 and n1 > 0 and n2 > 0):
        raise DesignError(f"Survival {p1:g} of {n1:g} and {p2:g} of {n2:g} fish is not possible")
    pooled = (p1 * n1 + p2 * n2) / (n1 + n2)
    variance = pooled * (1 - pooled)
    between = max(0.0, ((p1 - p2) / 1.96) ** 2 - variance * (1 / n1 + 1 / n2)) / 2
    return between**0.5, between / variance if variance > 0 else float("nan")


def beta_binomial(
    alive: ArrayLike,
    n: ArrayLike,
    group: ArrayLike | None = None,
    *,
    common_mean: bool = False,
    common_rho: bool = True,
) -> BetaBinomial:
    """Estimate mean survival and the correlation within containers by maximum likelihood.

    Parameters
    ----------
    alive, n : (c,) integer array
        Survivors and starters of each container.
    group : (c,) array, optional
        Arm of each container.
    common_mean, common_rho : bool
        One mean, one correlation, for all groups.

    Returns
    -------
    BetaBinomial
        The fit; its correlation is at least 0.

    Raises
    ------
    DesignError
        If counts are not whole numbers or survivors exceed starters.

    Notes
    -----
    Likelihood-ratio tests from these fits assume many containers; with a handful they are for
    comparison with published analyses, not for verdicts.

    References
    ----------
    Williams, D. A. (1975). The analysis of binary responses from toxicological experiments
    involving reproduction and teratogenicity. Biometrics 31, 949-952.
    """
    y, m, arms = _containers(alive, n, group)
    if (y != np.round(y)).any() or (m != np.round(m)).any():
        raise DesignError("A beta-binomial fit needs whole numbers of fish")
    names = _codes(group, y.size)[0]
    mean_of = np.zeros(len(names), dtype=int) if common_mean else np.arange(len(names))
    rho_of = np.zeros(len(names), dtype=int) if common_rho else np.arange(len(names))
    n_means, n_rhos = int(mean_of.max()) + 1, int(rho_of.max()) + 1
    terms = [_terms(y[arms == arm], m[arms == arm]) for arm in range(len(names))]

    def loss(free: FloatArray) -> tuple[float, FloatArray]:
        total, slope = 0.0, np.zeros(free.size)
        for arm, (up, down, every) in enumerate(terms):
            at_mean, at_rho = int(mean_of[arm]), n_means + int(rho_of[arm])
            value, by_mean, by_rho = _log_terms(up, down, every, free[at_mean], free[at_rho])
            total -= value
            slope[at_mean] -= by_mean
            slope[at_rho] -= by_rho
        return total, slope

    shares = np.bincount(mean_of[arms], weights=y) / np.bincount(mean_of[arms], weights=m)
    bounds = [(_EDGE, 1 - _EDGE)] * n_means + [(0.0, _LARGEST_RHO)] * n_rhos
    fits = [
        minimize(
            loss,
            np.concatenate((np.clip(shares, 0.01, 0.99), np.full(n_rhos, start))),
            jac=True,
            method="L-BFGS-B",
            bounds=bounds,
            options={"ftol": 1e-15, "gtol": 1e-9, "maxiter": 2000},
        )
        for start in _STARTS
    ]
    best = min(fits, key=lambda fit: fit.fun)
    starters = np.bincount(rho_of[arms], weights=m)
    alike = np.bincount(rho_of[arms], weights=y) % starters == 0
    rho = np.where(alike, np.nan, best.x[n_means:])
    choose = float((gammaln(m + 1) - gammaln(y + 1) - gammaln(m - y + 1)).sum())
    return BetaBinomial(
        groups=names,
        mean=best.x[mean_of],
        rho=rho[rho_of],
        log_likelihood=choose - float(best.fun),
        n_parameters=n_means + n_rhos,
    )


def _codes(group: ArrayLike | None, size: int) -> tuple[tuple[object, ...], NDArray[np.intp]]:
    """Give each group a number, in order of appearance."""
    labels = [""] * size if group is None else list(np.asarray(group).tolist())
    names = tuple(dict.fromkeys(labels))
    return names, np.array([names.index(label) for label in labels], dtype=np.intp)


def _containers(
    alive: ArrayLike, n: ArrayLike, group: ArrayLike | None
) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
    """Refuse counts that cannot be."""
    y, m = np.asarray(alive, dtype=np.float64), np.asarray(n, dtype=np.float64)
    if y.size == 0 or y.shape != m.shape or not ((y >= 0) & (y <= m) & (m > 0)).all():
        raise DesignError("Survivors of a container must lie between 0 and its starters")
    return y, m, _codes(group, y.size)[1]


def _icc_from_sums(
    totals: FloatArray, sizes: FloatArray, arms: NDArray[np.intp], within: float
) -> float:
    """Turn container totals and the sum of squares within containers into a correlation."""
    n_arms = int(arms.max()) + 1
    df_between, df_within = totals.size - n_arms, float(sizes.sum()) - totals.size
    if df_between < 1 or df_within < 1:
        raise DesignError("A correlation needs two containers of one arm, and two fish in one")
    fish = np.bincount(arms, weights=sizes)
    means = np.bincount(arms, weights=totals) / fish
    between = float((sizes * (totals / sizes - means[arms]) ** 2).sum()) / df_between
    squares = np.bincount(arms, weights=sizes**2)
    typical = float(sizes.sum() - (squares / fish).sum()) / df_between
    error = within / df_within
    total = between + (typical - 1) * error
    return (between - error) / total if total > 0 else float("nan")


def _terms(y: FloatArray, m: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Count for k = 0, 1, ... how many containers have more than k alive, dead and in all."""
    steps = np.arange(int(m.max()))[:, np.newaxis]
    up, down, every = ((x > steps).sum(axis=1).astype(np.float64) for x in (y, m - y, m))
    return up, down, every


def _log_terms(
    up: FloatArray, down: FloatArray, every: FloatArray, mean: float, rho: float
) -> tuple[float, float, float]:
    """Sum the log-likelihood of one group as products over fish, and its slopes.

    Written as products it is exact at a correlation of 0, where the gamma functions fail.
    """
    k = np.arange(up.size)
    alive = mean * (1 - rho) + k * rho
    dead = (1 - mean) * (1 - rho) + k * rho
    whole = 1 - rho + k * rho
    value = up @ np.log(alive) + down @ np.log(dead) - every @ np.log(whole)
    by_mean = (1 - rho) * ((up / alive).sum() - (down / dead).sum())
    by_rho = (
        (up * (k - mean) / alive).sum()
        + (down * (k - 1 + mean) / dead).sum()
        - (every * (k - 1) / whole).sum()
    )
    return float(value), float(by_mean), float(by_rho)
