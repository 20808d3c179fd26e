"""A verdict must survive every reading of the log that the log itself cannot exclude."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import product
from typing import Any

import numpy as np
import pandas as pd

from rearkit.design.comparison import Comparison, compare_units, unit_means
from rearkit.design.design import Design, lay_out

ALL_COMBINATIONS = 6  # open units up to which every combination of their ends is tried


@dataclass(frozen=True, kw_only=True, eq=False)
class Known:
    """What is known of one outcome, line by line.

    Attributes
    ----------
    value : Series, indexed by line
        As counted.
    low, high : Series, indexed by line
        The ends between which a line may lie that was not counted when it mattered; ``value``
        where nothing is open.
    fish : Series or None
        How many fish a share is worth, for empirical logits; None for what is not a share.
    otherwise : DataFrame or None
        The share with its fish counted in another way, by line: ``never_there`` (the missing
        were never there), ``ill_died`` (those taken out as sick, as runts or without a reason
        had died), ``both``.
    """

    value: pd.Series
    low: pd.Series
    high: pd.Series
    fish: pd.Series | None = None
    otherwise: pd.DataFrame | None = None

    @classmethod
    def exactly(cls, value: pd.Series) -> Known:
        """Return an outcome of which nothing is open."""
        return cls(value=value, low=value, high=value)

    @property
    def loose(self) -> pd.Series:
        """Whether a line lies open between its ends."""
        return self.low < self.high

    def in_way(self, way: Way) -> Known:
        """Return what is known in another reading of the log."""
        value, low, high = self.value.copy(), self.low.copy(), self.high.copy()
        if self.otherwise is not None:
            for b in value.index[~self.loose.to_numpy()]:
                key = {(1, 0): "never_there", (0, 1): "ill_died", (1, 1): "both"}
                how = key.get((int(b in way.never_there), int(b in way.ill_died)))
                if how is not None:
                    value[b] = low[b] = high[b] = self.otherwise.at[b, how]
        if way.closed:
            shut = value.index.isin(list(way.closed))
            low, high = low.where(~shut, value), high.where(~shut, value)
        return replace(self, value=value, low=low, high=high)


@dataclass(frozen=True, kw_only=True, eq=False)
class Reading:
    """One way of reading the log, and what the comparison comes to in it.

    Attributes
    ----------
    code : str
        ``as_counted``, ``open_units``, ``missing_by_arm``, ``taken_out``, ``pairs``, ``water``,
        ``same_clutch``, ``put_back`` or ``all_together``.
    values : dict
        What the words about it name.
    variant : str
        Why it is one, where there is more than one why.
    tier : str
        The row of the decision table in this reading.
    estimate, conf_low, conf_high, p_value
        Tested − usual; None where the table shows none.
    """

    code: str
    values: dict[str, Any]
    variant: str
    tier: str
    n_usual: int
    n_tested: int
    estimate: float
    conf_low: float | None
    conf_high: float | None
    p_value: float | None
    p_method: str | None

    @property
    def settled(self) -> bool:
        """Whether this reading by itself settles the question."""
        return self.p_value is not None and self.p_value <= 0.05

    def facts(self) -> dict[str, Any]:
        """Return the numbers, flat."""
        return {
            "reading": self.code,
            "tier": self.tier,
            "units_usual": self.n_usual,
            "units_tested": self.n_tested,
            "difference": self.estimate,
            "conf_low": self.conf_low,
            "conf_high": self.conf_high,
            "p_value": self.p_value,
            "p_method": self.p_method,
            "settled": self.settled,
        }


@dataclass(frozen=True, kw_only=True, eq=False)
class Way:
    """One way of reading before it is judged: how it changes the units, the counts, the ends.

    Attributes
    ----------
    code, values, variant
        As in ``Reading``.
    design : Design or None
        The layout in this reading; None for the one as analysed.
    opens : bool
        Whether open lines are taken at their worst ends.
    closed : frozenset of str
        Lines that stay as counted all the same.
    never_there, ill_died : frozenset of str
        Lines whose missing fish were never there; whose fish taken out sick had died.
    groups : mapping or None
        Line to pair or water system: these are the units.
    """

    code: str
    values: dict[str, Any] = field(default_factory=dict)
    variant: str = ""
    design: Design | None = None
    opens: bool = False
    closed: frozenset[str] = frozenset()
    never_there: frozenset[str] = frozenset()
    ill_died: frozenset[str] = frozenset()
    groups: Mapping[str, str] | None = None


def judge(code: str, design: Design, known: Known, way: Way | None = None) -> Reading:
    """Judge one reading by the decision table, at the worst of its open ends.

    Parameters
    ----------
    code : str
        What the reading is called.
    design : Design
        The layout in this reading.
    known : Known
        The outcome in this reading; all lines of the design have a value.
    way : Way, optional
        Where ``opens`` is false, lines that were not counted stand at their value as counted;
        ``groups`` (line to pair or water) makes the units coarser.

    Returns
    -------
    Reading
        The largest p and the widest range over the ends of every open unit.
    """
    opens = way is not None and way.opens
    fish = None if known.fish is None else _sums(design, known.fish)
    values, low, high = (
        unit_means(design, s.to_dict()) for s in (known.value, known.low, known.high)
    )
    if way is not None and way.groups is not None:
        design, (values, low, high), fish = _coarser(design, way.groups, (values, low, high), fish)
    loose = list(values.index[(low < high).to_numpy()]) if opens else []
    found = [
        compare_units(design, ends, fish=fish) for ends in _ends(design, values, low, high, loose)
    ]
    base = compare_units(design, values, fish=fish) if loose else found[0]

    def badness(c: Comparison) -> float:
        """Order comparisons: those that point the other way last, the others by their p."""
        against = c.estimate * base.estimate < 0
        return (2.0 if against and c.settled else 0.0) + (c.p_value or 0.0)

    worst = max(found, key=badness)
    return Reading(
        code=code,
        values={} if way is None else way.values,
        variant="" if way is None else way.variant,
        tier=design.tier,
        n_usual=base.n_usual,
        n_tested=base.n_tested,
        estimate=worst.estimate if loose else base.estimate,
        conf_low=_least(c.conf_low for c in found),
        conf_high=_most(c.conf_high for c in found),
        p_value=None if any(c.p_value is None for c in found) else worst.p_value,
        p_method=worst.p_method,
    )


def weigh(design: Design, known: Known, ways: list[Way]) -> Comparison:
    """Hold a comparison against every reading of the log: singly, then all together.

    Parameters
    ----------
    design : Design
        The layout as analysed.
    known : Known
        The outcome, line by line; lines without a value take no part.
    ways : list of Way
        The other readings that the log leaves open.

    Returns
    -------
    Comparison
        As counted, but with the largest p over its ``readings`` and the range from the lowest low
        to the highest high; no p where a reading has too few units to tell, or they point both
        ways. As counted is the first of the readings.
    """
    as_counted = compare_units(
        design,
        unit_means(design, known.value.to_dict()),
        fish=None if known.fish is None else _sums(design, known.fish),
    )
    if design.tier in ("single", "one"):
        return as_counted
    first = judge("as_counted", design, known)
    others = [judge(w.code, w.design or design, known.in_way(w), w) for w in ways]
    if len(ways) > 1:
        others += list(_together(design, known, ways))
    readings = (first, *others)
    return _joined(as_counted, readings)


def _joined(c: Comparison, readings: tuple[Reading, ...]) -> Comparison:
    if len(readings) == 1:
        return replace(c, readings=readings)
    ps = [r.p_value for r in readings]
    signs = {bool(r.estimate > 0) for r in readings if r.settled}
    low, high = _least(r.conf_low for r in readings), _most(r.conf_high for r in readings)
    untold = any(p is None for p in ps) or len(signs) > 1
    worst = max(readings, key=lambda r: -1.0 if r.p_value is None else r.p_value)
    return replace(
        c,
        conf_low=low,
        conf_high=high,
        p_value=None if untold else worst.p_value,
        p_method=None if untold else worst.p_method,
        readings=readings,
    )


def bearing(readings: tuple[Reading, ...]) -> Reading | None:
    """Return the reading that takes the verdict down, or that comes nearest to it; None if none."""
    others = [r for r in readings if r.code != "as_counted"]
    single = [r for r in others if r.code != "all_together"] or others
    if not single:
        return None
    weak = [r for r in single if r.p_value is None]
    if weak:
        return min(weak, key=lambda r: r.n_usual + r.n_tested)
    top = max(single, key=lambda r: r.p_value or 0.0)
    whole = max(others, key=lambda r: r.p_value or 0.0)
    return whole if whole.settled != top.settled else top


def agree(readings: tuple[Reading, ...]) -> bool:
    """Whether every reading says the same: settled in one direction, or not settled."""
    told = {(r.settled, bool(r.estimate > 0) if r.settled else None) for r in readings}
    return len(told) <= 1


def _together(design: Design, known: Known, ways: list[Way]) -> Iterator[Reading]:
    """Take every way at once; pairs and water, which group the same units, one after the other."""
    whole = design
    for w in ways:
        if w.design is not None:
            whole = w.design if whole is design else _merged(whole, w.design)
    way = Way(
        code="all_together",
        opens=any(w.opens for w in ways),
        never_there=frozenset().union(*(w.never_there for w in ways)),
        ill_died=frozenset().union(*(w.ill_died for w in ways)),
    )
    groups: list[Mapping[str, str] | None] = [w.groups for w in ways if w.groups is not None]
    for group in groups or [None]:
        if group is None or _one_method_each(whole, group):
            yield judge(way.code, whole, known.in_way(way), replace(way, groups=group))


def _merged(one: Design, other: Design) -> Design:
    """Return the design with more lines in it: what one reading joins, the other puts back."""
    return max((one, other), key=lambda d: sum(map(len, d.units["batches"])))


def group_units(design: Design, group_of: Mapping[str, str]) -> pd.Series:
    """Return the group of every unit: that of its lines; a unit of none is a group of its own."""
    names = []
    for unit in design.units.itertuples(index=False):
        groups = sorted({group_of[b] for b in unit.batches if b in group_of})
        names.append(" and ".join(groups) if groups else f"unit {unit.unit}")
    return pd.Series(names, index=design.units["unit"], dtype=object)


def _one_method_each(design: Design, group_of: Mapping[str, str]) -> bool:
    """Whether groups are fewer than units and every one of them had one method."""
    group = group_units(design, group_of)
    arms = design.units.set_index("unit")["tested"].groupby(group).nunique()
    return len(arms) < len(design.units) and bool((arms == 1).all())


NESTED = 2 / 3  # of an arm: a group that both methods share does not undo the others


def _of_one_method(design: Design, group_of: Mapping[str, str]) -> dict[str, str]:
    """Leave out the groups of both methods where most units of an arm are in groups of its own."""
    group = group_units(design, group_of)
    tested = design.units.set_index("unit")["tested"]
    own = group.map(tested.groupby(group).nunique()) == 1
    joined = own & (group.map(group.value_counts()) > 1)
    if not (joined.groupby(tested).mean() > NESTED).any():
        return dict(group_of)
    lines = design.units.set_index("unit")["batches"]
    shared = {b for unit, alone in own.items() if not alone for b in lines[unit]}
    return {b: g for b, g in group_of.items() if b not in shared}


def coarser_way(code: str, design: Design, group_of: Mapping[str, str]) -> Way | None:
    """Return the reading with pairs or water systems as units; None where they cannot stand so.

    Parameters
    ----------
    code : str
        ``pairs`` or ``water``.
    design : Design
    group_of : mapping of line to group
        Lines of which it is not known are left out.
    """
    group_of = _of_one_method(design, group_of)
    if not _one_method_each(design, group_of):
        return None
    group = group_units(design, group_of)
    arms = design.units.set_index("unit")["tested"].groupby(group).first()
    counts = {"n_usual": int((~arms).sum()), "n_tested": int(arms.sum())}
    return Way(code=code, values=counts, groups=dict(group_of))


def _coarser(
    design: Design,
    group_of: Mapping[str, str],
    values: tuple[pd.Series, ...],
    fish: pd.Series | None,
) -> tuple[Design, tuple[pd.Series, ...], pd.Series | None]:
    """Take the groups as units: the mean of their units each, judged at their own number."""
    group = group_units(design, group_of)
    units = design.units.assign(group=group.to_numpy())
    rows = [
        {
            "unit": name,
            "block": None,
            "method": part["method"].iloc[0],
            "tested": bool(part["tested"].iloc[0]),
            "batches": tuple(b for bs in part["batches"] for b in bs),
        }
        for name, part in units.groupby("group", sort=True)
    ]
    laid = lay_out(
        pd.DataFrame(rows),
        compare=design.compare,
        usual=design.usual,
        tested=design.tested,
        unit="group",
        split=False,
    )
    means = tuple(v.groupby(group.reindex(v.index)).mean() for v in values)
    return laid, means, None if fish is None else fish.groupby(group.reindex(fish.index)).sum()


def _ends(
    design: Design, values: pd.Series, low: pd.Series, high: pd.Series, loose: list[str]
) -> Iterator[pd.Series]:
    """Yield the values at the ends of open units that could be worst for the verdict.

    With an exact test of equal arms these are the two that lean all open units to one arm. Where
    t or Welch decides, or arms are unequal, an end that widens an arm may weigh more: then every
    combination up to ``ALL_COMBINATIONS`` units, beyond that each unit turned by itself.
    """
    if not loose:
        yield values
        return
    tested = design.units.set_index("unit")["tested"]
    to_tested = {u: bool(tested[u]) for u in loose}
    leaning = [{u: up == to_tested[u] for u in loose} for up in (True, False)]
    if design.tier != "exact" or design.n_usual != design.n_tested:
        if len(loose) <= ALL_COMBINATIONS:
            leaning = [
                dict(zip(loose, c, strict=True)) for c in product((True, False), repeat=len(loose))
            ]
        else:
            leaning += [lean | {u: not lean[u]} for lean in tuple(leaning) for u in loose]
    for lean in leaning:
        at = values.copy()
        for unit, up in lean.items():
            at[unit] = high[unit] if up else low[unit]
        yield at


def _sums(design: Design, fish: pd.Series) -> pd.Series:
    return pd.Series(
        {
            u.unit: float(sum(fish[b] for b in u.batches))
            for u in design.units.itertuples(index=False)
        },
        dtype=float,
    )


def _least(ends: Iterable[float | None]) -> float | None:
    known = list(ends)
    return (
        None
        if any(e is None for e in known)
        else float(np.min([e for e in known if e is not None]))
    )


def _most(ends: Iterable[float | None]) -> float | None:
    known = list(ends)
    return (
        None
        if any(e is None for e in known)
        else float(np.max([e for e in known if e is not None]))
    )
