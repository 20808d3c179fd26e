"""Compare two methods with one value a unit: the decision table, in one place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import expit

from rearkit.design.design import Design
from rearkit.stats.compare.permutation import PermutationTest, permutation_test
from rearkit.stats.compare.unit_t import TTest, empirical_logit, t_blocks, t_two

if TYPE_CHECKING:
    from rearkit.design.readings import Reading

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Comparison:
    """Tested − usual for one outcome, as far as the layout lets it be said.

    Attributes
    ----------
    mean_usual, mean_tested : float
        Means over the units of each arm (over blocks of the block means, if clutches were split).
    estimate : float
        Tested − usual.
    conf_low, conf_high : float or None
        The interval that the decision table shows; None where none is shown, an infinite end
        where there is no finite one.
    interval_method, p_method : str or None
        How each was made.
    p_value : float or None
        The p that the decision table shows; None where none is claimed.
    p_min : float
        The smallest p that this layout could give.
    settled : bool
        Whether the p shown is at or below .05.
    permutation, t, welch : results or None
        Everything that was computed as counted, on the scale of the test.
    scale : str
        ``"values"``, or ``"logits"`` where nearly all or nearly none lived.
    readings : tuple of Reading
        Every reading of the log that the verdict was held against; empty where there is one only.
        ``p_value`` is then the largest of them, the interval reaches from the lowest end to the
        highest.
    """

    mean_usual: float
    mean_tested: float
    estimate: float
    conf_low: float | None
    conf_high: float | None
    interval_method: str | None
    p_value: float | None
    p_method: str | None
    p_min: float
    arrangements: int
    n_usual: int
    n_tested: int
    n_blocks: int
    tier: str
    permutation: PermutationTest | None
    t: TTest | None
    welch: TTest | None
    sd_ratio: float | None
    scale: str = "values"
    readings: tuple[Reading, ...] = ()

    @property
    def settled(self) -> bool:
        """Whether the p that is shown is at or below .05."""
        return self.p_value is not None and self.p_value <= 0.05


def unit_means(design: Design, by_batch: dict[str, float]) -> pd.Series:
    """Return the mean over the batches of every unit, indexed by unit."""
    return pd.Series(
        {
            u.unit: float(np.mean([by_batch[b] for b in u.batches]))
            for u in design.units.itertuples(index=False)
        },
        dtype=float,
    )


def arm_means(design: Design, values: pd.Series) -> tuple[float, float]:
    """Return the mean of the usual and of the tested arm: units equal in a block, blocks equal.

    Parameters
    ----------
    design : Design
        The layout, with both methods.
    values : Series, indexed by unit
        One value a unit.
    """
    y = values.reindex(design.units["unit"]).to_numpy(dtype=float)
    tested = design.units["tested"].to_numpy(dtype=bool)
    block = design.units["block"].fillna("all").to_numpy()
    arms = [
        [y[(block == name) & (tested == arm)].mean() for name in dict.fromkeys(block)]
        for arm in (False, True)
    ]
    return float(np.mean(arms[0])), float(np.mean(arms[1]))


NEARLY_ALL, NEARLY_NONE = 0.9, 0.1


def compare_units(
    design: Design, values: pd.Series, *, fish: pd.Series | None = None
) -> Comparison:
    """Compare the two arms of a design by one value a unit.

    Parameters
    ----------
    design : Design
        The layout; its units must all have a value.
    values : Series, indexed by unit
        The outcome of every unit.
    fish : Series, indexed by unit, optional
        For shares: how many fish each is worth. Where their mean is above .9 or below .1, p and
        interval both come from empirical logits, the interval translated back to shares.

    Returns
    -------
    Comparison
        The estimate, and the interval and p that the decision table allows.

    Notes
    -----
    Null hypothesis: the method makes no difference to any unit; units, not fish, are
    exchangeable (within clutches, if these were split). What is offered follows the number of
    units alone and never the result.
    """
    units = design.units
    shares = values.reindex(units["unit"]).to_numpy(dtype=float)
    tested = units["tested"].to_numpy(dtype=bool)
    blocks = list(units["block"]) if design.split else None
    usual_mean, tested_mean = arm_means(design, values)
    tier = design.tier
    y, logit = shares, False
    if fish is not None and not NEARLY_NONE <= float(values.mean()) <= NEARLY_ALL:
        n = fish.reindex(units["unit"]).to_numpy(dtype=float)
        y, logit = np.asarray(empirical_logit(shares * n, n)), True
    permutation = t = welch = None
    if tier in ("t", "both", "exact"):
        permutation = permutation_test(y, tested, blocks)
    if tier != "one":
        t = _t(y, tested, blocks)
    if tier == "both" or (design.n_blocks < 2 and tier in ("t", "exact")):
        welch = t_two(y, tested, welch=True)
    shown = _shown(tier, permutation, t, welch, logit)
    if logit:
        middle = (float(y[tested].mean()) + float(y[~tested].mean())) / 2.0
        shown = _back_to_shares(shown, middle, tested_mean - usual_mean)
    if fish is not None:
        shown = _possible(shown)
    return Comparison(
        mean_usual=usual_mean,
        mean_tested=tested_mean,
        estimate=tested_mean - usual_mean,
        p_min=design.p_min,
        arrangements=design.arrangements,
        n_usual=design.n_usual,
        n_tested=design.n_tested,
        n_blocks=design.n_blocks,
        tier=tier,
        permutation=permutation,
        t=t,
        welch=welch,
        sd_ratio=_sd_ratio(shares, tested),
        conf_low=shown.conf_low,
        conf_high=shown.conf_high,
        interval_method=shown.interval_method,
        p_value=shown.p_value,
        p_method=shown.p_method,
        scale="logits" if logit else "values",
    )


def _back_to_shares(shown: _Shown, middle: float, estimate: float) -> _Shown:
    """Translate an interval of logits into one of shares, both arms as far from the middle.

    The sign of each end stays, so that p and interval never contradict each other; the interval
    takes in the difference of the means.
    """
    if shown.conf_low is None or shown.conf_high is None:
        return shown
    low, high = (
        float(expit(middle + end / 2.0) - expit(middle - end / 2.0))
        for end in (shown.conf_low, shown.conf_high)
    )
    return replace(shown, conf_low=min(low, estimate), conf_high=max(high, estimate))


def _possible(shown: _Shown) -> _Shown:
    """Keep an interval of a difference of shares within what there can be: all against none."""
    if shown.conf_low is None or shown.conf_high is None or np.isinf(shown.conf_high):
        return shown
    return replace(shown, conf_low=max(shown.conf_low, -1.0), conf_high=min(shown.conf_high, 1.0))


@dataclass(frozen=True, kw_only=True)
class _Shown:
    conf_low: float | None = None
    conf_high: float | None = None
    interval_method: str | None = None
    p_value: float | None = None
    p_method: str | None = None


def _shown(
    tier: str,
    permutation: PermutationTest | None,
    t: TTest | None,
    welch: TTest | None,
    logit: bool,
) -> _Shown:
    """Pick what the decision table shows; it never looks at the size of p."""
    if t is None:
        return _Shown()
    if np.isnan(t.conf_low):
        return _without_spread(tier, permutation, t)
    on = "unit logits" if logit else "units"
    by_t = _Shown(conf_low=t.conf_low, conf_high=t.conf_high, interval_method=f"t on {on}")
    if permutation is None:
        return by_t
    if tier == "t":
        return replace(by_t, p_value=t.p_value, p_method=f"t on {on}")
    how = _how(permutation)
    by_rank = _Shown(
        conf_low=permutation.conf_low,
        conf_high=permutation.conf_high,
        interval_method=f"{how}, inverted",
        p_value=permutation.p_value,
        p_method=how,
    )
    if tier == "exact" or welch is None:
        return by_rank
    return _larger(by_rank, permutation, welch)


def _how(permutation: PermutationTest) -> str:
    return "exact arrangements" if permutation.exact else "99,999 random arrangements"


def _without_spread(tier: str, permutation: PermutationTest | None, t: TTest) -> _Shown:
    """Show what can be shown where the units of each arm all fared alike: never an interval."""
    if permutation is None:
        return _Shown()
    if tier == "t":  # t knows p only where the arms agree as well
        alike = not np.isnan(t.p_value)
        return _Shown(p_value=1.0 if alike else None, p_method="all alike" if alike else None)
    return _Shown(p_value=permutation.p_value, p_method=_how(permutation))


def _larger(by_rank: _Shown, permutation: PermutationTest, welch: TTest) -> _Shown:
    """Unequal arms: the larger p and the wider interval of permutation and Welch."""
    p_welch = welch.p_value
    use_welch_p = not np.isnan(p_welch) and p_welch > permutation.p_value
    wide_welch = welch.conf_high - welch.conf_low > permutation.conf_high - permutation.conf_low
    return _Shown(
        conf_low=welch.conf_low if wide_welch else permutation.conf_low,
        conf_high=welch.conf_high if wide_welch else permutation.conf_high,
        interval_method="Welch t on units" if wide_welch else by_rank.interval_method,
        p_value=p_welch if use_welch_p else permutation.p_value,
        p_method="Welch t on units" if use_welch_p else by_rank.p_method,
    )


def _t(y: Floats, tested: NDArray[np.bool_], blocks: list[str] | None) -> TTest | None:
    """Pooled t, or t on block differences; None where there is no spread to judge by."""
    if blocks is None or len(set(blocks)) == 1:
        return t_two(y, tested) if y.size > 2 else None
    return t_blocks(y, tested, blocks)


def _sd_ratio(y: Floats, tested: NDArray[np.bool_]) -> float | None:
    """Spread of the smaller arm over that of the larger; None if either cannot be told."""
    arms = sorted((y[tested], y[~tested]), key=len)
    if len(arms[0]) < 2 or len(arms[0]) == len(arms[1]):
        return None
    larger = float(np.std(arms[1], ddof=1))
    return float(np.std(arms[0], ddof=1)) / larger if larger > 0 else None
