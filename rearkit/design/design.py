"""What was separately given a method, what else came with it, and what such a layout could show."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from rearkit.batch.fates import fates_of, lines_of
from rearkit.batch.remark import Remark
from rearkit.design.companions import (
    goes_with_method,
    how_assigned,
    shared_water,
    values_in,
)
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook
from rearkit.stats.compare.permutation import smallest_p

FAIR_P = 0.05


@dataclass(frozen=True, kw_only=True, eq=False)
class Design:
    """The layout of a trial, settled before any result is computed.

    Attributes
    ----------
    compare : str
        The Batches column that tells the methods apart.
    usual, tested : str or None
        Its two values; every difference is tested − usual. ``tested`` is None with one method.
    unit : str
        ``"container"`` or ``"clutch"``.
    split : bool
        Whether clutches were divided between the methods (they are then the blocks).
    units : DataFrame
        One row a unit: ``unit``, ``block``, ``method``, ``tested``, ``batches`` (tuple of ids).
    tier : str
        ``single``, ``one``, ``few``, ``t``, ``both`` or ``exact``: which row of the decision
        table applies.
    p_min : float
        The smallest p that this many units could ever give.
    arrangements : int
        In how many ways the methods could have been dealt out.
    aliased : tuple of str
        What cannot be told apart from the method.
    assigned : str
        ``random draw``, another way, ``mixed`` or ``unknown``.
    left_out : dict
        Units or batches that are not compared, and the code of the reason.
    """

    compare: str
    usual: str | None
    tested: str | None
    unit: str
    split: bool
    units: pd.DataFrame
    tier: str
    p_min: float
    arrangements: int
    aliased: tuple[str, ...]
    assigned: str
    left_out: dict[str, str]
    remarks: tuple[Remark, ...]

    @property
    def n_usual(self) -> int:
        """Units that had the usual method."""
        return int((~self.units["tested"]).sum()) if self.tested is not None else len(self.units)

    @property
    def n_tested(self) -> int:
        """Units that had the tested method."""
        return int(self.units["tested"].sum())

    @property
    def n_blocks(self) -> int:
        """Clutches that hold both methods; 0 if clutches were not split."""
        return int(self.units["block"].nunique()) if self.split else 0

    @property
    def fair(self) -> bool:
        """Whether chance dealt out the methods and nothing else went along with them."""
        return self.assigned == "random draw" and not self.aliased

    def restricted(self, keep: Iterable[str], *, reason: str) -> Design:
        """Return the design of the units that are kept; a block left with one arm goes too."""
        kept = set(keep)
        out = {u: reason for u in self.units["unit"] if u not in kept}
        units = self.units[self.units["unit"].isin(kept)]
        remarks = list(self.remarks)
        if self.split and self.tested is not None and len(units):
            whole = units.groupby("block")["tested"].transform("nunique") == 2
            for block in sorted(units.loc[~whole, "block"].unique()):
                remarks.append(Remark(code="block_dropped", values={"block": block}))
            out |= dict.fromkeys(units.loc[~whole, "unit"], "block_incomplete")
            units = units[whole]
        tier, p_min, arrangements = _tier(units, self.split, self.tested)
        return replace(
            self,
            units=units.reset_index(drop=True),
            tier=tier,
            p_min=p_min,
            arrangements=arrangements,
            left_out=self.left_out | out,
            remarks=tuple(remarks),
        )

    def of_lines(self, lines: Iterable[str], *, reason: str) -> Design:
        """Return the design of some lines: units keep those of theirs that are among them."""
        inside = set(lines)
        left = {
            u.unit: tuple(b for b in u.batches if b in inside)
            for u in self.units.itertuples(index=False)
        }
        found = self.restricted([u for u, batches in left.items() if batches], reason=reason)
        return replace(found, units=found.units.assign(batches=found.units["unit"].map(left)))


def find_design(
    log: Logbook,
    *,
    compare: str | None = None,
    usual: str | None = None,
    tested: str | None = None,
    join_clutches: bool = False,
    put_back: bool = False,
) -> Design:
    """Find out from the log what the unit was and what the layout could ever show.

    Parameters
    ----------
    log : Logbook
        The log.
    compare, usual, tested : str, optional
        The Batches column that tells methods apart and its two values; the Trial sheet's where
        they are not given.
    join_clutches : bool
        Read clutch names that differ only in case, spaces, punctuation and leading zeros as one.
    put_back : bool
        Keep batches in that are left out with no rule written before, or whose rows contradict
        each other.

    Returns
    -------
    Design
        The units and blocks, what is aliased with the method, the smallest possible p. Fish are
        followed through the containers they were moved to: ``batches`` of a unit names the first
        container of each line.

    Raises
    ------
    DesignError
        If the column or a value is not in the log, or every batch was stopped.
    """
    key = ("design", compare, usual, tested, join_clutches, put_back)
    return log.once(
        key,
        lambda: _find(
            log,
            compare=compare,
            usual=usual,
            tested=tested,
            join_clutches=join_clutches,
            put_back=put_back,
        ),
    )


def _find(
    log: Logbook,
    *,
    compare: str | None,
    usual: str | None,
    tested: str | None,
    join_clutches: bool,
    put_back: bool,
) -> Design:
    compare = compare or _text(log.trial.get("compare")) or "method"
    if compare not in log.batches:
        known = ", ".join(c for c in log.batches.columns if c in ("method", "place", "parents"))
        raise DesignError(
            f"there is no column {compare!r} in Batches",
            where="Trial, field compare",
            todo=f"Name one of the Batches columns, such as {known}.",
        )
    batches, left_out, remarks = _without_broken(_line_rows(log, compare), put_back)
    usual, tested, assumed = _methods(log, batches, compare, usual, tested)
    if assumed:
        remarks.append(Remark(code="usual_assumed", values={"usual": usual, "tested": tested}))
    batches["method_"] = values_in(batches, compare)
    if tested is None:
        several = sorted(batches["method_"].dropna().unique())
        if len(several) > 1:
            remarks.append(Remark(code="which_methods", values={"methods": several}))
        return lay_out(
            _single_units(batches),
            compare=compare,
            usual=usual,
            tested=None,
            unit="container",
            split=False,
            left_out=left_out,
            remarks=remarks,
        )
    batches, out, said = _compared(log, batches, (str(usual), str(tested)), put_back)
    left_out |= out
    remarks += said
    if join_clutches:
        batches = batches.assign(clutch=one_spelling(batches["clutch"]))
    units, unit, split, dropped, found = _units(batches, tested)
    return lay_out(
        units,
        compare=compare,
        usual=usual,
        tested=tested,
        unit=unit,
        split=split,
        aliased=goes_with_method(batches, units, compare),
        assigned=how_assigned(batches),
        left_out=left_out | dropped,
        remarks=[*remarks, *found, *shared_water(batches)],
    )


def _without_broken(
    batches: pd.DataFrame, put_back: bool
) -> tuple[pd.DataFrame, dict[str, str], list[Remark]]:
    """Leave out the batches whose rows contradict each other, unless they are to be put back."""
    broken = batches["contradicts"].to_numpy(dtype=bool) & (not put_back)
    names = list(batches.loc[broken, "batch"])
    remarks = [Remark(code="batch_stopped", values={"batches": names})] if names else []
    if broken.all():
        raise DesignError(
            "no batch of this log can be analysed",
            where="Batches",
            todo="Run the check and settle what stopped them.",
        )
    return batches[~broken].copy(), dict.fromkeys(names, "contradicts"), remarks


def _compared(
    log: Logbook, batches: pd.DataFrame, methods: tuple[str, str], put_back: bool
) -> tuple[pd.DataFrame, dict[str, str], list[Remark]]:
    """Leave out other methods, and what the keeper left out; say by which rule, or that by none."""
    other = ~batches["method_"].isin(methods)
    left_out = dict.fromkeys(batches.loc[other, "batch"], "other_method")
    remarks = []
    if other.any():
        others = sorted({str(m) for m in batches.loc[other, "method_"].dropna()}) or ["no method"]
        remarks.append(Remark(code="other_method", values={"methods": others}))
    batches = batches[~other]
    out = excuses(log, batches)
    if put_back:
        out = {b: why for b, why in out.items() if why == "by_rule"}
    for why in sorted({*out.values()}):
        names = sorted(b for b, w in out.items() if w == why)
        reasons = batches.set_index("batch")["left_out"].reindex(names).astype(str)
        values = {"batches": names, "reasons": sorted({*reasons})}
        if why == "by_rule":
            values["rule"] = [str(log.trial.get("exclusions"))]
        remarks.append(Remark(code=f"left_out_{why}", values=values))
    kept = batches[~batches["batch"].isin(list(out))]
    if kept["method_"].nunique() < 2:
        raise DesignError(
            "once what is to be left out is left out, one method has no batch",
            where="Batches, left_out",
            todo="Take a batch back in, or report the methods one by one.",
        )
    return kept, left_out | out, remarks


def _line_rows(log: Logbook, compare: str) -> pd.DataFrame:
    """Return the Batches row of the first container of every line, with the line's clutch."""
    lines = lines_of(log, compare)
    rows = log.batches.set_index("batch", drop=False).loc[list(lines)].copy()
    rows["clutch"] = [line.clutch for line in lines.values()]
    rows["clutch"] = rows["clutch"].astype(object)
    if compare == "method":
        rows["method"] = pd.Series([line.method for line in lines.values()], rows.index, object)
    fates = fates_of(log, compare)
    rows["contradicts"] = [name not in fates for name in lines]
    return rows.reset_index(drop=True)


ACCIDENTS = ("accident", "moved", "rehomed")  # ends that a rule may excuse; losses are results


def excuses(log: Logbook, batches: pd.DataFrame) -> dict[str, str]:
    """Tell which batches are left out, and whether a rule written before covers it.

    Returns
    -------
    dict
        Batch to ``by_rule`` (a reason, a rule and a plan dated before the first start, and an end
        by accident, move or rehoming) or ``without_rule``. A welfare stop or the death of all is
        a result and never left out.
    """
    asked = batches[batches["left_out"].notna() & (batches["left_out"].astype(str) != "")]
    planned = log.trial.get("plan_written_on")
    before = planned is not None and pd.Timestamp(str(planned)) <= log.batches["started"].min()
    ruled = bool(_text(log.trial.get("exclusions"))) and before
    reason = asked.set_index("batch")["end_reason"]
    return {
        str(b): "by_rule" if ruled and why in ACCIDENTS else "without_rule"
        for b, why in reason.items()
        if why not in ("welfare stop", "all died")
    }


def one_spelling(names: pd.Series) -> pd.Series:
    """Write names alike that differ only in case, spaces, punctuation and leading zeros."""
    folded = names.map(
        lambda name: re.sub(r"(?<!\d)0+(?=\d)", "", re.sub(r"[\W_]+", "", str(name).casefold())),
        na_action="ignore",
    )
    first = names.groupby(folded).first()
    return folded.map(first, na_action="ignore").astype(object).where(names.notna(), None)


def lay_out(
    units: pd.DataFrame,
    *,
    compare: str,
    usual: str | None,
    tested: str | None,
    unit: str,
    split: bool,
    aliased: tuple[str, ...] = (),
    assigned: str = "unknown",
    left_out: dict[str, str] | None = None,
    remarks: Iterable[Remark] = (),
) -> Design:
    """Make a design of units that are already found; the row of the decision table follows.

    Parameters
    ----------
    units : DataFrame
        ``unit``, ``block``, ``method``, ``tested`` and ``batches``, as in ``Design``.
    compare, usual, tested, unit, split, aliased, assigned, left_out, remarks
        As in ``Design``.
    """
    tier, p_min, arrangements = _tier(units, split, tested)
    return Design(
        compare=compare,
        usual=usual,
        tested=tested,
        unit=unit,
        split=split,
        units=units.reset_index(drop=True),
        tier=tier,
        p_min=p_min,
        arrangements=arrangements,
        aliased=aliased,
        assigned=assigned,
        left_out=left_out or {},
        remarks=tuple(remarks),
    )


def _text(value: object) -> str | None:
    return None if value is None or str(value).strip() == "" else str(value)


def _methods(
    log: Logbook, batches: pd.DataFrame, compare: str, usual: str | None, tested: str | None
) -> tuple[str | None, str | None, bool]:
    """Return the usual and the tested value, and whether the log did not say which is which."""
    values = sorted(values_in(batches, compare).dropna().unique())
    if compare == (_text(log.trial.get("compare")) or "method"):  # else they name other things
        usual = usual or _text(log.trial.get("usual"))
        tested = tested or _text(log.trial.get("tested"))
    for value in (usual, tested):
        if value is not None and value not in values and len(values) > 1:
            raise DesignError(
                f"no batch that can be used has {compare} = {value!r}",
                where="Trial, fields usual and tested",
                todo=f"The log has: {', '.join(values)}.",
            )
    if len(values) < 2:
        return (values[0] if values else None), None, False
    if usual and tested:
        if usual == tested:
            raise DesignError(
                f"usual and tested are both {usual!r}",
                where="Trial, fields usual and tested",
                todo="Name two different values.",
            )
        return usual, tested, False
    rest = [v for v in values if v not in (usual, tested)]
    if len(values) > 2:  # which two is not for us to say
        return None, None, False
    if usual is None:
        usual = rest.pop(0)
    return usual, tested or rest[0], True


def _single_units(batches: pd.DataFrame) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "unit": batches["batch"],
            "block": None,
            "method": batches["method_"],
            "tested": False,
            "batches": [(b,) for b in batches["batch"]],
        }
    )


def _units(
    batches: pd.DataFrame, tested: str
) -> tuple[pd.DataFrame, str, bool, dict[str, str], list[Remark]]:
    """Split clutches give containers in blocks; otherwise the clutch is the unit."""
    known = batches["clutch"].notna()
    clutch = batches["clutch"].where(known, "container " + batches["batch"].astype(str))
    arms = batches.groupby(clutch)["method_"].transform("nunique")
    in_split, remarks = arms == 2, []
    whole_units = clutch[~in_split].nunique()
    split = bool(in_split.any()) and int(in_split.sum()) >= whole_units
    chosen = in_split if split else ~in_split
    dropped = dict.fromkeys(batches.loc[~chosen, "batch"], "other_layout")
    if dropped:
        remarks.append(Remark(code="mixed_layouts", values={"batches": sorted(dropped)}))
    picked = batches[chosen].assign(block_=clutch[chosen])
    if split:
        units = pd.DataFrame(
            {
                "unit": picked["batch"],
                "block": picked["block_"],
                "method": picked["method_"],
                "tested": picked["method_"] == tested,
                "batches": [(b,) for b in picked["batch"]],
            }
        )
        if picked["block_"].nunique() == 1:
            remarks.append(Remark(code="one_clutch", values={"clutch": picked["block_"].iloc[0]}))
        return units, "container", True, dropped, remarks
    rows: list[dict[str, Any]] = []
    for name, group in picked.groupby("block_", sort=False):
        rows.append(
            {
                "unit": name if group["clutch"].notna().all() else group["batch"].iloc[0],
                "block": None,
                "method": group["method_"].iloc[0],
                "tested": group["method_"].iloc[0] == tested,
                "batches": tuple(group["batch"]),
            }
        )
    unit = "clutch" if known.any() else "container"
    if not known.all():
        n = int((~known).sum())
        remarks.append(Remark(code="no_clutch", values={"n_batches": n}))
    return pd.DataFrame(rows), unit, False, dropped, remarks


def _tier(units: pd.DataFrame, split: bool, tested: str | None) -> tuple[str, float, int]:
    """Return the row of the decision table, the smallest p and the number of arrangements."""
    if tested is None or units.empty or units["tested"].nunique() < 2:
        return "single", 1.0, 1
    block = units["block"] if split else pd.Series("all", index=units.index)
    n_tested = units["tested"].groupby(block).sum().astype(int)
    n_usual = (~units["tested"]).groupby(block).sum().astype(int)
    p_min, arrangements = smallest_p(n_tested.to_list(), n_usual.to_list())
    return _row_of_table(n_tested.to_list(), n_usual.to_list(), p_min), p_min, arrangements


def _row_of_table(n_tested: list[int], n_usual: list[int], p_min: float) -> str:
    if len(n_tested) > 1:  # blocks
        if p_min <= FAIR_P:
            return "exact"
        return "few" if len(n_tested) == 2 else "t"
    least = min(n_tested[0], n_usual[0])
    if least <= 2:
        return "one" if least == 1 else "few"
    if n_tested[0] != n_usual[0]:
        return "both"
    return "t" if p_min > FAIR_P else "exact"
