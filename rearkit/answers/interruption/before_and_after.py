"""Every batch before and after an event, beside the others of the keeper at the same ages."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from rearkit.batch.fates import accounts_of, fates_of, lines_of
from rearkit.batch.lengths import measured_lengths
from rearkit.logbook.account.ages import DAY
from rearkit.logbook.logbook import Logbook

INTERRUPTIONS = ("feed gap", "culture crash", "heater off", "power cut", "water problem")
GROWTH_COLUMNS = ["batch", "span", "age_from", "age_to", "mm_from", "mm_to", "mm_a_day"]
NEAR = 1e-9  # days


@dataclass(frozen=True, kw_only=True)
class Happening:
    """One event: from when to when, to which batches.

    Attributes
    ----------
    number : int
        The place of its first row in the Events sheet, from 1.
    numbers : tuple of int
        The places of all its rows: rows of one kind with one beginning and one end are one event
        that fell on several batches.
    what : str or None
        What happened.
    batches : tuple of str
        The batches it fell on, or ``("all",)``.
    started, ended : Timestamp
        The end is the start where none was written down.
    note : str or None
        The keeper's words.
    """

    number: int
    numbers: tuple[int, ...]
    what: str | None
    batches: tuple[str, ...]
    started: pd.Timestamp
    ended: pd.Timestamp
    note: str | None

    @property
    def days(self) -> float:
        """How long it lasted, in days."""
        return float((self.ended - self.started) / DAY)

    @property
    def everywhere(self) -> bool:
        """Whether it fell on every batch that ran then."""
        return "all" in self.batches

    def fell_on(self, brood: Brood) -> bool:
        """Whether it fell on a brood: named, or running at the time of an event for all."""
        if not self.everywhere:
            return any(b in self.batches for b in brood.batches)
        return brood.first < brood.age_on(self.ended) + NEAR and brood.last > brood.age_on(
            self.started
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class Brood:
    """The fry of one line: one container, or those they were moved through.

    Attributes
    ----------
    name : str
        The first of its batches.
    batches : tuple of str
    fates : DataFrame
        As in ``rearkit.batch.fates.fates_of``.
    zero : Timestamp
        The day from which its ages are counted.
    clock : str
        By what.
    clutch : str or None
    """

    name: str
    batches: tuple[str, ...]
    fates: pd.DataFrame
    zero: pd.Timestamp
    clock: str
    clutch: str | None

    @property
    def first(self) -> float:
        """Age from which it was watched."""
        return float(self.fates["age_from"].iloc[0])

    @property
    def last(self) -> float:
        """Age at its last look."""
        return float(self.fates["age_to"].iloc[-1])

    def age_on(self, date: pd.Timestamp) -> float:
        """Return its age on a date, whether or not it lived then."""
        return float((date - self.zero) / DAY)

    def watched(self, start: float, end: float) -> bool:
        """Whether it was watched from one age to another, or until none was left."""
        f = self.fates.iloc[-1]
        left = f["at_risk"] + f["added"] - f["dead_found"] - f["missing"] - f["removed"]
        over = self.last >= end - NEAR or (left < 0.5 and self.last > start)
        return self.first <= start + NEAR and bool(over)


@dataclass(frozen=True, kw_only=True)
class Window:
    """Deaths and fry-days of one brood in one stretch of age.

    Attributes
    ----------
    deaths : float
        Found dead; those of an interval that lies only partly inside are shared by days.
    deaths_low, deaths_high : float
        None or all of these shared ones.
    missing : float
        Fish that vanished without a body, as the account places them.
    fry_days : float
        Fry alive at the look before, times days.
    """

    deaths: float
    deaths_low: float
    deaths_high: float
    missing: float
    fry_days: float

    @property
    def per_100(self) -> float:
        """Found dead a day, of every 100 fry."""
        return 100.0 * self.deaths / self.fry_days


def window(fates: pd.DataFrame, start: float, end: float) -> Window:
    """Count deaths and fry-days of one brood in ``(start, end]``, ages in days.

    Parameters
    ----------
    fates : DataFrame
        The fates of the brood.
    start, end : float
        Ages in days. Dead fish found on day ``start`` died before it began.
    """
    a = fates["age_from"].to_numpy(dtype=float)
    b = fates["age_to"].to_numpy(dtype=float)
    overlap = np.clip(np.minimum(b, end) - np.maximum(a, start), 0.0, None)
    share = overlap / np.maximum(b - a, 1e-12)
    dead = fates["dead_found"].to_numpy(dtype=float)
    at_risk = fates["at_risk"].to_numpy(dtype=float)
    return Window(
        deaths=float((dead * share).sum()),
        deaths_low=float(dead[share > 1 - 1e-9].sum()),
        deaths_high=float(dead[share > 1e-9].sum()),
        missing=float((fates["missing"].to_numpy(dtype=float) * share).sum()),
        fry_days=float((at_risk * overlap).sum()),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Passage:
    """One brood over the ages before and after an event.

    Attributes
    ----------
    brood : Brood
    age : float
        The age that stands for the beginning of the event.
    before_days, after_days : float
        How far the windows reach from it; that after takes in the event itself.
    before, after : Window
    whole : bool
        Whether it was watched through both windows.
    """

    brood: Brood
    age: float
    before_days: float
    after_days: float
    before: Window
    after: Window
    whole: bool

    def change(self, *, with_missing: bool = False) -> float:
        """Return the change of the log death rate, half a death added on each side."""
        rates = [
            np.log((w.deaths + (w.missing if with_missing else 0.0) + 0.5) / w.fry_days)
            for w in (self.after, self.before)
        ]
        return float(rates[0] - rates[1])


def happenings(log: Logbook) -> tuple[Happening, ...]:
    """Return the events of a log in the order of the sheet, rows of one event joined."""
    found: dict[tuple[object, ...], Happening] = {}
    for i, e in enumerate(log.events.itertuples(index=False)):
        ended = e.started if pd.isna(e.ended) else e.ended
        what = None if e.what is None or pd.isna(e.what) else str(e.what)
        note = None if e.note is None or pd.isna(e.note) else str(e.note)
        key = (what, e.started, ended)
        one = Happening(
            number=i + 1,
            numbers=(i + 1,),
            what=what,
            batches=(str(e.batch),),
            started=e.started,
            ended=ended,
            note=note,
        )
        known = found.get(key)
        if known is not None:
            notes = dict.fromkeys(n for n in (known.note, note) if n)
            one = replace(
                known,
                numbers=(*known.numbers, i + 1),
                batches=tuple(dict.fromkeys((*known.batches, *one.batches))),
                note="; ".join(notes) or None,
            )
        found[key] = one
    return tuple(found.values())


def broods_of(log: Logbook) -> dict[str, Brood]:
    """Return the broods of a log whose dead were written down, by name."""
    clock = log.batches.set_index("batch")["clock"]
    recorded = accounts_of(log)["dead_recorded"]
    lines = lines_of(log)
    return {
        name: Brood(
            name=name,
            batches=lines[name].batches,
            fates=fates,
            zero=lines[name].age_zero,
            clock=str(clock.get(name)),
            clutch=lines[name].clutch,
        )
        for name, fates in sorted(fates_of(log).items())
        if bool(recorded[name]) and pd.notna(lines[name].age_zero)
    }


def pass_by(
    brood: Brood, age: float, event: Happening, before: float, after: float
) -> Passage | None:
    """Return a brood over the windows of an event at one age; None with no fry in either."""
    end = age + event.days + after
    early, late = window(brood.fates, age - before, age), window(brood.fates, age, end)
    if not (early.fry_days > 0 and late.fry_days > 0):
        return None
    whole = brood.watched(age - before, end)
    return Passage(
        brood=brood,
        age=age,
        before_days=before,
        after_days=event.days + after,
        before=early,
        after=late,
        whole=whole,
    )


def hit_by(
    event: Happening, broods: Mapping[str, Brood], before: float, after: float
) -> dict[str, Passage]:
    """Return the broods an event fell on that had fry on both sides of it, at their own age.

    The window before one that was watched for fewer days is as much shorter.
    """
    found = {}
    for name, brood in broods.items():
        age = brood.age_on(event.started)
        if event.fell_on(brood) and age > brood.first:
            found[name] = pass_by(brood, age, event, min(before, age - brood.first), after)
    return {name: p for name, p in found.items() if p is not None}


def others_at(
    age: float,
    clock: str,
    event: Happening,
    events: Iterable[Happening],
    broods: Mapping[str, Brood],
    before: float,
    after: float,
) -> dict[str, Passage]:
    """Return every brood that passed the same ages whole, unhit by this event or its like."""
    kinds = {*INTERRUPTIONS, event.what}
    found = {}
    for name, brood in broods.items():
        if brood.clock != clock or event.fell_on(brood):
            continue
        passage = pass_by(brood, age, event, before, after)
        start, end = age - before, age + event.days + after
        if passage is None or not passage.whole:
            continue
        if not any(e.what in kinds and overlaps(e, brood, start, end) for e in events):
            found[name] = passage
    return found


def overlaps(event: Happening, brood: Brood, start: float, end: float) -> bool:
    """Whether an event fell on a brood between two ages."""
    if not event.fell_on(brood):
        return False
    return brood.age_on(event.started) < end and brood.age_on(event.ended) >= start


def growth_around(log: Logbook, event: Happening | None, names: list[str]) -> pd.DataFrame:
    """Give growth a day between the measured days before, across and after an event.

    Parameters
    ----------
    log : Logbook
        The log.
    event : Happening or None
        The event.
    names : list of str
        The batches it fell on.

    Returns
    -------
    DataFrame
        One row a batch and span (``before``, ``across``, ``after``) that was measured.
    """
    if event is None:
        return pd.DataFrame(columns=GROWTH_COLUMNS)
    zero = log.batches.set_index("batch")["age_zero"]
    rows = []
    for b, series in measured_lengths(log, names).series.items():
        start = float((event.started - zero[b]) / DAY)
        end = start + event.days
        early = np.flatnonzero(series.days <= start + NEAR)
        late = np.flatnonzero((series.days >= end - NEAR) & (series.days > start + NEAR))
        pairs = {}
        if len(early) > 1:
            pairs["before"] = (early[-2], early[-1])
        if len(early) and len(late):
            pairs["across"] = (early[-1], late[0])
        if len(late) > 1:
            pairs["after"] = (late[0], late[1])
        for span, (i, j) in pairs.items():
            days = float(series.days[j] - series.days[i])
            gain = float(series.means[j] - series.means[i])
            ends = (series.days[i], series.days[j], series.means[i], series.means[j])
            rows.append([b, span, *(float(x) for x in ends), gain / days])
    return pd.DataFrame(rows, columns=GROWTH_COLUMNS)
