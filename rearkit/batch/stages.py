"""Mortality by stage of age, batch by batch."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from rearkit.stats.survival.lifetable import stage_mortality

STAGES = (0.0, 7.0, 14.0, 28.0)  # ages at which a stage begins; the last runs to the end


def stages_by_batch(
    units: pd.DataFrame,
    fates: dict[str, pd.DataFrame],
    edges: Sequence[float] = STAGES,
) -> pd.DataFrame:
    """Estimate the death rate a day of every batch in every stage that it was watched in.

    Parameters
    ----------
    units : DataFrame
        ``method`` and ``batches`` of every unit, as a design lists them.
    fates : dict of DataFrame
        The rows of ``log.fates`` of every batch.
    edges : sequence of float
        Ages in days at which a stage begins; the last one runs to the end.

    Returns
    -------
    DataFrame
        One row a batch and stage: ``age_from``, ``age_to``, ``z_per_day``, ``survival``.
    """
    rows = []
    for unit in units.itertuples(index=False):
        for b in unit.batches:
            f = fates[b]
            first, last = float(f["age_from"].iloc[0]), float(f["age_to"].iloc[-1])
            if last <= first:
                continue  # nobody looked
            inside = [e for e in edges if first < e < last]
            cuts = np.array([first, *inside, last])
            gone = (f["dead_found"] + f["missing"]).to_numpy(dtype=float)
            z = stage_mortality(
                f["age_from"].to_numpy(dtype=float),
                f["age_to"].to_numpy(dtype=float),
                f["at_risk"].to_numpy(dtype=float),
                gone,
                cuts,
            )
            for low, high, rate in zip(cuts[:-1], cuts[1:], np.atleast_1d(z), strict=True):
                rows.append(
                    {
                        "batch": b,
                        "method": unit.method,
                        "age_from": float(low),
                        "age_to": float(high),
                        "z_per_day": float(rate),
                        "survival": float(np.exp(-rate * (high - low))),
                    }
                )
    columns = ["batch", "method", "age_from", "age_to", "z_per_day", "survival"]
    return pd.DataFrame(rows, columns=columns)
