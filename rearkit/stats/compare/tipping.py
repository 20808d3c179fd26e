"""State how much containers must differ by themselves to explain a difference of two."""

from __future__ import annotations

from rearkit.errors import DesignError


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
