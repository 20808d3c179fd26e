"""Whether the death rate changed more where an event fell: one value a clutch, or nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.answers.interruption.before_and_after import Passage
from rearkit.design.claims import fair_minimum
from rearkit.design.comparison import Comparison
from rearkit.design.design import Design, lay_out
from rearkit.design.readings import Known, coarser_way, weigh
from rearkit.logbook.logbook import Logbook


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """The change of the death rate where the event fell, over that where it did not.

    Attributes
    ----------
    n_hit, n_beside : int
        Units: clutches, or containers where no clutch is known.
    unit : str
        ``"clutch"`` or ``"container"``.
    ratio : float
        Geometric means over units: how many times the change of the others.
    conf_low, conf_high : float or None
        Over every reading of the log; None where the units show no spread.
    p_value : float or None
        The largest over every reading; None where one has too few units, or they point both ways.
    p_method : str or None
    settled_by_bodies : bool
        Whether bodies alone, with clutches as units, would settle it.
    """

    n_hit: int
    n_beside: int
    unit: str
    ratio: float
    conf_low: float | None
    conf_high: float | None
    p_value: float | None
    p_method: str | None
    settled_by_bodies: bool

    @property
    def settled(self) -> bool:
        """Whether p is at or below .05 in every reading."""
        return self.p_value is not None and self.p_value <= 0.05


def through_all_ages(
    hit: Mapping[str, Passage], beside: Mapping[str, Mapping[str, Passage]]
) -> dict[str, list[Passage]]:
    """Return the broods that passed all the ages at which the event fell, with every passage.

    Parameters
    ----------
    hit : mapping of Passage
        The broods it fell on.
    beside : mapping of mapping of Passage
        For every one of them, the broods that passed its ages.
    """
    whole = [name for name, p in hit.items() if p.whole]
    if not whole:
        return {}
    names = set.intersection(*(set(beside[h]) for h in whole))
    return {n: [beside[h][n] for h in whole] for n in sorted(names)}


def units_of(names: list[str], clutches: Mapping[str, str | None]) -> dict[str, list[str]]:
    """Put the broods of one clutch together; one of no known clutch stands alone."""
    units: dict[str, list[str]] = {}
    for name in sorted(names):
        clutch = clutches[name]
        units.setdefault(f"brood {name}" if clutch is None else f"clutch {clutch}", []).append(name)
    return units


def sides_of(
    hit: Mapping[str, Passage], beside: Mapping[str, Mapping[str, Passage]]
) -> dict[bool, dict[str, list[str]]]:
    """Return the units that could be tested, and the broods in each: hit (True) and not (False)."""
    clutches = {p.brood.name: p.brood.clutch for ps in (hit, *beside.values()) for p in ps.values()}
    mine = [n for n, p in hit.items() if p.whole]
    others = list(through_all_ages(hit, beside))
    return {False: units_of(others, clutches), True: units_of(mine, clutches)}


def judge_event(
    log: Logbook,
    hit: Mapping[str, Passage],
    beside: Mapping[str, Mapping[str, Passage]],
) -> Verdict | None:
    """Judge the change of the death rate over containers; None where there are too few.

    Parameters
    ----------
    log : Logbook
    hit, beside
        As in ``through_all_ages``.

    Returns
    -------
    Verdict or None
        None with fewer units on either side than a fair test needs (four).

    Notes
    -----
    One value a container: the change of its log death rate, at its own age where the event fell
    on it, else the mean over the ages at which it fell on others; containers of one clutch are
    averaged. A container that did not pass all these ages takes no part, so both sides have the
    same ages and a fall that comes with age cancels. Null hypothesis: whom the event fell on made
    no difference. Pairs and water systems of one side, and those that vanished taken as dead, are
    other readings; the largest p and the widest range are given.
    """
    others = through_all_ages(hit, beside)
    mine = {n: [p] for n, p in hit.items() if p.whole}
    sides = sides_of(hit, beside)
    least = fair_minimum()["per_arm"]
    if min(len(units) for units in sides.values()) < least:
        return None
    known = all(ps[0].brood.clutch is not None for ps in (mine | others).values())
    design = _design(sides, "clutch" if known else "container")
    values = [
        pd.Series(
            {
                n: float(np.mean([p.change(with_missing=gone) for p in ps]))
                for n, ps in (mine | others).items()
            }
        )
        for gone in (False, True)
    ]
    rows = log.batches.set_index("batch").reindex(values[0].index)
    groups = {"pairs": rows["parents"].dropna(), "water": rows["water"].dropna()}
    groups["water"] = groups["water"][groups["water"].astype(str).str.casefold() != "own"]
    ways = [coarser_way(c, design, g.astype(str).to_dict()) for c, g in groups.items()]
    found = [weigh(design, Known.exactly(v), [w for w in ways if w is not None]) for v in values]
    return _verdict(design, found)


def _design(sides: Mapping[bool, Mapping[str, list[str]]], unit: str) -> Design:
    rows = [
        {
            "unit": f"{name}, {'hit' if tested else 'not hit'}",
            "block": None,
            "method": "hit" if tested else "not hit",
            "tested": tested,
            "batches": tuple(batches),
        }
        for tested, units in sides.items()
        for name, batches in units.items()
    ]
    return lay_out(
        pd.DataFrame(rows),
        compare="event",
        usual="not hit",
        tested="hit",
        unit=unit,
        split=False,
    )


def _verdict(design: Design, found: list[Comparison]) -> Verdict:
    """Join what the bodies say and what the vanished would make of it."""
    ps = [c.p_value for c in found]
    lows = [c.conf_low for c in found if c.conf_low is not None]
    highs = [c.conf_high for c in found if c.conf_high is not None]
    opposed = all(c.settled for c in found) and found[0].estimate * found[1].estimate < 0
    known = [p for p in ps if p is not None]
    whole = len(known) == len(ps) and not opposed
    worst = max(found, key=lambda c: -1.0 if c.p_value is None else c.p_value)
    first = found[0].readings[0] if found[0].readings else found[0]
    return Verdict(
        n_hit=design.n_tested,
        n_beside=design.n_usual,
        unit=design.unit,
        ratio=float(np.exp(found[0].estimate)),
        conf_low=float(np.exp(min(lows))) if len(lows) == len(found) else None,
        conf_high=float(np.exp(max(highs))) if len(highs) == len(found) else None,
        p_value=max(known) if whole else None,
        p_method=worst.p_method if whole else None,
        settled_by_bodies=bool(first.settled),
    )
