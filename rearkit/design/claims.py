"""How far the words about a comparison may go, and the least that could take them further."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rearkit.design.design import FAIR_P, Design
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


CLAIMS = ("one batch", "pattern", "association", "fair but too small", "fair test", "repeated")


@dataclass(frozen=True, kw_only=True)
class Claim:
    """How far the words may go: a level of the claim ladder, and what took it down."""

    level: int
    before: int
    downgrades: tuple[str, ...]


def claim(design: Design, downgrades: Iterable[str] = ()) -> Claim:
    """Place a comparison on the claim ladder.

    Parameters
    ----------
    design : Design
        The layout as analysed.
    downgrades : iterable of str
        One code for each thing that costs a step.

    Returns
    -------
    Claim
        Level 0 to 4; one step less for each downgrade, though a comparison stays a pattern (1).
    """
    steps = tuple(dict.fromkeys(downgrades))
    if design.tier in ("single", "one"):
        return Claim(level=0, before=0, downgrades=())
    if design.tier == "pattern":
        return Claim(level=1, before=1, downgrades=steps)
    before = 2 if not design.fair else (3 if design.tier == "t" else 4)
    return Claim(level=max(before - len(steps), 1), before=before, downgrades=steps)
