"""What the reader makes of the ways in which logs go wrong."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from rearkit.errors import SettingError
from rearkit.logbook.doubts.findings import findings_frame
from rearkit.logbook.read.frames import names_in_frame
from rearkit.logbook.schema.sheets import columns_of
from rearkit.logbook.schema.trial_fields import TRIAL_FIELDS
from tests.logbook.logs import clean, codes, day, frames_of, said


def one(frames, code):
    found = said(frames, code)
    assert len(found) == 1, [f"{f.code}: {f.seen}" for f in frames.findings]
    return found[0]


def row(frame, sheet_row):
    return frame.loc[frame["sheet_row"] == sheet_row].iloc[0]


def counted(frames, sheet="Daily"):
    return frames.rows.set_index("sheet").loc[sheet].to_dict()


# ---- a clean log ------------------------------------------------------------------------------


def test_a_clean_log_has_nothing_to_ask():
    frames = frames_of(clean())
    assert codes(frames, "STOP", "ASK", "FIX") == set()
    assert (frames.rows["n_used"] == frames.rows["n_read"]).all()
    assert frames.rows["n_read"].tolist() == [3, 7, 3, 2, 1]


def test_every_promised_column_is_there_with_its_type():
    frames = frames_of({"Batches": clean()["Batches"], "Daily": clean()["Daily"]})
    for sheet in ("Batches", "Daily", "Sizes", "Positions", "Events"):
        frame = getattr(frames, sheet.lower())
        for column in columns_of(sheet):
            for name in names_in_frame(column):
                if column.kind == "date":
                    assert frame[name].dtype == np.dtype("datetime64[ns]")
                elif column.kind == "number" or name.endswith(("_low", "_best", "_high")):
                    assert frame[name].dtype == np.dtype("float64")
                else:
                    assert frame[name].dtype == np.dtype(object)
                    assert all(v is None or isinstance(v, str) for v in frame[name])
        assert frame["sheet_row"].dtype == np.dtype("int64")
    assert frames.batches["stopped"].dtype == frames.batches["start_known"].dtype == bool


def test_every_trial_field_is_there():
    frames = frames_of(clean())
    assert set(frames.trial) == {field.name for field in TRIAL_FIELDS}
    assert frames.trial["judged_on_day"] == 28.0
    assert frames.trial["counted_blind"] is False
    assert frames.trial["plan_written_on"] == day(3, 20)
    assert frames.trial["keeper"] is None


def test_an_address_of_a_cell():
    frames = frames_of(clean())
    assert frames.at("Daily", 4, "dead").cell == "C4"
    assert frames.at("Daily", 0, "dead").cell is None
    assert frames.at("Daily", 4, "food").cell is None
    assert frames.at("Nowhere", 4, "dead").cell is None


def test_zero_and_blank_stay_apart():
    daily = frames_of(clean()).daily
    assert row(daily, 2)["dead_best"] == 0
    assert np.isnan(row(daily, 7)["dead_best"])


@pytest.mark.parametrize("share", [-0.1, 1.5])
def test_a_share_out_of_range_is_refused(share):
    with pytest.raises(SettingError, match="approx_share"):
        frames_of(clean(), approx_share=share)


def test_an_unknown_date_order_is_refused():
    with pytest.raises(SettingError, match="day first, month first, year first"):
        frames_of(clean(), date_order="dmy")


# ---- what stops a log -------------------------------------------------------------------------


@pytest.mark.parametrize("title", ["Batches", "Daily"])
def test_a_missing_sheet_stops_the_log(title):
    sheets = clean()
    del sheets[title]
    found = one(frames_of(sheets), "no-sheet")
    assert (found.severity, found.scope, found.sheet) == ("STOP", "log", title)


def test_a_misspelled_sheet_is_pointed_out():
    sheets = clean()
    sheets["Dialy"] = sheets.pop("Daily")
    assert "Dialy" in one(frames_of(sheets), "no-sheet").settle


@pytest.mark.parametrize(
    ("title", "column"),
    [("Batches", "batch"), ("Batches", "started"), ("Batches", "start_count"), ("Daily", "date"),
     ("Daily", "batch")],
)  # fmt: skip
def test_a_missing_required_column_stops_the_log(title, column):
    sheets = clean()
    at = sheets[title][0].index(column)
    sheets[title] = [r[:at] + r[at + 1 :] for r in sheets[title]]
    found = one(frames_of(sheets), "no-column")
    assert (found.severity, found.scope, found.column) == ("STOP", "log", column)


def test_a_missing_column_elsewhere_leaves_the_sheet_out():
    sheets = clean()
    sheets["Positions"] = [r[:4] + r[5:] for r in sheets["Positions"]]
    frames = frames_of(sheets)
    assert one(frames, "no-column").severity == "ASK"
    assert frames.positions.empty
    assert counted(frames, "Positions")["n_waiting"] == 2


def test_a_sheet_without_headings_stops_the_log():
    sheets = clean()
    sheets["Daily"] = sheets["Daily"][1:]
    found = one(frames_of(sheets), "no-header")
    assert (found.severity, found.scope) == ("STOP", "log")


def test_a_log_without_batches_is_stopped():
    sheets = clean()
    sheets["Batches"] = sheets["Batches"][:1]
    found = one(frames_of(sheets), "no-batches")
    assert (found.severity, found.scope) == ("STOP", "log")


def test_daily_may_have_headings_only():
    sheets = clean()
    sheets["Daily"] = sheets["Daily"][:1]
    frames = frames_of(sheets)
    assert codes(frames, "STOP") == set()
    assert frames.daily.empty
    assert len(frames.batches) == 3


def test_all_findings_are_given_at_once():
    sheets = clean()
    sheets["Batches"][0][1] = "start_count"  # twice now
    sheets["Batches"][1][7] = "plenty"
    sheets["Daily"][3][2] = "three"
    sheets["Daily"][4][1] = "K9"
    sheets["Daily"][5][0] = "soon"
    sheets["Daily"][6][0] = day(7, 1)
    sheets["Sizes"][1][3] = "long"
    frames = frames_of(sheets)
    assert {"double-column", "text-in-numbers", "unknown-batch", "row-without-date",
            "after-end"} <= codes(frames)  # fmt: skip
    assert {"Batches", "Daily", "Sizes"} == {f.sheet for f in said(frames, "text-in-numbers")} | {
        "Batches"
    }


# ---- dates ------------------------------------------------------------------------------------


def with_dates(*texts):
    """A clean log whose first Daily rows have these dates."""
    sheets = clean()
    for i, text in enumerate(texts, start=1):
        sheets["Daily"][i][0] = text
    return sheets


def test_an_ambiguous_date_stops_the_log_until_the_order_is_set():
    sheets = with_dates("03/04/2025")
    frames = frames_of(sheets)
    found = one(frames, "date-order")
    assert (found.severity, found.scope, found.cell) == ("STOP", "log", "A2")
    assert "date_order" in found.settle
    told = frames_of(sheets, date_order="day first")
    assert codes(told, "STOP", "ASK") == set()
    assert row(told.daily, 2)["date"] == pd.Timestamp(2025, 4, 3)
    sheets["Trial"].append(["date_order", "day first"])
    assert row(frames_of(sheets).daily, 2)["date"] == pd.Timestamp(2025, 4, 3)


def test_the_setting_overrides_the_trial_sheet():
    sheets = with_dates("01/04/2025")
    sheets["Trial"].append(["date_order", "month first"])
    assert one(frames_of(sheets), "before-start").cell == "A2"
    found = frames_of(sheets, date_order="day first")
    assert row(found.daily, 2)["date"] == pd.Timestamp(2025, 4, 1)


def test_other_dates_settle_the_order_and_are_named():
    frames = frames_of(with_dates("03/04/2025", "23/04/2025", "05/04/2025"))
    found = one(frames, "date-order-shown")
    assert found.severity == "ASK"
    assert "day first" in found.done
    assert "23/04/2025 in Daily A3" in found.done
    assert "1 other" in found.seen
    assert row(frames.daily, 2)["date"] == pd.Timestamp(2025, 4, 3)
    assert row(frames.daily, 4)["date"] == pd.Timestamp(2025, 4, 5)


def test_dates_of_another_sheet_settle_the_order_too():
    sheets = with_dates("04/03/2025")
    sheets["Batches"][3][6] = "04/06/2025"
    sheets["Events"][1][0] = "04/13/2025"
    sheets["Events"][1][1] = None
    frames = frames_of(sheets)
    assert "month first" in one(frames, "date-order-shown").done
    assert frames.batches["started"].iloc[2] == pd.Timestamp(2025, 4, 6)


def test_contradicting_dates_stop_the_log():
    frames = frames_of(with_dates("03/04/2025", "23/04/2025", "04/24/2025"))
    assert "contradict" in one(frames, "date-order").seen


def test_a_date_in_the_other_order_is_asked():
    sheets = with_dates("04/13/2025", "05/04/2025")
    frames = frames_of(sheets, date_order="day first")
    found = one(frames, "date-other-order")
    assert (found.severity, found.cell) == ("ASK", "A2")
    assert row(frames.daily, 2)["date"] == pd.Timestamp(2025, 4, 13)


def test_dates_with_dots_are_day_first():
    frames = frames_of(with_dates("03.04.2025"))
    assert one(frames, "date-order-dots").severity == "NOTE"
    assert row(frames.daily, 2)["date"] == pd.Timestamp(2025, 4, 3)


def test_written_out_dates_need_no_order():
    frames = frames_of(with_dates("3 Apr 2025", "2025-04-03", "April 4, 2025"))
    assert codes(frames, "STOP", "ASK", "FIX") == set()


def test_day_numbers_are_dates():
    number = (day(4, 3) - dt.date(1899, 12, 30)).days
    frames = frames_of(with_dates(number, number + 1))
    found = one(frames, "day-number")
    assert (found.severity, found.cell) == ("FIX", "A2")
    assert "also in row 3" in found.seen
    assert row(frames.daily, 2)["date"] == pd.Timestamp(2025, 4, 3)
    assert counted(frames)["n_repaired"] == 2


def test_a_swapped_real_date_is_put_right_and_asked():
    sheets = with_dates("13/04/2025", "14/04/2025", day(11, 4), day(5, 4))
    frames = frames_of(sheets)
    found = said(frames, "date-swapped")
    assert [(f.severity, f.cell) for f in found] == [("ASK", "A4"), ("ASK", "A5")]
    assert row(frames.daily, 4)["date"] == pd.Timestamp(2025, 4, 11)
    assert row(frames.daily, 5)["date"] == pd.Timestamp(2025, 4, 5)
    assert row(frames.daily, 6)["date"] == pd.Timestamp(2025, 4, 6)


def test_a_missing_year_is_asked():
    frames = frames_of(with_dates("3 Apr"))
    assert one(frames, "date-no-year").severity == "ASK"
    assert row(frames.daily, 2)["date"] == pd.Timestamp(2025, 4, 3)


@pytest.mark.parametrize(
    ("date", "code"),
    [
        (day(3, 31), "before-start"),
        (day(5, 11), "after-end"),
        (day(4, 3, 2052), "impossible-year"),
        (day(4, 3, 1925), "impossible-year"),
        ("2025-02-30", "row-without-date"),
        (None, "row-without-date"),
    ],
)
def test_a_row_that_cannot_be_is_left_out(date, code):
    frames = frames_of(with_dates(date))
    found = one(frames, code)
    assert (found.severity, found.scope, found.row) == ("STOP", "row", 2)
    assert 2 not in set(frames.daily["sheet_row"])
    assert counted(frames) == {
        "n_read": 7, "n_used": 6, "n_repaired": 0, "n_waiting": 0, "n_unusable": 1
    }  # fmt: skip


def test_a_row_out_of_its_batch_hints_at_a_swap():
    assert "2025-04-03" in one(frames_of(with_dates(day(3, 4))), "before-start").settle


# ---- counts and numbers -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [("2 dead?", (1.8, 2, 2.2)), ("three", (3, 3, 3)), ("O", (0, 0, 0)), ("2 doz", (24, 24, 24))],
)
def test_text_in_counts_is_asked(text, expected):
    sheets = clean()
    sheets["Daily"][3][2] = text
    frames = frames_of(sheets)
    found = one(frames, "text-in-numbers")
    assert (found.severity, found.cell, found.column) == ("ASK", "C4", "dead")
    assert text in found.seen
    made = row(frames.daily, 4)
    assert (made["dead_low"], made["dead_best"], made["dead_high"]) == expected
    assert made["dead_text"] == text
    assert counted(frames)["n_waiting"] == 1


@pytest.mark.parametrize("text", ["lots", "some", "dunno"])
def test_a_count_without_a_number_is_not_known(text):
    sheets = clean()
    sheets["Daily"][3][2] = text
    frames = frames_of(sheets)
    assert one(frames, "text-in-numbers").done == "read as not known"
    assert np.isnan(row(frames.daily, 4)["dead_best"])


def test_a_negative_count_is_not_known():
    sheets = clean()
    sheets["Daily"][3][2] = -2
    frames = frames_of(sheets)
    assert one(frames, "negative-count").severity == "ASK"
    assert np.isnan(row(frames.daily, 4)["dead_best"])


def test_ranges_are_noted_and_kept():
    sheets = clean()
    sheets["Daily"][1][5] = "~40"
    frames = frames_of(sheets, approx_share=0.05)
    made = row(frames.daily, 2)
    assert (made["alive_low"], made["alive_best"], made["alive_high"]) == (38, 40, 42)
    assert {f.severity for f in said(frames, "count-range")} == {"NOTE"}


@pytest.mark.parametrize("text", ["unknown", "Unknown ", "not known"])
def test_an_unknown_start_count_is_allowed(text):
    sheets = clean()
    sheets["Batches"][1][7] = text
    frames = frames_of(sheets)
    assert not frames.batches["start_known"].iloc[0]
    assert codes(frames, "STOP", "ASK") == set()


def test_a_blank_start_count_is_asked():
    sheets = clean()
    sheets["Batches"][1][7] = None
    frames = frames_of(sheets)
    assert one(frames, "no-start-count").cell == "H2"
    assert not frames.batches["start_known"].iloc[0]


def test_decimal_commas_are_repaired():
    sheets = clean()
    sheets["Daily"][1][6] = "25,5"
    frames = frames_of(sheets)
    assert one(frames, "decimal-comma").severity == "FIX"
    assert row(frames.daily, 2)["temp_c"] == 25.5


def test_commas_and_points_in_one_column_are_asked():
    sheets = clean()
    sheets["Daily"][1][6], sheets["Daily"][2][6] = "25,5", "25.5"
    found = one(frames_of(sheets), "two-decimal-marks")
    assert (found.severity, found.cell) == ("ASK", "G2")
    assert "G3" in found.seen


def test_percentages_as_fractions_are_asked():
    sheets = clean()
    sheets["Daily"][0].append("water_changed_percent")
    for r, value in zip(sheets["Daily"][1:5], (0.2, 0.5, 1, 0), strict=True):
        r.append(value)
    frames = frames_of(sheets)
    assert frames.daily["water_changed_percent"].head(4).tolist() == [20, 50, 100, 0]
    found = one(frames, "percent-as-fraction")
    assert (found.severity, found.cell) == ("ASK", "J2")
    sheets["Daily"][2][-1] = 20
    assert frames_of(sheets).daily["water_changed_percent"].head(4).tolist() == [20, 20, 1, 0]


def test_a_measurement_that_cannot_be_is_blank():
    sheets = clean()
    sheets["Daily"][1][6] = 255
    frames = frames_of(sheets)
    assert one(frames, "cannot-be").cell == "G2"
    assert np.isnan(row(frames.daily, 2)["temp_c"])


def test_units_in_cells_are_repaired():
    sheets = clean()
    sheets["Daily"][1][6] = "25.5 °C"
    sheets["Batches"][1][4] = "8 L"
    sheets["Sizes"][1][3] = "0.55 cm"
    frames = frames_of(sheets)
    assert {f.severity for f in said(frames, "unit-in-cell")} == {"FIX"}
    assert row(frames.daily, 2)["temp_c"] == 25.5
    assert frames.batches["litres"].iloc[0] == 8
    assert frames.sizes["length_mm"].iloc[0] == 5.5


# ---- names ------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["k1-OPEN", "K1-open ", "К1-open", "K1 – open", "K1-оpen"])
def test_spellings_of_one_batch_are_joined(text):
    sheets = clean()
    sheets["Daily"][3][1] = text
    frames = frames_of(sheets)
    found = one(frames, "name-joined")
    assert (found.severity, found.cell) == ("FIX", "B4")
    assert row(frames.daily, 4)["batch"] == "K1-open"
    assert counted(frames)["n_repaired"] == 1


@pytest.mark.parametrize("text", ["K1 open", "K1-opne", "KI-open", "K1-opens"])
def test_an_unknown_batch_is_asked_with_the_nearest_name(text):
    sheets = clean()
    sheets["Daily"][3][1] = text
    frames = frames_of(sheets)
    found = one(frames, "unknown-batch")
    assert (found.severity, found.cell, found.batch) == ("ASK", "B4", text)
    assert "K1-open" in found.settle
    assert 4 not in set(frames.daily["sheet_row"])
    assert counted(frames)["n_waiting"] == 1


def test_spellings_of_methods_are_joined_and_different_words_are_not():
    sheets = clean()
    sheets["Batches"][1][2] = "Open "
    sheets["Batches"][0].append("first food")
    for r, food in zip(sheets["Batches"][1:], ("Shrimp", "shrimp", "worms"), strict=True):
        r.append(food)
    frames = frames_of(sheets)
    assert frames.batches["method"].tolist() == ["Open", "shaded", "Open"]
    assert frames.trial["usual"] == "Open"
    assert frames.batches["first_food"].tolist() == ["Shrimp", "Shrimp", "worms"]
    assert [(f.sheet, f.cell) for f in said(frames, "name-joined")] == [
        ("Batches", "C2"), ("Batches", "C4"), ("Batches", "L3"), ("Trial", "B4")
    ]  # fmt: skip
    assert one(frames, "extra-factor").severity == "NOTE"


def test_usual_and_tested_are_spelled_as_in_batches():
    sheets = clean()
    sheets["Trial"][3][1] = "OPEN "
    frames = frames_of(sheets)
    assert frames.trial["usual"] == "open"
    assert one(frames, "name-joined").sheet == "Trial"


def test_a_method_that_no_batch_has_is_asked():
    sheets = clean()
    sheets["Trial"][4][1] = "shadow"
    found = one(frames_of(sheets), "unknown-value")
    assert found.severity == "ASK"
    assert "shaded" in found.settle


def test_compare_names_a_column_by_its_heading():
    sheets = clean()
    sheets["Batches"][0].append("First Food")
    for r, food in zip(sheets["Batches"][1:], ("shrimp", "worms", "worms"), strict=True):
        r.append(food)
    sheets["Trial"][2:5] = [["compare", "first food"], ["usual", "worms"], ["tested", "shrimp"]]
    frames = frames_of(sheets)
    assert frames.trial["compare"] == "first_food"
    assert codes(frames, "ASK", "STOP") == set()
    sheets["Trial"][2][1] = "frist food"
    assert "first_food" in one(frames_of(sheets), "unknown-compare").settle


def test_two_batches_of_one_name_stop_that_batch():
    sheets = clean()
    sheets["Batches"][2][0] = "k1-open"
    frames = frames_of(sheets)
    found = one(frames, "batch-name")
    assert (found.severity, found.scope, found.row) == ("STOP", "batch", 3)
    assert frames.batches["batch"].is_unique
    assert frames.batches["stopped"].tolist() == [True, False]


def test_a_batch_twice_in_every_cell_is_used_once():
    sheets = clean()
    sheets["Batches"].append(list(sheets["Batches"][1]))
    frames = frames_of(sheets)
    assert one(frames, "row-twice").severity == "ASK"
    assert not frames.batches["stopped"].any()
    assert len(frames.batches) == 3


def test_a_batch_without_a_start_is_stopped_and_stays():
    sheets = clean()
    sheets["Batches"][1][6] = None
    frames = frames_of(sheets)
    assert one(frames, "batch-dates").scope == "batch"
    assert frames.batches["stopped"].tolist() == [True, False, False]
    assert counted(frames)["n_unusable"] == 3


@pytest.mark.parametrize(
    ("started", "ended"), [(day(4, 1), day(3, 1)), (day(4, 1), day(4, 1, 2052))]
)
def test_a_batch_that_ends_before_it_starts_is_stopped(started, ended):
    sheets = clean()
    sheets["Batches"][1][6], sheets["Batches"][1][8] = started, ended
    assert "batch-dates" in codes(frames_of(sheets), "STOP")


def test_dates_of_a_batch_out_of_order_are_asked():
    sheets = clean()
    sheets["Batches"][0][1] = "spawned"
    for r, spawned in zip(sheets["Batches"][1:], (day(3, 30), day(3, 24), None), strict=True):
        r[1] = spawned
    found = one(frames_of(sheets), "dates-out-of-order")
    assert (found.severity, found.row) == ("ASK", 2)


def test_an_unknown_parent_batch_is_asked():
    sheets = clean()
    sheets["Batches"][0].append("from_batch")
    for r, parent in zip(sheets["Batches"][1:], (None, "k1-OPEN", "K1-shde"), strict=True):
        r.append(parent)
    frames = frames_of(sheets)
    assert frames.batches["from_batch"].tolist() == [None, "K1-open", "K1-shde"]
    assert "K1-shade" in one(frames, "unknown-batch").settle


def test_numbers_as_names_are_text():
    number = {"K1-open": 1, "K1-shade": 2, "K2-open": 3}
    sheets = {
        title: [[number.get(value, value) for value in line] for line in clean()[title]]
        for title in ("Batches", "Daily")
    }
    frames = frames_of(sheets)
    assert frames.batches["batch"].tolist() == ["1", "2", "3"]
    assert set(frames.daily["batch"]) == {"1", "2", "3"}
    assert codes(frames, "ASK", "STOP", "FIX") == set()


# ---- rows -------------------------------------------------------------------------------------


def test_titles_totals_text_and_empty_rows_are_left_out():
    sheets = clean()
    daily = sheets["Daily"]
    sheets["Daily"] = [
        ["Kribensis, spring 2025"],
        [],
        daily[0],
        *daily[1:4],
        [],
        ["--- second week ---"],
        daily[0],
        *daily[4:],
        ["Total", None, 4, 3],
    ]
    frames = frames_of(sheets)
    assert {"title-lines", "empty-rows", "text-only", "repeated-header", "totals"} <= codes(
        frames, "FIX"
    )
    assert codes(frames, "STOP", "ASK") == set()
    assert frames.daily["sheet_row"].tolist() == [4, 5, 6, 10, 11, 12, 13]
    assert counted(frames)["n_read"] == 7


def test_a_line_of_text_among_batches_is_left_out():
    sheets = clean()
    sheets["Batches"].insert(2, ["spring"])
    frames = frames_of(sheets)
    assert one(frames, "text-only").row == 3
    assert len(frames.batches) == 3


def test_identical_rows_are_used_once_and_asked():
    sheets = clean()
    sheets["Daily"].append(list(sheets["Daily"][3]))
    frames = frames_of(sheets)
    found = one(frames, "row-twice")
    assert (found.severity, found.row) == ("ASK", 9)
    assert "row 4" in found.seen
    assert len(frames.daily) == 7


def test_two_visits_of_one_day_are_kept_and_noted():
    sheets = clean()
    again = list(sheets["Daily"][3])
    again[2] = 1
    sheets["Daily"].append(again)
    frames = frames_of(sheets)
    assert one(frames, "two-visits").severity == "NOTE"
    assert len(frames.daily) == 8


def test_equal_fish_are_two_fish():
    assert len(frames_of(clean()).sizes) == 3


def test_a_scan_twice_is_used_once():
    sheets = clean()
    sheets["Positions"].append(list(sheets["Positions"][1]))
    frames = frames_of(sheets)
    assert one(frames, "row-twice").sheet == "Positions"
    assert len(frames.positions) == 2


@pytest.mark.parametrize("word", ["all", "ALL ", "every", "all batches"])
def test_all_is_every_batch_that_runs_that_day(word):
    sheets = clean()
    sheets["Daily"] = [
        *sheets["Daily"][:1],
        [day(4, 3), word, 0, None, None, None, 24, 12, "lid on"],
        [day(4, 7), word, 0, None, None, None, 24, 12, None],
    ]
    daily = frames_of(sheets).daily
    assert daily.loc[daily["sheet_row"] == 2, "batch"].tolist() == ["K1-open", "K1-shade"]
    assert daily.loc[daily["sheet_row"] == 2, "minutes"].tolist() == [6, 6]
    assert daily.loc[daily["sheet_row"] == 3, "minutes"].tolist() == [4, 4, 4]
    assert daily["minutes"].sum() == 24
    assert (daily["dead_best"] == 0).all()
    assert (daily["temp_c"] == 24).all()


def test_dead_of_all_batches_cannot_be_placed():
    sheets = clean()
    sheets["Daily"].append([day(4, 3), "all", 2])
    frames = frames_of(sheets)
    assert one(frames, "count-for-all").cell == "C9"
    assert frames.daily.loc[frames.daily["sheet_row"] == 9, "dead_best"].isna().all()


def test_all_on_a_day_when_nothing_ran():
    sheets = clean()
    sheets["Daily"].append([day(1, 3), "all", 0])
    frames = frames_of(sheets)
    assert one(frames, "nothing-ran").scope == "row"
    assert 9 not in set(frames.daily["sheet_row"])


def test_unknown_columns_are_kept_and_noted():
    sheets = clean()
    sheets["Daily"][0].append("Moon phase")
    sheets["Daily"][1].append("full")
    frames = frames_of(sheets)
    assert frames.daily["moon_phase"].tolist()[0] == "full"
    assert one(frames, "unknown-column").severity == "NOTE"


def test_an_extra_column_never_takes_a_name_that_is_used():
    sheets = clean()
    headings = ["sheet row", "stopped", "Start-count low", "2nd", "2nd"]
    sheets["Batches"][0] += headings
    for r in sheets["Batches"][1:]:
        r += ["a", "b", "c", "d", "e"]
    frames = frames_of(sheets)
    assert frames.batches.columns.is_unique
    assert frames.batches["start_count_low"].tolist() == [40, 38, 30]
    assert frames.batches["column_2nd_2"].tolist() == ["e"] * 3


def test_choices_in_other_words():
    sheets = clean()
    sheets["Daily"][6][4] = "Sale"
    assert row(frames_of(sheets).daily, 7)["removed_why"] == "sold"
    sheets["Daily"][6][4] = "eaten"
    frames = frames_of(sheets)
    assert one(frames, "unknown-choice").severity == "ASK"
    assert row(frames.daily, 7)["removed_why"] == "other"


def test_an_event_in_other_words_keeps_them():
    sheets = clean()
    sheets["Events"][1][3] = "heron visit"
    events = frames_of(sheets).events
    assert events["what"].item() == "other"
    assert events["note"].item() == "heron visit; two hours"


def test_formula_errors_are_blank_and_noted():
    sheets = clean()
    sheets["Daily"][3][2] = "#DIV/0!"
    frames = frames_of(sheets)
    assert one(frames, "formula-error").severity == "NOTE"
    assert np.isnan(row(frames.daily, 4)["dead_best"])


def test_a_range_turned_into_a_day_number():
    sheets = clean()
    sheets["Daily"][3][2] = (dt.date(2025, 12, 10) - dt.date(1899, 12, 30)).days
    frames = frames_of(sheets)
    assert one(frames, "count-became-date").severity == "ASK"
    assert row(frames.daily, 4)["dead_best"] == 11


# ---- sizes ------------------------------------------------------------------------------------


def sizes(*rows, kind="total"):
    sheets = clean()
    sheets["Sizes"] = [["date", "batch", "length_mm", "kind"]]
    sheets["Sizes"] += [[date, "K1-open", length, kind] for date, length in rows]
    return sheets


def test_centimetres_among_millimetres_are_asked():
    frames = frames_of(
        sizes((day(4, 5), 5.5), (day(4, 5), 5.7), (day(4, 12), 0.7), (day(4, 12), 7.2),
              (day(4, 19), 0.9), (day(4, 19), 0.95))
    )  # fmt: skip
    assert frames.sizes["length_mm"].tolist() == [5.5, 5.7, 7, 7.2, 9, 9.5]
    found = one(frames, "cm-among-mm")
    assert (found.severity, found.cell) == ("ASK", "C4")
    assert counted(frames, "Sizes")["n_waiting"] == 3


def test_centimetres_before_millimetres():
    frames = frames_of(sizes((day(4, 5), 0.55), (day(4, 12), 0.7), (day(4, 19), 9)))
    assert frames.sizes["length_mm"].tolist() == [5.5, 7, 9]


def test_fish_may_grow_tenfold_in_a_month():
    frames = frames_of(sizes((day(4, 2), 3), (day(5, 9), 20)))
    assert "cm-among-mm" not in codes(frames)


def test_two_kinds_of_length_are_asked():
    sheets = sizes((day(4, 5), 5.5), (day(4, 12), 7))
    sheets["Sizes"][2][3] = "SL"
    frames = frames_of(sheets)
    assert one(frames, "two-kinds-of-length").row == 3
    assert frames.sizes["kind"].tolist() == ["total", "standard"]


def test_a_row_without_a_measurement_is_left_out():
    frames = frames_of(sizes((day(4, 5), 5.5), (day(4, 6), None)))
    assert one(frames, "nothing-measured").scope == "row"
    assert len(frames.sizes) == 1


# ---- properties -------------------------------------------------------------------------------


def spoilt():
    sheets = clean()
    sheets["Daily"][1][1] = "k1-open"
    sheets["Daily"][2][2] = "three"
    sheets["Daily"][3][0] = "23/04/2025"
    sheets["Daily"][4][0] = "05/04/2025"
    sheets["Daily"][5][1] = "K9"
    sheets["Daily"].append(list(sheets["Daily"][7]))
    sheets["Daily"].append([day(4, 20), "all", 0, None, None, None, 25, 9, None])
    sheets["Sizes"][1][3] = 0.55
    return sheets


@pytest.mark.parametrize("seed", range(12))
def test_the_order_of_rows_and_columns_does_not_matter(seed):
    rng = np.random.default_rng(seed)
    base = frames_of(spoilt())
    sheets = spoilt()
    for title in ("Batches", "Daily", "Sizes", "Positions", "Events"):
        header, *rows = sheets[title]
        width = len(header)
        rows = [r + [None] * (width - len(r)) for r in rows]
        columns = rng.permutation(width)
        order = rng.permutation(len(rows))
        sheets[title] = [[header[c] for c in columns]]
        sheets[title] += [[rows[i][c] for c in columns] for i in order]
    found = frames_of(sheets)
    for name in ("batches", "daily", "sizes", "positions", "events"):
        a, b = (_sorted(getattr(frames, name)) for frames in (base, found))
        pd.testing.assert_frame_equal(a, b)
    pd.testing.assert_frame_equal(base.rows, found.rows)
    assert codes(base) == codes(found)


def _sorted(frame):
    frame = frame.drop(columns="sheet_row")
    return frame.sort_values(list(frame.columns), ignore_index=True)


@pytest.mark.parametrize("seed", range(25))
def test_rows_always_add_up_and_no_cell_brings_the_reader_down(seed):
    rng = np.random.default_rng(seed)
    odd = ["", " ", "?", "-", "all", "K1", "=1+1", "#REF!", "1/2/2025", "31/12/25", "~4", "40+",
           "9" * 30, "x" * 300, "<b>", "\u202e", "nan", "1e9", "-1", "½", "2025-02-30", "Total",
           0, -5, 1e12, 45_731, 0.5, day(1, 1, 1900), day(12, 31, 2099), "no"]  # fmt: skip
    sheets = clean()
    for _ in range(12):
        title = str(rng.choice(list(sheets)))
        r = int(rng.integers(0 if rng.random() < 0.1 else 1, len(sheets[title])))
        c = int(rng.integers(0, len(sheets[title][0])))
        line = sheets[title][r]
        line += [None] * (c + 1 - len(line))
        line[c] = odd[int(rng.integers(len(odd)))]
    frames = frames_of(sheets)
    parts = frames.rows[["n_used", "n_repaired", "n_waiting", "n_unusable"]]
    assert (parts.sum(axis=1) == frames.rows["n_read"]).all()
    table = findings_frame(frames.findings)
    for column in ("seen", "done", "settle"):
        assert table[column].str.len().between(1, 600).all()
    assert len(frames.batches["batch"]) == frames.batches["batch"].nunique()
