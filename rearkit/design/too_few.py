"""How far chance alone reaches where there are too few units to test anything."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from rearkit.design.design import Design
from rearkit.errors import DesignError

MEAN_OF_NORMAL = math.sqrt(2.0 / math.pi)  # mean distance from the middle, in standard deviations
TWO_SIDED = 1.959963984540054  # 97.5 % point of the normal distribution


@dataclass(frozen=True, kw_only=True)
class TooFew:
    """What a layout of one or two units a method shows, in the outcome's own unit.

    Attributes
    ----------
    gap_usual, gap_tested : float or None
        How far apart the units of each method lay; None where there was one.
    gaps : tuple of float
        With split clutches: tested − usual in every clutch.
    difference : float
        Tested − usual, means.
    reach : float or None
        The difference that chance alone reaches with units like these in 1 of 20 trials; None
        where no two units were treated alike.
    apart_for_chance : float or None
        One of each: if units treated alike commonly lie this far apart, the difference comes by
        itself once in 20.
    luck : float or None
        One of each: what luck with single fish alone commonly makes.
    """

    gap_usual: float | None
    gap_tested: float | None
    gaps: tuple[float, ...]
    difference: float
    reach: float | None
    apart_for_chance: float | None
    luck: float | None


def too_few(
    design: Design, values: pd.Series, *, fish: pd.Series | None = None, most: float | None = None
) -> TooFew:
    """Say how far the units of a very small layout lay apart, and what chance alone reaches.

    Parameters
    ----------
    design : Design
        One or two units of a method, or two split clutches.
    values : Series, indexed by unit
        The outcome; a share where ``fish`` is given.
    fish : Series, indexed by unit, optional
        Fry that each share was taken of: it can then not be surer than counting them allows.
    most : float, optional
        The largest difference that there can be.

    Notes
    -----
    Two of each: t(df)·√(pooled variance of the units·(1/n + 1/m)), the variance not below that of
    p(1 − p)/fry. Two split clutches: t(1)·|D₁ − D₂|/2. One of each: two units treated alike whose
    mean distance is √(2/π)/1.96 of the difference differ by as much once in 20. In simulated
    trials without an effect chance passed the reach in 0 to 5.1 of 100.
    """
    units = design.units
    y = values.reindex(units["unit"]).to_numpy(dtype=float)
    tested = units["tested"].to_numpy(dtype=bool)
    a, b = y[~tested], y[tested]
    gaps: tuple[float, ...] = ()
    difference = float(b.mean() - a.mean())
    if design.split and design.n_blocks > 1:
        by_block = units.assign(y=y).groupby(["block", "tested"], sort=True)["y"].mean().unstack()
        gaps = tuple(float(x) for x in by_block[True] - by_block[False])
        difference = float(np.mean(gaps))
        spread = float(np.std(gaps, ddof=1)) / math.sqrt(len(gaps))
        reach: float | None = float(stdtrit(len(gaps) - 1, 0.975)) * spread
    elif len(y) > 2:
        reach = _reach(a, b, None if fish is None else fish.reindex(units["unit"]).to_numpy(float))
    else:
        reach = None
    if reach is not None and most is not None:
        reach = min(reach, most)
    alone = len(a) == 1 and len(b) == 1
    return TooFew(
        gap_usual=float(np.ptp(a)) if len(a) > 1 else None,
        gap_tested=float(np.ptp(b)) if len(b) > 1 else None,
        gaps=gaps,
        difference=difference,
        reach=reach,
        apart_for_chance=MEAN_OF_NORMAL / TWO_SIDED * abs(difference) if alone else None,
        luck=_luck(y, fish.reindex(units["unit"]).to_numpy(float))
        if alone and fish is not None
        else None,
    )


def _reach(a: np.ndarray, b: np.ndarray, fish: np.ndarray | None) -> float:
    df = len(a) + len(b) - 2
    squares = float(((a - a.mean()) ** 2).sum() + ((b - b.mean()) ** 2).sum())
    variance = squares / df
    if fish is not None:
        share = float(np.concatenate([a, b]).mean())
        harmonic = len(fish) / float((1.0 / np.maximum(fish, 1.0)).sum())
        variance = max(variance, share * (1.0 - share) / harmonic)
    return float(stdtrit(df, 0.975)) * math.sqrt(variance * (1.0 / len(a) + 1.0 / len(b)))


def _luck(y: np.ndarray, fish: np.ndarray) -> float:
    share = float((y * fish).sum() / fish.sum()) if fish.sum() > 0 else 0.0
    return MEAN_OF_NORMAL * math.sqrt(
        share * (1.0 - share) * float((1.0 / np.maximum(fish, 1.0)).sum())
    )


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
