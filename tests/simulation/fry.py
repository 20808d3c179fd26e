"""Fry whose truth is known: the tub of each, the age at which it died, and whether it was found."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from tests.simulated_trials import SimulatedTrials, simulate_trials

LAST_DAY = 28
LIVES_ON = LAST_DAY + 1
"""The age of death of a fry that lives to the last day."""
ICCS = (0.02, 0.08, 0.20)
HAZARD = np.exp(-np.arange(LAST_DAY) / 8.0)
DEATHS_BY = np.concatenate([[0.0], HAZARD.cumsum() / HAZARD.sum()])
"""Share of the deaths of 28 days that come by each age, most of them early."""
TRUTH_RUNS, MANY_FISH = 4_000, 1_000_000


@dataclass(frozen=True, kw_only=True)
class Layout:
    """Who was kept where, and how many of them would live.

    Attributes
    ----------
    n_usual, n_tested : int
        Containers of each arm; in each clutch where clutches are split.
    survival : (float, float)
        True survival to the last day, usual and tested.
    split_clutches : int, optional
        How many clutches are split between the arms.
    groups : int, optional
        How many groups (clutches, pairs or water systems) each arm has of its own; they share its
        containers evenly.
    group_sd : float
        Standard deviation of split clutches, or of groups, in log odds of survival.
    fish : (int, int)
        Fewest and most fry in a container.
    outbreaks : float
        Share of containers with an outbreak: on one day from 3 to 27 a share from .2 to .8 of the
        fry in them dies.
    """

    n_usual: int = 6
    n_tested: int = 6
    survival: tuple[float, float] = (0.6, 0.6)
    split_clutches: int | None = None
    groups: int | None = None
    group_sd: float = 0.0
    fish: tuple[int, int] = (25, 80)
    outbreaks: float = 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Fry:
    """Every fry of one trial.

    Attributes
    ----------
    tested, group : (n,) arrays
        Arm and group (split clutch, or group of the arm) of each container.
    tub : (N,) int array
        The container of each fry.
    died : (N,) int array
        Age at death in days; ``LIVES_ON`` if alive on the last day.
    found : (N,) bool array
        Whether its body, if it died, is found at the next look.
    """

    tested: NDArray[np.bool_]
    group: NDArray[np.int64]
    tub: NDArray[np.int64]
    died: NDArray[np.int64]
    found: NDArray[np.bool_]


def raise_fry(layout: Layout, *, icc: float, detection: tuple[float, float], seed: int) -> Fry:
    """Draw the fate of every fry of one trial; ``detection`` is that of the usual, the tested."""
    trials, kept = _trials(layout, icc, runs=1, seed=seed, fish=layout.fish, detection=detection)
    rng = np.random.default_rng([seed, 1])
    started, dead, found = (
        getattr(trials, name)[0, kept] for name in ("started", "alive", "found_dead")
    )
    dead = started - dead
    tub = np.repeat(np.arange(started.size), started)
    place = np.arange(tub.size) - np.repeat(started.cumsum() - started, started)
    ages = 1 + np.searchsorted(DEATHS_BY[1:], rng.random(tub.size))
    died = np.where(place < dead[tub], ages, LIVES_ON)
    seen = place < found[tub]
    tested = trials.tested[kept]
    if layout.outbreaks:
        hit = (rng.random(started.size) < layout.outbreaks)[tub]
        on = rng.integers(3, LAST_DAY, size=started.size)[tub]
        hit &= (died > on) & (rng.random(tub.size) < rng.uniform(0.2, 0.8, started.size)[tub])
        died = np.where(hit, on, died)
        rates = np.where(tested, detection[1], detection[0])[tub]
        seen = np.where(hit, rng.random(tub.size) < rates, seen)
    return Fry(tested=tested, group=trials.clutch[kept], tub=tub, died=died, found=seen)


@cache
def true_difference(layout: Layout, icc: float, landmark: float, day: float) -> float:
    """Return tested − usual in expected survival from one age to another.

    Notes
    -----
    Exactly 0 where the arms are alike; else the mean over 4,000 trials of very many fish, whose
    shares alive are the chances themselves.
    """
    if layout.survival[0] == layout.survival[1]:
        return 0.0
    fish = (MANY_FISH, MANY_FISH)
    trials, kept = _trials(layout, icc, runs=TRUTH_RUNS, seed=97, fish=fish, detection=(1.0, 1.0))
    chance, tested = trials.survival[:, kept], trials.tested[kept]
    ages = np.arange(LAST_DAY + 1)
    gone = (np.interp(age, ages, DEATHS_BY) for age in (landmark, day))
    first, last = (1.0 - (1.0 - chance) * share for share in gone)
    spared = 1.0 - 0.5 * layout.outbreaks * np.clip((day - 3.0) / (LAST_DAY - 4.0), 0.0, 1.0)
    alive = spared * last / np.maximum(first, 1e-9)
    return float(alive[:, tested].mean() - alive[:, ~tested].mean())


def _trials(
    layout: Layout,
    icc: float,
    *,
    runs: int,
    seed: int,
    fish: tuple[int, int],
    detection: tuple[float, float],
) -> tuple[SimulatedTrials, NDArray[np.bool_]]:
    """Simulate the trials, and tell which of their containers are those of the layout.

    Groups of one arm are drawn as clutches that are split, of which one half each is kept.
    """
    n_usual, n_tested, blocks = layout.n_usual, layout.n_tested, layout.split_clutches
    if layout.groups is not None:
        n_usual = n_tested = layout.n_usual // layout.groups
        blocks = 2 * layout.groups
    trials = simulate_trials(
        runs=runs,
        seed=seed,
        n_usual=n_usual,
        n_tested=n_tested,
        survival_usual=layout.survival[0],
        survival_tested=layout.survival[1],
        fish=fish,
        icc=icc,
        split_clutches=blocks,
        clutch_sd=layout.group_sd,
        missing_usual=1.0 - detection[0],
        missing_tested=1.0 - detection[1],
    )
    if layout.groups is None:
        return trials, np.ones(trials.tested.size, dtype=bool)
    return trials, trials.tested == (trials.clutch >= layout.groups)
