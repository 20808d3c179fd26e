"""Make up small rearing trials whose truth is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

from rearkit.errors import DesignError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, eq=False)
class SimulatedTrials:
    """Hold many simulated runs of one layout.

    Attributes
    ----------
    tested : (n,) bool array
        The arm of each container, the same in every run.
    clutch : (n,) int array
        The clutch of each container.
    started, alive, found_dead, missing : (runs, n) int array
        Fish of each container; the last three sum to the first.
    """

    tested: NDArray[np.bool_]
    clutch: IntArray
    started: IntArray
    alive: IntArray
    found_dead: IntArray
    missing: IntArray

    @property
    def survival(self) -> FloatArray:
        """Share of the started that is alive, (runs, n)."""
        return np.asarray(self.alive / self.started)


def simulate_trials(
    *,
    runs: int,
    seed: int,
    n_usual: int,
    n_tested: int,
    survival_usual: float,
    survival_tested: float,
    fish: tuple[int, int],
    icc: float,
    split_clutches: int | None = None,
    clutch_sd: float = 0.0,
    missing_usual: float = 0.1,
    missing_tested: float = 0.1,
) -> SimulatedTrials:
    """Simulate survivors, dead and missing fish of small trials.

    Parameters
    ----------
    runs : int
        How many trials.
    seed : int
        Seed of the random numbers.
    n_usual, n_tested : int
        Containers of each arm; within each clutch if clutches are split.
    survival_usual, survival_tested : float
        True survival in a typical clutch, between 0 and 1.
    fish : (int, int)
        Fewest and most fish started in a container, every number alike.
    icc : float
        Correlation of two fish of one container beyond their clutch, from 0 to below 1.
    split_clutches : int, optional
        How many clutches are split between the arms; None gives every container its own clutch.
    clutch_sd : float
        Standard deviation of clutches in log odds of survival.
    missing_usual, missing_tested : float
        Share of the dead of each arm that is never found.

    Returns
    -------
    SimulatedTrials
        Containers in the same order in every run.

    Raises
    ------
    DesignError
        If a share or a number of fish or containers is not possible.

    Notes
    -----
    A container's own chance of survival is beta distributed about that of its clutch and method,
    so survivors are beta-binomial. Without clutch spread the difference of expected survival is
    exactly ``survival_tested - survival_usual``.

    Examples
    --------
    >>> trials = simulate_trials(runs=2, seed=1, n_usual=3, n_tested=3, survival_usual=0.7,
    ...     survival_tested=0.7, fish=(30, 40), icc=0.1)
    >>> trials.alive.shape, bool((trials.alive <= trials.started).all())
    ((2, 6), True)
    """
    shares = (survival_usual, survival_tested)
    if not all(0 < share < 1 for share in shares) or not 0 <= icc < 1 or clutch_sd < 0:
        raise DesignError(
            f"Survival of {survival_usual:g} and {survival_tested:g}, a correlation of {icc:g} and "
            f"a clutch spread of {clutch_sd:g} cannot be simulated",
            todo="Survival lies between 0 and 1, the correlation from 0 to below 1.",
        )
    if not (1 <= fish[0] <= fish[1] and min(n_usual, n_tested) >= 1):
        raise DesignError(
            f"{n_usual} and {n_tested} containers of {fish[0]} to {fish[1]} fish are no trial"
        )
    rng = np.random.default_rng(seed)
    one_clutch = np.repeat([False, True], [n_usual, n_tested])
    tested = np.tile(one_clutch, 1 if split_clutches is None else split_clutches)
    per_clutch = 1 if split_clutches is None else one_clutch.size
    clutch = np.arange(tested.size) // per_clutch
    spread = clutch_sd * rng.standard_normal((runs, int(clutch.max()) + 1))
    typical = expit(logit(np.where(tested, shares[1], shares[0])) + spread[:, clutch])
    own = typical if icc == 0 else rng.beta(*_beta_shape(typical, icc))
    started = rng.integers(fish[0], fish[1], size=typical.shape, endpoint=True)
    alive = rng.binomial(started, own)
    lost = np.broadcast_to(np.where(tested, missing_tested, missing_usual), alive.shape)
    missing = rng.binomial(started - alive, lost)
    return SimulatedTrials(
        tested=tested,
        clutch=clutch,
        started=started,
        alive=alive,
        found_dead=started - alive - missing,
        missing=missing,
    )


def _beta_shape(mean: FloatArray, icc: float) -> tuple[FloatArray, FloatArray]:
    """Find the two shapes of a beta with this mean and correlation of two fish."""
    size = (1 - icc) / icc
    return mean * size, (1 - mean) * size
