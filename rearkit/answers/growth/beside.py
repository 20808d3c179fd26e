"""What stands beside growth: how many fish lived, how crowded they were, who was lost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from rearkit.batch.growth import ContainerGrowth
from rearkit.batch.survival import BatchSurvival
from rearkit.design.design import Design
from rearkit.design.judging_day import JudgingDay, choose_day
from rearkit.design.unit_survival import follow_batches
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook
from rearkit.stats.growth.day_spread import share_at_least
from rearkit.stats.growth.growth_rates import smallest_lost_shift

FRY = 20.0
ALL_LOST = 0.999  # above this share lost, nothing is said of the mean of the few that are left


@dataclass(frozen=True, kw_only=True, eq=False)
class BesideGrowth:
    """Survival of the same containers to the day on which they are measured.

    Attributes
    ----------
    chosen : JudgingDay or None
        The day and the landmark; None if survival cannot be followed to it.
    by_batch : dict of BatchSurvival
        Every batch that can be followed.
    """

    chosen: JudgingDay | None
    by_batch: dict[str, BatchSurvival]

    def survival(self, batch: str) -> float:
        """Give the share alive on the day; nan if the batch was not watched up to it."""
        if self.chosen is None or batch not in self.by_batch:
            return float("nan")
        return self.by_batch[batch].survival

    def curves(self) -> dict[str, pd.DataFrame]:
        """Return the survival curve of every batch."""
        return {b: s.curve for b, s in self.by_batch.items()}


def survival_beside(log: Logbook, design: Design, day: float, seed: int) -> BesideGrowth:
    """Follow every batch of the layout to the day on which its fish are measured.

    Parameters
    ----------
    log, design
        The log and its layout.
    day : float
        The day.
    seed : int
        Seeds each batch's own interval.

    Returns
    -------
    BesideGrowth
        Empty where the day lies before the batches were first watched together.
    """
    try:
        chosen = choose_day(log, design, day)
    except DesignError:
        return BesideGrowth(chosen=None, by_batch={})
    watched = [all(_watched(chosen, b) for b in batches) for batches in design.units["batches"]]
    followed = replace(design, units=design.units[watched])
    return BesideGrowth(chosen=chosen, by_batch=follow_batches(log, followed, chosen, seed))


def _watched(chosen: JudgingDay, batch: str) -> bool:
    day = chosen.day_of(batch)
    return chosen.firsts[batch] < day <= chosen.lasts[batch] and chosen.landmark < day


def beside_columns(
    batch: str,
    container: ContainerGrowth | None,
    beside: BesideGrowth,
    litres: Mapping[str, float],
    *,
    day: float,
    length_mm: float | None,
) -> dict[str, float]:
    """Return survival, crowding, the bound on lost runts and the joint outcome of one batch.

    Parameters
    ----------
    batch : str
        The batch.
    container : ContainerGrowth or None
        Its growth; None if it was not measured.
    beside : BesideGrowth
        Survival of all batches.
    litres : mapping
        Water of every batch, nan where it is not known.
    day : float
        The day of the lengths.
    length_mm : float or None
        The length of the joint outcome.

    Returns
    -------
    dict
        ``survival``, ``alive``, ``fish_per_litre``, ``runts_lost_mm`` (by how much the loss of
        the smallest alone could have raised the mean: the shift of a normal mean, times CV and
        mean), ``share_long_enough`` and ``long_enough_of_20``.
    """
    survival = beside.survival(batch)
    known = np.isfinite(survival)
    alive = beside.by_batch[batch].alive if known else float("nan")
    cv = container.cv if container is not None else float("nan")
    length = container.length_at(day) if container is not None else float("nan")
    lost = 1.0 - survival if known else float("nan")
    shift = float(smallest_lost_shift(lost)) if 0 <= lost < ALL_LOST else float("nan")
    share = float("nan") if length_mm is None else float(share_at_least(length_mm, length, cv))
    joint = 0.0 if survival == 0 and length_mm is not None else FRY * survival * share
    return {
        "survival": survival,
        "alive": alive,
        "fish_per_litre": alive / litres.get(batch, float("nan")),
        "runts_lost_mm": shift * cv * length,
        "share_long_enough": share,
        "long_enough_of_20": joint,
    }
