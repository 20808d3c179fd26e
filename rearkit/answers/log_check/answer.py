"""Is the log fit to be asked anything? Where every fish went, and what should be settled first."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.log_check import tables, words
from rearkit.batch.remark import Remark
from rearkit.design.design import Design, find_design
from rearkit.errors import DesignError
from rearkit.logbook.doubts.catalogue import finding_of
from rearkit.logbook.doubts.findings import At, Finding, findings_frame
from rearkit.logbook.logbook import Logbook

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture

SEVERITIES = ("STOP", "ASK", "FIX", "NOTE")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LogCheckAnswer(Answer):
    """What was found in a log, the account of every batch, and what its layout can show.

    Attributes
    ----------
    findings : DataFrame
        Everything said about the log, those of the layout included, most serious first.
    account : DataFrame
        One row a batch.
    rows : DataFrame
        Rows read, used, repaired, waiting and unusable, by sheet.
    design : Design or None
        The layout; None if nothing can be laid out.
    trouble : str
        Why there is no layout.
    """

    key: ClassVar[str] = "log_check"
    headline_words = staticmethod(words.headline)
    table_parts = tables.TABLES

    @classmethod
    def picture_parts(cls) -> Mapping[str, Callable[[LogCheckAnswer], Picture]]:
        """Return the pictures of this answer by name."""
        from rearkit.answers.log_check.pictures import PICTURES

        return PICTURES

    findings: pd.DataFrame
    account: pd.DataFrame
    rows: pd.DataFrame
    stopped: tuple[str, ...]
    design: Design | None
    trouble: str = ""

    @property
    def exit_code(self) -> int:
        """0 if nothing needs asking, 1 if something does or a batch is stopped."""
        serious = self.findings["severity"].isin(["STOP", "ASK"])
        return 1 if bool(serious.any()) or self.stopped else 0

    def table(self) -> pd.DataFrame:
        """Return one row a finding."""
        return self.findings.copy()

    def facts(self) -> dict[str, Any]:
        """Return the numbers of findings and rows and the account of every batch."""
        n = self.findings["severity"].value_counts()
        facts: dict[str, Any] = {f"n_{s.lower()}": int(n.get(s, 0)) for s in SEVERITIES}
        totals = self.rows.select_dtypes("number").sum()
        facts |= {str(k): int(v) for k, v in totals.items()}
        facts["batches_stopped"] = list(self.stopped)
        facts["account"] = self.account.to_dict("records")
        return facts


def check_log(log: Logbook) -> LogCheckAnswer:
    """Gather everything that was found in a log and what its layout cannot tell apart.

    Parameters
    ----------
    log : Logbook
        The log.

    Returns
    -------
    LogCheckAnswer
        The answer; ``exit_code`` is what the check command ends with.
    """
    notes: list[Finding] = []
    design, trouble = None, ""
    try:
        design = find_design(log)
    except DesignError as error:
        trouble = str(error)
        notes.append(_note("layout", {"what": error.what, "todo": error.todo}))
    else:
        notes += _layout_notes(log, design)
    stopped = tuple(log.batches.loc[log.batches["stopped"].astype(bool), "batch"])
    findings = pd.concat([log.findings, findings_frame(notes)], ignore_index=True)
    rank = findings["severity"].map({s: i for i, s in enumerate(SEVERITIES)})
    findings = findings.iloc[rank.argsort(kind="stable")].reset_index(drop=True)
    return LogCheckAnswer(
        log_name=log.name,
        findings=findings,
        account=log.account,
        rows=log.rows,
        stopped=stopped,
        design=design,
        trouble=trouble,
        remarks=(Remark(code="batch_stopped", values={"batches": list(stopped)}),)
        if stopped
        else (),
    )


def _layout_notes(log: Logbook, design: Design) -> list[Finding]:
    notes = [_note("cannot-be-told-apart", {"what": what}) for what in design.aliased]
    if design.tested is None:
        return notes
    account = log.account.set_index("batch")
    members = {
        arm: [b for bs in g["batches"] for b in bs] for arm, g in design.units.groupby("method")
    }
    firsts = {arm: account.loc[bs, "age_first"].min() for arm, bs in members.items()}
    if len(set(firsts.values())) > 1:
        ages = " and ".join(f"{arm} from day {age:g}" for arm, age in sorted(firsts.items()))
        latest = account.loc[[b for bs in members.values() for b in bs], "age_first"].max()
        notes.append(_note("first-count-later", {"ages": ages, "latest": float(latest)}))
    return notes


def _note(code: str, values: Mapping[str, object]) -> Finding:
    return finding_of(code, At("Batches"), values=values)
