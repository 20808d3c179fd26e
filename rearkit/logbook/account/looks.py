"""The looks at the fish of one unit, and the one history of them that is shown "as counted"."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rearkit.logbook.account.bounds import Cells, holding_both, least_alive, possible, whole

Floats = NDArray[np.float64]

FEWEST_BODIES = 5  # with fewer bodies, or less than half of the loss, the missing go by days


def window(day: float) -> float:
    """Return how many days a full count may lie beside a day and still speak for it.

    Examples
    --------
    >>> window(28)
    2.0
    """
    return float(max(1, day // 10))


@dataclass(frozen=True, kw_only=True, eq=False)
class Looks:
    """What was typed about the fish of one unit, look by look; counts are (low, best, high).

    Attributes
    ----------
    age_start : float
        Age in days at which the fish were first there.
    start : (3,) array
        Fish at the start; 0, NaN, infinity where nobody counted them.
    age : (k,) array
        Ages in days of the looks, not falling.
    dead, out, into : (k, 3) array
        Bodies found, fish taken out alive and fish put in since the look before.
    ill : (k, 3) array
        Of those taken out: sick, runts or without a reason.
    alive : (k, 3) array
        Fish alive after the look. ``best`` is NaN where they were not all counted; the ends then
        say what counts of a part of them leave possible (0 to infinity where there are none).
    """

    age_start: float
    start: Floats
    age: Floats
    dead: Floats
    out: Floats
    ill: Floats
    into: Floats
    alive: Floats

    @property
    def start_known(self) -> bool:
        """Whether the fish were counted at the start."""
        return not np.isnan(self.start[1])

    @cached_property
    def age_from(self) -> Floats:
        """Age at which the interval of every look begins, shape (k,)."""
        return np.concatenate([[self.age_start], self.age])[:-1]

    @cached_property
    def full(self) -> NDArray[np.bool_]:
        """Whether every fish was counted, with both ends finite, at each look, shape (k,)."""
        return ~np.isnan(self.alive[:, 1]) & np.isfinite(self.alive).all(axis=1)

    @cached_property
    def cells(self) -> Cells:
        """The same as whole fish, for the bounds."""
        return Cells(
            age_start=self.age_start,
            start=whole(self.start, unknown=(0.0, np.inf)),
            age=self.age,
            dead=whole(self.dead, unknown=(0.0, 0.0)),
            out=whole(self.out, unknown=(0.0, 0.0)),
            into=whole(self.into, unknown=(0.0, 0.0)),
            alive=whole(self.alive, unknown=(0.0, np.inf)),
        )

    @cached_property
    def brackets(self) -> tuple[tuple[int, int], ...]:
        """First and last look of every stretch that ends in a full count, or in the last look."""
        ends = [int(i) for i in np.flatnonzero(self.full)]
        if self.age.size and (not ends or ends[-1] != self.age.size - 1):
            ends.append(self.age.size - 1)
        firsts = [0, *(end + 1 for end in ends[:-1])]
        return tuple(zip(firsts, ends, strict=False))


@dataclass(frozen=True, kw_only=True, eq=False)
class History:
    """One history of the fish: what became of them at every look; arrays of shape (k,).

    Attributes
    ----------
    start : float
        Fish at the start.
    at_risk : array
        Fish alive before the look.
    dead, missing : array
        Found dead, and lost without a body; both are losses.
    out, into : array
        Taken out alive after the losses, and put in after that.
    """

    start: float
    at_risk: Floats
    dead: Floats
    missing: Floats
    out: Floats
    into: Floats

    @property
    def left(self) -> Floats:
        """Fish alive after the losses of each look."""
        return self.at_risk - self.dead - self.missing

    @property
    def after(self) -> Floats:
        """Fish alive after each look."""
        return self.left - self.out + self.into

    @property
    def ratio(self) -> Floats:
        """Share of those at risk that each look left alive (1 where nobody was at risk)."""
        risk = np.where(self.at_risk > 0, self.at_risk, 1.0)
        return np.where(self.at_risk > 0, self.left / risk, 1.0)


def as_counted(looks: Looks) -> History | None:
    """Tell the history that lies nearest to the best values and is allowed by every cell.

    Parameters
    ----------
    looks : Looks
        What was typed.

    Returns
    -------
    History or None
        None if no history fits the cells. Full counts that contradict each other are first
        widened until each takes in what the other says.

    Notes
    -----
    Ranges give way to what was typed exactly: between two full counts the best values of bodies,
    fish taken out, fish put in and the closing count move together, in proportion to the room
    that their ranges leave, until nobody has risen from the dead. A start or a count whose range
    later facts cut off below is the middle of what is left of it. What the bodies do not explain
    is missing. It goes by the bodies found if these are at least five and half of the loss,
    otherwise evenly by day; what a look cannot lose waits for the next. An unknown start is the
    least that makes all later cells possible: at best.
    """
    cells, _ = holding_both(looks.cells)
    if not possible(cells):
        return None
    needed = least_alive(cells)
    start = _within(looks.start[1], cells.start, needed[0])
    best = {name: _best(looks, cells, name) for name in ("dead", "out", "into")}
    lost = np.zeros((5, looks.age.size))  # at risk, dead, missing, out, into
    now = start
    for first, last in looks.brackets:
        part = slice(first, last + 1)
        end = np.nan
        if looks.full[last]:
            floor = max(needed[last + 1], cells.into[last, 0])
            end = _within(looks.alive[last, 1], cells.alive[last], floor)
        flows, end = _give_way(cells, part, {k: v[part] for k, v in best.items()}, now, end)
        least = needed[first + 1 : last + 2] if np.isnan(end) else _least(cells, part, end)
        most = cells.alive[part, 1].copy()
        most[-1] = most[-1] if np.isnan(end) else end
        days = looks.age[part] - looks.age_from[part]
        vanished = 0.0
        if not np.isnan(end):
            vanished = now - end + float((flows["into"] - flows["dead"] - flows["out"]).sum())
        planned = max(vanished, 0.0) * _weights(flows["dead"], days, max(vanished, 0.0))
        waiting = 0.0
        for j in range(last + 1 - first):
            i = first + j
            step = _step(
                now,
                [planned[j] + waiting, *(float(flows[k][j]) for k in ("dead", "out", "into"))],
                [0.0, cells.dead[i, 0], cells.out[i, 0], cells.into[i, 1]],
                float(least[j]),
                float(most[j]),
            )
            missing, dead, out, into = step
            waiting = max(planned[j] + waiting - missing, 0.0)
            lost[:, i] = now, dead, missing, out, into
            now = now - dead - missing - out + into
    return History(
        start=start, at_risk=lost[0], dead=lost[1], missing=lost[2], out=lost[3], into=lost[4]
    )


def share_on(looks: Looks, history: History, day: float, *, since: float | None = None) -> float:
    """Return the product-limit share alive on a day of those alive at the start, or at an age.

    Losses of an interval that spans the day go evenly by day; after the last look it stays.
    """
    lost = 1.0 - history.ratio
    begun = np.zeros(looks.age.size) if since is None else _parts(looks, since)
    later = begun < 1.0  # looks that were over by then have no say
    left = 1.0 - np.maximum(_parts(looks, day), begun) * lost
    return float(np.prod(left[later] / (1.0 - begun * lost)[later]))


def alive_on(looks: Looks, history: History, day: float) -> float:
    """Return the fish alive on a day; what happened in an interval that spans it goes by day."""
    change = history.into - history.out - history.dead - history.missing
    alive = history.start + float((_parts(looks, day) * change).sum())
    return float(max(round(alive, 9), 0.0))  # whole fish stay whole


def _parts(looks: Looks, day: float) -> Floats:
    """Share of every interval that lies before the day (1 for one of no length by the day)."""
    days = looks.age - looks.age_from
    part = (day - looks.age_from) / np.where(days > 0, days, 1.0)
    return np.where(looks.age <= day, 1.0, np.clip(np.where(days > 0, part, 0.0), 0.0, 1.0))


def _within(value: float, typed: Floats, least: float) -> float:
    """Bring a best value into its range: the middle of what is left where facts cut it off below.

    An unknown number is the least that it can have been.
    """
    low, most = max(float(typed[0]), least), float(typed[1])
    if np.isnan(value):
        return low
    if least > typed[0] and most < np.inf:
        return (low + most) / 2.0
    return float(min(max(value, low), most))


def _best(looks: Looks, cells: Cells, name: str) -> Floats:
    typed, ends = getattr(looks, name)[:, 1], getattr(cells, name)
    return np.clip(np.where(np.isnan(typed), ends[:, 0], typed), ends[:, 0], ends[:, 1])


def _give_way(
    cells: Cells, part: slice, flows: dict[str, Floats], now: float, end: float
) -> tuple[dict[str, Floats], float]:
    """Move best values within their ranges until the closing count can be reached."""
    if np.isnan(end):
        return flows, end
    short = end - now - float((flows["into"] - flows["dead"] - flows["out"]).sum())
    if short <= 0:
        return flows, end
    room = {
        "dead": flows["dead"] - cells.dead[part, 0],
        "out": flows["out"] - cells.out[part, 0],
        "into": np.minimum(cells.into[part, 1] - flows["into"], short),
    }
    last = part.stop - 1
    room_end = end - max(cells.into[last, 0], least_alive(cells)[last + 1])
    total = room_end + float(sum(r.sum() for r in room.values()))
    move = min(short / total, 1.0) if total > 0 else 0.0
    flows = {
        "dead": flows["dead"] - move * room["dead"],
        "out": flows["out"] - move * room["out"],
        "into": flows["into"] + move * room["into"],
    }
    return flows, end - move * room_end


def _least(cells: Cells, part: slice, end: float) -> Floats:
    """Fewest alive after each look of a stretch so that it can close with ``end`` alive."""
    least = np.zeros(part.stop - part.start)
    later = end
    for j in range(least.size - 1, -1, -1):
        i = part.start + j
        least[j] = later = max(later, cells.alive[i, 0]) if j < least.size - 1 else end
        later = max(later - cells.into[i, 1], 0.0) + cells.out[i, 0] + cells.dead[i, 0]
    return least


def _weights(dead: Floats, days: Floats, vanished: float) -> Floats:
    """Share of the missing that goes to each look of a stretch (sums to 1)."""
    bodies = float(dead.sum())
    if bodies >= FEWEST_BODIES and bodies >= vanished:
        return dead / bodies
    return days / days.sum() if days.sum() > 0 else np.full(days.size, 1.0 / days.size)


def _step(
    now: float, wanted: list[float], ends: list[float], least: float, most: float
) -> tuple[float, float, float, float]:
    """Lose, take out and put in what one look wants, as far as its cells and the later ones allow.

    ``wanted`` and ``ends`` are missing, dead, taken out and put in: the best values, and the ends
    to which they give way, in this order.
    """
    over = max(sum(wanted[:3]) - (now - max(least - wanted[3], 0.0)), 0.0)
    gone = []
    for value, end in zip(wanted[:3], ends[:3], strict=True):
        gives = min(over, max(value - end, 0.0))
        gone.append(value - gives)
        over -= gives
    into = wanted[3] + min(over, max(ends[3] - wanted[3], 0.0))
    missing, dead, out = gone
    left = now - missing - dead - out
    many = max(left + into - most, 0.0)
    missing += min(many, left)
    return missing, dead, out, into - max(many - left, 0.0)
