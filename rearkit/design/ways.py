"""The other readings that a log leaves open: which of them could go with the method, and how."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from rearkit.batch.evidence import Evidence, known_from
from rearkit.batch.fates import fates_of, lines_of
from rearkit.batch.lines import Line
from rearkit.batch.survival import BatchSurvival
from rearkit.design.companions import water_of
from rearkit.design.comparison import Comparison, arm_means, unit_means
from rearkit.design.design import ACCIDENTS, Design, find_design, one_spelling
from rearkit.design.judging_day import JudgingDay
from rearkit.design.readings import Known, Way, coarser_way, weigh
from rearkit.design.unit_survival import evidence_of, follow_lines
from rearkit.logbook.account.looks import as_counted, share_on
from rearkit.logbook.logbook import Logbook

UNLIKE_UNITS = 1 / 3  # of one arm that differ from the other arm's, and starts are not alike
UNLIKE_DAYS = 2.0  # first counts further apart than this are not alike
UNLIKE_LITRES = 1.5  # nor are containers of which one holds this many times as much
MISSING_GAP = 0.025  # more missing in the worse arm than this, and rough starts, is a reading
BY_EYE = ("eye", "scoop")


def known_survival(
    log: Logbook, designs: list[Design], chosen: JudgingDay, by_batch: Mapping[str, BatchSurvival]
) -> Known:
    """Return what is known of the survival of every line of some designs.

    Returns
    -------
    Known
        As counted; the bounds of every line that was not counted when it mattered, with the low
        end of one that ended by accident, move or rehoming raised as ``_milder_low`` says.
    """
    lines = lines_of(log, designs[0].compare)
    names = list(dict.fromkeys(b for d in designs for bs in d.units["batches"] for b in bs))
    found = {b: evidence_of(lines[b], chosen) for b in names}
    value, low, high, fish, otherwise = {}, {}, {}, {}, {}
    for b, e in found.items():
        is_open = e.grade != "counted" or not e.possible
        value[b] = e.share if np.isfinite(e.share) else e.share_high
        low[b] = _milder_low(lines[b], e, lines, found, chosen) if is_open else value[b]
        high[b] = e.share_high if is_open else value[b]
        s = by_batch.get(b)
        otherwise[b] = [value[b]] * 3 if s is None else [s.if_never_there, s.if_ill_died, s.if_both]
        fish[b] = by_batch[b].logit_n if b in by_batch else max(float(lines[b].looks.start[0]), 1.0)
    return Known(
        value=pd.Series(value, dtype=float),
        low=pd.Series(low, dtype=float),
        high=pd.Series(high, dtype=float),
        fish=pd.Series(fish, dtype=float),
        otherwise=pd.DataFrame.from_dict(
            otherwise, orient="index", columns=["never_there", "ill_died", "both"]
        ),
    )


def weigh_survival(
    log: Logbook,
    design: Design,
    chosen: JudgingDay,
    by_batch: Mapping[str, BatchSurvival],
    seed: int,
) -> Comparison | None:
    """Compare survival by unit and hold the result against every reading the log leaves open.

    Returns
    -------
    Comparison or None
        None with one method. A look before the planned day has no p and no interval.
    """
    if design.tier == "single":
        return None
    key = ("weighed", _once(design), chosen.day, chosen.landmark, chosen.near, chosen.rule, seed)
    return log.once(key, lambda: _weigh_survival(log, design, chosen, by_batch, seed))


def _once(design: Design) -> tuple[object, ...]:
    """Return what tells one layout of a log from another."""
    return design.compare, design.usual, design.tested, _layout_of(design)


def _weigh_survival(
    log: Logbook,
    design: Design,
    chosen: JudgingDay,
    by_batch: Mapping[str, BatchSurvival],
    seed: int,
) -> Comparison:
    layouts = layout_ways(log, design, chosen)
    designs = [design, *(w.design for w in layouts if w.design is not None)]
    fates = fates_of(log, design.compare)
    for other in designs[1:]:
        added = {b for bs in other.units["batches"] for b in bs if b in fates} - by_batch.keys()
        if added:
            by_batch = {
                **by_batch,
                **follow_lines(log, design.compare, sorted(added), chosen, seed),
            }
    known = known_survival(log, designs, chosen, by_batch)
    comparison = weigh(design, known, survival_ways(log, design, by_batch, known, layouts))
    return without_verdict(comparison) if chosen.interim else comparison


def weigh_outcome(
    log: Logbook, design: Design, chosen: JudgingDay | None, values: pd.Series
) -> Comparison:
    """Compare an outcome that is not survival, by the readings that change its units.

    Parameters
    ----------
    log : Logbook
    design : Design
        Its lines all have a value.
    chosen : JudgingDay or None
        None where survival cannot be followed to any day.
    values : Series, indexed by line
        Lines that are put back count if they have a value, too.
    """
    has = set(values.index[values.notna()])
    ways = []
    for way in layout_ways(log, design, chosen):
        if way.design is None:
            ways.append(way)
            continue
        kept = way.design.of_lines(has, reason="no_value")
        if kept.units["tested"].nunique() == 2 and _layout_of(kept) != _layout_of(design):
            ways.append(replace(way, design=kept, values=_narrowed(way.values, has)))
    comparison = weigh(design, Known.exactly(values.dropna()), ways)
    return without_verdict(comparison) if chosen is not None and chosen.interim else comparison


def _narrowed(values: Mapping[str, object], has: set[str]) -> dict[str, object]:
    """Name the lines that are put back only where they have a value."""
    batches = values.get("batches")
    if not isinstance(batches, list):
        return dict(values)
    return dict(values) | {"batches": [b for b in batches if b in has]}


def without_verdict(c: Comparison) -> Comparison:
    """Return a comparison of which no p and no interval is given."""
    return replace(
        c,
        readings=(),
        p_value=None,
        p_method=None,
        conf_low=None,
        conf_high=None,
        interval_method=None,
    )


def _milder_low(
    line: Line,
    evidence: Evidence,
    lines: Mapping[str, Line],
    found: Mapping[str, Evidence],
    chosen: JudgingDay,
) -> float:
    """Return the low end of a line that was not counted on the day.

    Notes
    -----
    Of one that ended by accident, move or rehoming with a full count, and lost no more at its last
    look than the worst of the others at that age, not all can be taken to have died: its last
    share times the lowest survival of the others from then on.
    """
    excused = bool(line.end_reasons) and {*line.end_reasons} <= {*ACCIDENTS}
    full = line.looks.full
    if evidence.grade != "stopped" or not excused or not full.any() or not full[-1]:
        return evidence.share_low
    end = float(line.looks.age[-1])
    before = float(line.looks.age_from[-1])
    others = [
        lines[b]
        for b, e in found.items()
        if b != line.name and e.grade == "counted" and lines[b].looks.age_start <= before
    ]
    lost = [1.0 - survived(other, before, end) for other in others]
    if not others or 1.0 - survived(line, before, end) > max(lost) + 1e-9:
        return evidence.share_low
    later = min(survived(other, end, chosen.day) for other in others)
    return max(evidence.share_low, evidence.share_high * later)


def survived(line: Line, begin: float, end: float) -> float:
    """Return the share of a line alive at one age that was alive at a later one, as counted."""
    history = as_counted(line.looks)
    if history is None or end <= begin:
        return 1.0
    since = begin if begin > line.looks.age_start else None
    return share_on(line.looks, history, end, since=since)


def survival_ways(
    log: Logbook,
    design: Design,
    by_batch: Mapping[str, BatchSurvival],
    known: Known,
    layouts: list[Way],
) -> list[Way]:
    """List the readings of a survival comparison that the log leaves open, in a fixed order.

    Parameters
    ----------
    log : Logbook
    design : Design
        The layout as analysed.
    by_batch : mapping of BatchSurvival
        Of its lines.
    known : Known
        As ``known_survival`` gives it.
    layouts : list of Way
        As ``layout_ways`` gives them.
    """
    inside = [b for bs in design.units["batches"] for b in bs]
    ways = []
    loose = [b for b in inside if known.low[b] < known.high[b]]
    if loose:
        ways.append(Way(code="open_units", values={"batches": loose}, opens=True))
    missing = _missing_way(log, design, by_batch, known)
    if missing is not None:
        ways.append(missing)
    ill = {b: by_batch[b].if_ill_died for b in inside if by_batch[b].removed_ill > 0}
    if ill:
        ways.append(
            Way(
                code="taken_out",
                values={"batches": sorted(ill)},
                ill_died=frozenset(ill),
            )
        )
    return ways + layouts


def layout_ways(log: Logbook, design: Design, chosen: JudgingDay | None) -> list[Way]:
    """List the readings that change the units: pairs, water, clutch names, batches put back."""
    day = None if chosen is None else (chosen.day, chosen.landmark, chosen.rule, chosen.reached)
    return log.once(
        ("layouts", _once(design), day),
        lambda: [
            *_groupings(log, design),
            *_joined_names(log, design, chosen),
            *_put_back(log, design, chosen),
        ],
    )


def _groupings(log: Logbook, design: Design) -> list[Way]:
    rows = log.batches.set_index("batch")
    ways = []
    for code, column in (("pairs", "parents"), ("water", "water")):
        names = rows[column].dropna().astype(str) if column == "parents" else water_of(log.batches)
        way = coarser_way(code, design, one_spelling(names).to_dict())
        if way is not None:
            ways.append(way)
    return ways


def _joined_names(log: Logbook, design: Design, chosen: JudgingDay | None) -> list[Way]:
    """Settle the design again with clutch names that may be one joined."""
    again = find_design(
        log, compare=design.compare, usual=design.usual, tested=design.tested, join_clutches=True
    )
    if _layout_of(again) == _layout_of(design):
        return []
    rows = log.batches.set_index("batch")["clutch"].dropna().astype(str)
    inside = rows.reindex([b for bs in design.units["batches"] for b in bs]).dropna()
    folded = one_spelling(inside)
    alike = [sorted({*part}) for _, part in inside.groupby(folded) if part.nunique() > 1]
    names = [" and ".join(part) for part in alike]
    return [Way(code="same_clutch", values={"clutches": names}, design=again)]


def _put_back(log: Logbook, design: Design, chosen: JudgingDay | None) -> list[Way]:
    """Put back what was left out with no rule written before, or that contradicts itself."""
    whole = find_design(
        log, compare=design.compare, usual=design.usual, tested=design.tested, put_back=True
    )
    inside = {b for bs in design.units["batches"] for b in bs}
    added = [b for bs in whole.units["batches"] for b in bs if b not in inside]
    if not added:
        return []

    return [
        Way(
            code="put_back",
            values={"batches": added},
            design=whole,
            opens=True,
            closed=frozenset(inside),
        )
    ]


def _layout_of(design: Design) -> tuple[object, ...]:
    rows = design.units[["block", "tested", "batches"]].itertuples(index=False)
    return design.split, frozenset((str(r.block), bool(r.tested), r.batches) for r in rows)


def _missing_way(
    log: Logbook, design: Design, by_batch: Mapping[str, BatchSurvival], known: Known
) -> Way | None:
    """Take the missing fish of the worse arm as never there, where starts were not counted alike.

    Or where a start was rough, nobody counted blind, and the worse arm misses more: what is
    counted too high at the start is missing at the end.
    """
    usual, tested = arm_means(design, unit_means(design, known.value.to_dict()))
    if usual == tested:
        return None
    worse_is_tested = tested < usual
    units = design.units
    arms = {
        arm: [b for bs in units.loc[units["tested"] == arm, "batches"] for b in bs]
        for arm in (False, True)
    }
    worse, other = arms[worse_is_tested], arms[not worse_is_tested]
    unlike = unlike_starts(log, design.compare, arms[False], arms[True])
    rough = _rough_starts(log, design.compare, worse + other) and not log.trial.get("counted_blind")
    gap = _missing_share(by_batch, worse) - _missing_share(by_batch, other)
    if not any(by_batch[b].missing > 0 for b in worse):
        return None
    if not unlike and not (rough and gap >= MISSING_GAP):
        return None
    values = {
        "worse": design.tested if worse_is_tested else design.usual,
        "other": design.usual if worse_is_tested else design.tested,
        "missing": float(sum(by_batch[b].missing for b in worse)),
    }
    return Way(
        code="missing_by_arm",
        values=values,
        variant="unlike" if unlike else "rough",
        never_there=frozenset(worse),
    )


def _missing_share(by_batch: Mapping[str, BatchSurvival], names: list[str]) -> float:
    shares = [
        by_batch[b].missing / by_batch[b].start_best for b in names if by_batch[b].start_best > 0
    ]
    return float(np.mean(shares)) if shares else 0.0


def _rough_starts(log: Logbook, compare: str, names: list[str]) -> bool:
    """Whether any start was by eye or scoop, or was written as a range."""
    rows = log.batches.set_index("batch")
    lines = lines_of(log, compare)
    for b in names:
        start = lines[b].looks.start
        if rows["count_how"].get(b) in BY_EYE or start[0] != start[2]:
            return True
    return False


def unlike_starts(log: Logbook, compare: str, usual: list[str], tested: list[str]) -> bool:
    """Whether the starts of two arms were counted in unlike ways, or of unlike containers.

    More than a third of the units of one arm have no partner in the other that is like them: in
    the way of counting, exact or a range, the age at the first count, or the size of container.
    Blank on both sides is alike.
    """
    rows = log.batches.set_index("batch")
    lines = lines_of(log, compare)
    sides = (usual, tested)
    ways = [[str(rows["count_how"].get(b)) for b in side] for side in sides]
    exact = [
        [str(bool(lines[b].looks.start[0] == lines[b].looks.start[2])) for b in side]
        for side in sides
    ]
    if any(_unmatched(*found) > UNLIKE_UNITS + 1e-9 for found in (ways, exact)):
        return True
    ages = [[_first_age(lines[b]) for b in side] for side in sides]
    litres = [[float(rows["litres"].get(b, np.nan)) for b in side] for side in sides]
    logs = [list(np.log(side)) for side in litres]
    return _apart(ages, UNLIKE_DAYS) > UNLIKE_UNITS + 1e-9 or (
        _apart(logs, float(np.log(UNLIKE_LITRES))) > UNLIKE_UNITS + 1e-9
    )


def _first_age(line: Line) -> float:
    known = known_from(line.looks)
    return np.nan if known is None else known


def _unmatched(a: list[str], b: list[str]) -> float:
    """Return the share of units without a partner of the same kind: half the sum of differences."""
    kinds = sorted({*a, *b})
    return 0.5 * sum(abs(a.count(k) / len(a) - b.count(k) / len(b)) for k in kinds)


def _apart(sides: list[list[float]], limit: float) -> float:
    """Return the share of units further than ``limit`` from their partner, matched by rank."""
    known = [[x for x in side if np.isfinite(x)] for side in sides]
    if not all(known):
        return 0.0 if not any(known) else 1.0
    at = np.linspace(0.0, 1.0, 2 * max(map(len, sides)) + 1)[1::2]
    first, second = (np.quantile(side, at, method="inverted_cdf") for side in known)
    return float(np.mean(np.abs(first - second) > limit + 1e-9))
