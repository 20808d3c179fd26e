"""Fish for the demo logs: how they live, die, are found, are counted and are looked after."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(kw_only=True)
class Day:
    """What is true of one container at the end of one day, and what its keeper saw."""

    age: int
    alive: int
    dead: int | None  # bodies found since the last look; None where nobody looked
    removed: int


def beta_around(rng: np.random.Generator, mean: float, icc: float) -> float:
    """Draw a container's true survival around a mean, with this correlation within containers."""
    size = (1 - icc) / icc
    return float(np.clip(rng.beta(mean * size, (1 - mean) * size), 0.05, 0.97))


def rear(
    rng: np.random.Generator,
    fry: int,
    hazards: dict[int, float],
    *,
    found: float,
    looks: set[int],
    removed: dict[int, int] | None = None,
) -> list[Day]:
    """Follow one container day by day: a fish lives, dies and is found or lost, or is taken out."""
    days, alive, bodies = [], fry, 0
    for age, hazard in hazards.items():
        deaths = int(rng.binomial(alive, 1 - np.exp(-hazard)))
        bodies += int(rng.binomial(deaths, found))
        taken = min((removed or {}).get(age, 0), alive - deaths)
        alive -= deaths + taken
        days.append(Day(age=age, alive=alive, dead=bodies if age in looks else None, removed=taken))
        bodies = 0 if age in looks else bodies
    return days


def early_peak(survival: float, last: int, worst_age: float) -> dict[int, float]:
    """Share a container's whole hazard over days, most of it around the worst age."""
    ages = np.arange(1, last + 1)
    weight = np.exp(-0.5 * ((ages - worst_age) / 2.3) ** 2) + 0.1
    hazards = -np.log(survival) * weight / weight.sum()
    return {int(age): float(h) for age, h in zip(ages, hazards, strict=True)}


def as_counted(rng: np.random.Generator, fry: int) -> str | int:
    """Write a true count as a keeper might: exactly, as a range, or as about so many."""
    kind = rng.choice(["range", "about", "exact"], p=[0.6, 0.2, 0.2])
    if kind == "exact":
        return fry
    if kind == "about":
        return f"~{int(5 * round(fry / 5))}"
    below, above = rng.integers(1, 4, size=2)
    return f"{fry - below}-{fry + above}"
