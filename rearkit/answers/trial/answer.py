"""What the trial was: fish, place, methods, rules, and where every fry went. No result yet."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.trial import tables, words
from rearkit.batch.remark import Remark
from rearkit.design.design import Design, find_design
from rearkit.logbook.account.ledger import REASONS
from rearkit.logbook.logbook import Logbook

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture

ENDS = ("low", "best", "high")
ABOUT_A_BATCH = (
    "batch",
    "clutch",
    "parents",
    "method",
    "how_assigned",
    "container",
    "litres",
    "place",
    "water",
    "started",
    "ended",
    "end_reason",
)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class TrialAnswer(Answer):
    """What a reader has to know of a trial before its results.

    Attributes
    ----------
    fields : mapping
        The Trial sheet; None where it is silent.
    design : Design
        The layout.
    batches : DataFrame
        One row a batch: where it came from, where it stood, how it ended.
    flow : DataFrame
        One row a method: all that came in, and where it went.
    events : DataFrame
        The Events sheet in order of dates, and every batch that did not end as planned.
    started, ended : Timestamp or NaT
        First and last day of the log.
    plan : str
        ``before``, ``after`` or ``none``: when the plan was written, against the first start.
    running : tuple of str
        Batches that have not ended.
    """

    key: ClassVar[str] = "trial"
    headline_words = staticmethod(words.headline)
    prose_parts = words.PARTS
    table_parts = tables.TABLES

    @classmethod
    def picture_parts(cls) -> Mapping[str, Callable[[TrialAnswer], Picture]]:
        """Return the pictures of this answer by name."""
        from rearkit.answers.trial.pictures import PICTURES

        return PICTURES

    fields: Mapping[str, object]
    design: Design
    batches: pd.DataFrame
    flow: pd.DataFrame
    account: pd.DataFrame
    events: pd.DataFrame
    started: pd.Timestamp
    ended: pd.Timestamp
    plan: str
    running: tuple[str, ...]
    measured: Mapping[str, int]

    @property
    def has_places(self) -> bool:
        """Whether the log says where any container stood."""
        return bool(self.batches["place"].notna().any())

    @property
    def has_events(self) -> bool:
        """Whether anything is recorded that did not go as planned."""
        return len(self.events) > 0

    def table(self) -> pd.DataFrame:
        """Return one row a method: where its fry went."""
        return self.flow.copy()

    def facts(self) -> dict[str, Any]:
        """Return the layout, the dates, the plan and the flow of fish."""
        d = self.design
        return {
            "species": self.fields.get("species"),
            "compare": d.compare,
            "usual": d.usual,
            "tested": d.tested,
            "unit": d.unit,
            "how_assigned": d.assigned,
            "aliased": list(d.aliased),
            "n_batches": len(self.batches),
            "started": self.started,
            "ended": self.ended,
            "plan": self.plan,
            "running": list(self.running),
            "flow": self.flow.to_dict("records"),
            **{f"n_{name}": n for name, n in self.measured.items()},
        }


def describe_trial(
    log: Logbook,
    *,
    compare: str | None = None,
    usual: str | None = None,
    tested: str | None = None,
) -> TrialAnswer:
    """Describe a trial: its fish, place, methods and rules, and where every fry went.

    Parameters
    ----------
    log : Logbook
        The log.
    compare, usual, tested : str, optional
        The Batches column that tells methods apart and its two values (default: Trial sheet).

    Returns
    -------
    TrialAnswer
        No comparison and no claim.

    Raises
    ------
    DesignError
        If no batch can be used, or a column or value is not in the log.
    """
    design = find_design(log, compare=compare, usual=usual, tested=tested)
    usable = log.batches[~log.batches["stopped"].astype(bool)]
    dates = [log.daily["date"].max(), usable["ended"].max(), usable["started"].max()]
    plan = _plan(log)
    running = tuple(usable.loc[usable["ended"].isna(), "batch"])
    return TrialAnswer(
        log_name=log.name,
        fields=log.trial,
        design=design,
        batches=log.batches[[*ABOUT_A_BATCH, *_more(design)]].assign(
            stopped=log.batches["stopped"].astype(bool)
        ),
        flow=_flow(log, design.compare),
        account=log.account,
        events=_events(log),
        started=usable["started"].min(),
        ended=max((d for d in dates if pd.notna(d)), default=pd.NaT),
        plan=plan,
        running=running,
        measured={
            "visits": len(log.daily),
            "fish_measured": int(log.sizes["fish"].sum()),
            "scans": len(log.positions),
        },
        remarks=tuple(_remarks(plan, running)),
    )


def _more(design: Design) -> list[str]:
    return [] if design.compare in ABOUT_A_BATCH else [design.compare]


def _plan(log: Logbook) -> str:
    written = log.trial.get("plan_written_on")
    if written is None:
        return "none"
    first = log.batches["started"].min()
    return "after" if pd.Timestamp(str(written)) > first else "before"


def _remarks(plan: str, running: tuple[str, ...]) -> list[Remark]:
    code = {"none": "no_plan", "after": "plan_after_start", "before": "plan_before"}[plan]
    remarks = [Remark(code=code)]
    if running:
        remarks.append(Remark(code="still_running", values={"running": list(running)}))
    return remarks


def _flow(log: Logbook, compare: str) -> pd.DataFrame:
    """Add up the accounts of the batches of every method; an unnamed method is "all batches"."""
    account = log.account[log.account["adds_up"].astype(bool)]
    if account.empty:
        return pd.DataFrame(columns=["method", "n_batches"])
    method = account["batch"].map(log.batches.set_index("batch")[compare])
    method = method.where(method.notna(), "all batches")
    columns = [
        *(f"start_{e}" for e in ENDS),
        "added",
        "dead",
        *(f"removed_{why}" for why in REASONS),
        "removed",
        *(f"missing_{e}" for e in ENDS),
        "alive_best",
    ]
    numbers = account[columns].astype(float)
    flow = numbers.groupby(method.to_numpy()).sum(min_count=1)
    counts = account.groupby(method.to_numpy()).size()
    return (
        flow.assign(n_batches=counts)
        .rename_axis("method")
        .reset_index()
        .loc[:, ["method", "n_batches", *columns]]
    )


def _events(log: Logbook) -> pd.DataFrame:
    """List what happened, with the ends that were not planned."""
    events = log.events[["started", "ended", "batch", "what", "note"]]
    unplanned = log.batches[
        log.batches["ended"].notna()
        & log.batches["end_reason"].isin(["all died", "welfare stop", "accident"])
    ]
    ends = pd.DataFrame(
        {
            "started": unplanned["ended"],
            "ended": pd.NaT,
            "batch": unplanned["batch"],
            "what": "ended: " + unplanned["end_reason"].astype(str),
            "note": unplanned["note"],
        }
    )
    frames = [f for f in (events, ends) if len(f)]
    if not frames:
        return events
    # column by column: pandas 2 joins whole frames with a date that has no unit
    joined = {name: pd.concat([f[name] for f in frames], ignore_index=True) for name in events}
    return pd.DataFrame(joined).sort_values("started", kind="stable")
