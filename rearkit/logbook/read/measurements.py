"""Check measurements: impossible values, shares as fractions, units of the sheet, kinds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

import pandas as pd

from rearkit.logbook.doubts.telling import Teller
from rearkit.logbook.read.tables import Table
from rearkit.logbook.read.typed_columns import Values

JUMP = (5.0, 20.0)  # a ratio of lengths that a mix of cm and mm explains
JUMP_DAYS = 21  # within which no fish grows that much
SMALLEST_MM = 2.0  # fry are longer than this when they hatch
FAR_TOO_LIGHT = 0.02  # of the weight that a fish of its length has
_Day = tuple[object, pd.Timestamp, list[float]]
# The least and the greatest that a column may hold.
_LIMITS: dict[str, tuple[float, float]] = {
    "litres": (0.01, 100_000.0),
    "feeds": (0.0, 100.0),
    "water_changed_percent": (0.0, 100.0),
    "area_percent": (0.0, 100.0),
    "temp_c": (0.0, 45.0),
    "minutes": (0.0, 1440.0),
    "fish": (1.0, 1_000_000.0),
    "length_mm": (0.1, 2_000.0),
    "length_sd_mm": (0.0, 1_000.0),
    "weight_mg": (0.001, 50_000_000.0),
}


def fractions_to_percent(
    table: Table, name: str, rows: Sequence[int], values: Values, teller: Teller
) -> None:
    """Ask about percentages that are written as fractions of 1, and read them times 100.

    A value below 1 is one; so is a 1 where nothing larger stands in the column.
    """
    column = values[name]
    known = [value for value in column if isinstance(value, float) and value > 0]
    if not any(value < 1 for value in known):
        return
    most = 1.0 if max(known) <= 1 else math.nextafter(1.0, 0.0)
    for i, row in enumerate(rows):
        value = column[i]
        cell = table.cell(row, name)
        if not isinstance(value, float) or not 0 < value <= most:
            continue
        if cell is not None and cell.text.endswith("%") and cell.kind != "number":
            continue
        column[i] = round(100.0 * value, 9)
        at = table.at(row, name)
        teller.tell("percent-as-fraction", at, together=name, value=value, percent=column[i])


def check_limits(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    """Ask about measurements that cannot be, and read them as blank."""
    for column in table.sheet.columns:
        if column.name not in _LIMITS:
            continue
        low, high = _LIMITS[column.name]
        data = values[column.name]
        for i, row in enumerate(rows):
            value = data[i]
            if not isinstance(value, float) or math.isnan(value) or low <= value <= high:
                continue
            cell = table.cell(row, column.name)
            data[i] = math.nan
            teller.tell(
                "cannot-be",
                table.at(row, column.name),
                together=(column.name, value),
                text=cell.text if cell else value,
                help=column.help,
                least=low,
                most=high,
            )


def two_kinds(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    """Ask about batches that are measured in total and in standard length."""
    first: dict[object, dict[str, int]] = {}
    columns = zip(rows, values["batch"], values["kind"], values["length_mm"], strict=True)
    for row, batch, kind, length in columns:
        if length == length:  # not NaN
            first.setdefault(batch, {}).setdefault(str(kind or "blank"), row)
    for batch, kinds in first.items():
        if len(kinds) > 1:
            at = table.at(max(kinds.values()), "kind")
            found = [f"{kind} (row {n})" for kind, n in sorted(kinds.items())]
            teller.tell("two-kinds-of-length", at, batch=str(batch), kinds=found)


# ---- centimetres or millimetres, grams or milligrams: one decision for the sheet ----------------


def unit_of_lengths(days: Sequence[_Day]) -> str:
    """Decide for a whole sheet whether its lengths are in millimetres or in centimetres.

    Parameters
    ----------
    days : sequence of (batch, Timestamp, list of float)
        The lengths of every batch and day on which it was measured.

    Returns
    -------
    str
        ``"mm"``; ``"cm"``; or ``"both"``: those below 2, which no fry can be in millimetres, are
        in centimetres, all others in millimetres. It is both if most of the short ones stand
        beside fish five to twenty times as long, of their own batch (else of any) within three
        weeks. Otherwise it is centimetres if half of all are below 2. Nothing is decided by batch.

    Examples
    --------
    >>> d = [pd.Timestamp(2025, 4, n) for n in (1, 8)]
    >>> unit_of_lengths([("A", d[0], [2.5]), ("A", d[1], [12.9]), ("B", d[1], [11.0])])
    'mm'
    >>> unit_of_lengths([("A", d[0], [0.5, 5.2]), ("A", d[1], [7.1])])
    'both'
    >>> unit_of_lengths([("A", d[0], [0.5]), ("A", d[1], [0.7])])
    'cm'
    """
    every = [length for _, _, lengths in days for length in lengths]
    short = [x for x in every if x < SMALLEST_MM]
    if not short:
        return "mm"
    long = [(b, day, [x for x in xs if x >= SMALLEST_MM]) for b, day, xs in days]
    long = [one for one in long if one[2]]
    tenths = 0
    for batch, day, lengths in days:
        beside = _nearest(long, day, batch)
        if beside is not None:
            tenths += sum(JUMP[0] <= beside / x <= JUMP[1] for x in lengths if x < SMALLEST_MM)
    if 2 * tenths > len(short):
        return "both"
    return "cm" if median(every) < SMALLEST_MM else "mm"


def _nearest(long: Sequence[_Day], day: pd.Timestamp, batch: object) -> float | None:
    """Give what short lengths are held against: fish of the nearest day, of their own batch first.

    None where none was measured within three weeks.
    """
    near = [one for one in long if abs((one[1] - day).days) <= JUMP_DAYS]
    own = [one for one in near if one[0] == batch] or near
    if not own:
        return None
    gap = min(abs((one[1] - day).days) for one in own)
    return median(x for one in own if abs((one[1] - day).days) == gap for x in one[2])


def in_millimetres(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    """Ask about lengths in centimetres, and read them times ten: all, or those below 2.

    Parameters
    ----------
    table : Table
        The sheet Sizes.
    rows : sequence of int
    values : dict of str to list
        Its columns; lengths, and their spread, are changed in place.
    teller : Teller
    """
    lengths = values["length_mm"]
    places: dict[tuple[object, pd.Timestamp], list[float]] = {}
    for i, length in enumerate(lengths):
        if length > 0 and not pd.isna(values["date"][i]):
            places.setdefault((values["batch"][i], values["date"][i]), []).append(length)
    found = unit_of_lengths([(batch, day, xs) for (batch, day), xs in places.items()])
    if found == "mm":
        return
    for i, length in enumerate(lengths):
        if length > 0 and (found == "cm" or length < SMALLEST_MM):
            _times_ten(i, values)
            said = {"length": length, "longer": values["length_mm"][i]}
            at = table.at(rows[i], "length_mm")
            if found == "cm":
                teller.tell("lengths-in-cm", at, together="lengths-in-cm", **said)
            else:
                teller.tell("cm-among-mm", at, together="cm-among-mm", **said)


def _times_ten(i: int, values: Values) -> None:
    length, spread = values["length_mm"][i], values["length_sd_mm"][i]
    values["length_mm"][i] = round(10.0 * length, 9)
    if spread <= length / 2.0:  # more than half the mean is no spread in centimetres
        values["length_sd_mm"][i] = round(10.0 * spread, 9)


def in_milligrams(table: Table, rows: Sequence[int], values: Values, teller: Teller) -> None:
    """Ask about weights in grams, and read them times a thousand: all of the sheet or none.

    A fish of L millimetres weighs about L³/100 milligrams. Weights are in grams if half of the
    fish that were measured and weighed would else be fifty times lighter than that.
    """
    weights = values["weight_mg"]
    pairs = zip(weights, values["length_mm"], strict=True)
    shares = [100.0 * w / length**3 for w, length in pairs if w > 0 and length > 0]
    if not shares or median(shares) >= FAR_TOO_LIGHT:
        return
    for i, weight in enumerate(weights):
        if weight > 0:
            weights[i] = round(1000.0 * weight, 9)
            said = {"weight": weight, "heavier": weights[i]}
            at = table.at(rows[i], "weight_mg")
            teller.tell("weights-in-grams", at, together="weights-in-grams", **said)
