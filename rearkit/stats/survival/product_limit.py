"""Estimate survival from fish at risk and dead in successive intervals."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from rearkit.errors import DesignError
from rearkit.stats.layout import FloatArray

_ROUNDING = 1e-9


def product_limit(at_risk: ArrayLike, deaths: ArrayLike) -> FloatArray:
    """Estimate survival to the end of each interval.

    Parameters
    ----------
    at_risk, deaths : (..., k) array
        Fish alive at the start of each interval and dead within it; leading axes are draws.

    Returns
    -------
    (..., k) array
        Survival after each interval. Removals enter by way of the next ``at_risk``: they leave
        after the deaths of their interval. An interval without fish changes nothing.

    Raises
    ------
    DesignError
        If more fish die than are at risk, or a count is negative or unknown.

    References
    ----------
    Kaplan, E. L. and Meier, P. (1958). Nonparametric estimation from incomplete observations.
    Journal of the American Statistical Association 53, 457-481.

    Examples
    --------
    >>> product_limit([10, 8, 4], [2, 4, 0]).tolist()
    [0.8, 0.4, 0.4]
    """
    return np.asarray(np.cumprod(1 - share_dying(*read_counts(at_risk, deaths)), axis=-1))


def greenwood(at_risk: ArrayLike, deaths: ArrayLike) -> FloatArray:
    """Estimate the standard error of the product-limit survival after each interval.

    Parameters
    ----------
    at_risk, deaths : (..., k) array
        As in ``product_limit``.

    Returns
    -------
    (..., k) array
        Zero where nobody has died yet and where nobody is left; neither means certainty.

    Raises
    ------
    DesignError
        As in ``product_limit``.

    References
    ----------
    Greenwood, M. (1926). The natural duration of cancer. Reports on Public Health and Medical
    Subjects 33, HMSO, London.
    """
    n, d = read_counts(at_risk, deaths)
    product = n * (n - d)
    terms = np.divide(d, product, out=np.zeros_like(product), where=product > 0)
    return product_limit(n, d) * np.sqrt(np.cumsum(terms, axis=-1))


def effective_n(survival: ArrayLike, std_error: ArrayLike, at_risk_last: ArrayLike) -> FloatArray:
    """State how many fish without removals would give the same standard error.

    Parameters
    ----------
    survival, std_error : (...) array
        Product-limit survival and Greenwood's standard error.
    at_risk_last : (...) array
        Fish at risk in the last interval: the answer where all or none survive.

    Returns
    -------
    (...) array
        S (1 - S) / std_error**2.

    Examples
    --------
    >>> round(float(effective_n(0.8, 0.04, 50)), 6)
    100.0
    """
    s, error = np.asarray(survival, dtype=np.float64), np.asarray(std_error, dtype=np.float64)
    fallback = np.broadcast_to(np.asarray(at_risk_last, dtype=np.float64), s.shape).copy()
    known = (error > 0) & (s > 0) & (s < 1)
    return np.asarray(np.divide(s * (1 - s), error**2, out=fallback, where=known))[()]


def read_counts(at_risk: ArrayLike, deaths: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Take counts at risk and dead, refusing what cannot have happened.

    Parameters
    ----------
    at_risk, deaths : (..., k) array
        Counts; shapes that broadcast.

    Returns
    -------
    (array, array)
        Both as floats of one shape.

    Raises
    ------
    DesignError
        If more fish die than are at risk, or a count is negative or unknown.
    """
    n, d = np.broadcast_arrays(
        np.asarray(at_risk, dtype=np.float64), np.asarray(deaths, dtype=np.float64)
    )
    if not ((d >= 0) & (d <= n + _ROUNDING)).all():
        raise DesignError(
            "More fish died in an interval than were at risk, or a count is negative or unknown",
            todo="Settle the account of this batch first.",
        )
    return n, np.minimum(d, n)


def share_dying(at_risk: FloatArray, deaths: FloatArray) -> FloatArray:
    """Divide deaths by fish at risk; no fish, no deaths.

    Parameters
    ----------
    at_risk, deaths : (..., k) array
        As ``read_counts`` returns them.

    Returns
    -------
    (..., k) array
        Shares from 0 to 1.
    """
    return np.divide(deaths, at_risk, out=np.zeros(at_risk.shape), where=at_risk > 0)
