"""How far the words about a comparison may go, and the least that could take them further."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from rearkit.design.comparison import Comparison
from rearkit.design.design import FAIR_P, Design
from rearkit.design.readings import Reading, agree
from rearkit.stats.compare.permutation import smallest_p


def fair_minimum() -> dict[str, int]:
    """Return the fewest units with which a fair test can fall to p .05: computed, not typed.

    Returns
    -------
    dict
        ``per_arm`` (units an arm, clutches not split) and ``split_clutches`` (one container of
        each method in every clutch).
    """
    per_arm = next(k for k in range(2, 50) if smallest_p([k], [k])[0] <= FAIR_P)
    split = next(k for k in range(2, 50) if smallest_p([1] * k, [1] * k)[0] <= FAIR_P)
    return {"per_arm": per_arm, "split_clutches": split}


LEVELS = (
    "one batch",
    "too few to tell",
    "association",
    "fair but too small",
    "fair test",
    "repeated",
)
UNSETTLED_MOST, INTERIM_MOST = 2, 1


@dataclass(frozen=True, kw_only=True)
class Claim:
    """How far the words may go: a level of the claim ladder, and what took it down.

    Attributes
    ----------
    level, before : int
        The level, and what the units alone would allow.
    downgrades : tuple of str
        What cost a step each.
    unsure : bool
        Whether the readings of the log do not say the same.
    """

    level: int
    before: int
    downgrades: tuple[str, ...]
    unsure: bool = False


def claim(
    design: Design,
    downgrades: Iterable[str] = (),
    *,
    readings: tuple[Reading, ...] = (),
    interim: bool = False,
) -> Claim:
    """Place a comparison on the claim ladder.

    Parameters
    ----------
    design : Design
        The layout as analysed.
    downgrades : iterable of str
        One code for each thing that costs a step.
    readings : tuple of Reading
        Every reading of the log: none may have fewer units than the level asks for, and where
        they do not agree nothing is claimed above ``UNSETTLED_MOST``. They cost no step besides.
    interim : bool
        Whether the trial still runs: nothing above ``INTERIM_MOST``.

    Returns
    -------
    Claim
        Level 0 to 4; one step less for each downgrade, though a comparison stays at 1.
    """
    steps = tuple(dict.fromkeys(downgrades))
    if design.tier in ("single", "one"):
        return Claim(level=0, before=0, downgrades=())
    before = min(
        [_of_tier(design.tier, design.fair), *(_of_tier(r.tier, design.fair) for r in readings)]
    )
    level = max(before - len(steps), 1)
    unsure = not agree(readings)
    if unsure:
        level = min(level, UNSETTLED_MOST)
    return Claim(
        level=min(level, INTERIM_MOST) if interim else level,
        before=before,
        downgrades=steps,
        unsure=unsure,
    )


def beside_survival(level: Claim, survival: Comparison | None) -> Claim:
    """Hold the claim of another outcome down where the readings of survival do not agree.

    Parameters
    ----------
    level : Claim
        Of the outcome itself.
    survival : Comparison or None
        As ``weigh_survival`` gives it.
    """
    if survival is None or agree(survival.readings):
        return level
    return replace(level, level=min(level.level, UNSETTLED_MOST), unsure=True)


def _of_tier(tier: str, fair: bool) -> int:
    if tier in ("single", "one", "few"):
        return 1
    if not fair:
        return 2
    return 3 if tier == "t" else 4
