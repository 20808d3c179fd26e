from __future__ import annotations

import hashlib
import json
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from rearkit import read_log
from rearkit.report.tidy import FRAMES, inert, write_tidy

DEMO = Path(__file__).parents[2] / "data_templates" / "demo_shade_trial.xlsx"


@pytest.fixture
def package(tiny_log: SimpleNamespace, tmp_path: Path) -> dict:
    write_tidy(tiny_log, tmp_path / "tidy")
    described: dict = json.loads((tmp_path / "tidy" / "datapackage.json").read_text("utf-8"))
    return described


def test_every_frame_is_written_and_described(package: dict, tmp_path: Path) -> None:
    paths = [resource["path"] for resource in package["resources"]]
    assert paths == [f"{name}.csv" for name in ("trial", *FRAMES)]
    assert {path.name for path in (tmp_path / "tidy").iterdir()} == {*paths, "datapackage.json"}


def test_sizes_hashes_and_columns_in_the_description_are_those_of_the_files(
    package: dict, tmp_path: Path
) -> None:
    for resource in package["resources"]:
        data = (tmp_path / "tidy" / resource["path"]).read_bytes()
        assert resource["bytes"] == len(data)
        assert resource["hash"] == f"sha256:{hashlib.sha256(data).hexdigest()}"
        header = data.decode("utf-8").splitlines()[0]
        assert header == ",".join(field["name"] for field in resource["schema"]["fields"])


def test_types_are_those_of_the_frame(package: dict) -> None:
    fields = {
        resource["name"]: {f["name"]: f["type"] for f in resource["schema"]["fields"]}
        for resource in package["resources"]
    }
    assert fields["daily"] == {
        "date": "date",
        "batch": "string",
        "dead_best": "number",
        "alive_high": "number",
        "dead_text": "string",
    }
    assert fields["rows"] == {"sheet": "string", "n_read": "integer", "stopped": "boolean"}


def test_columns_of_the_log_carry_what_its_dictionary_says(package: dict) -> None:
    daily = next(r for r in package["resources"] if r["name"] == "daily")
    described = {field["name"]: field.get("description", "") for field in daily["schema"]["fields"]}
    assert described["dead_best"].endswith("Here: the best single value.")
    assert described["alive_high"].endswith("Here: the most it can be, INF if open.")
    assert described["batch"]


def test_no_text_is_left_that_a_spreadsheet_would_run(package: dict, tmp_path: Path) -> None:
    daily = (tmp_path / "tidy" / "daily.csv").read_text("utf-8").splitlines()
    assert daily[1:] == [
        "2025-03-01,'=HYPERLINK(1),1.0,INF,30-36",
        "2025-03-02,tub 2,,12.0,'-",
        ",,0.3333333333333333,-2.5,'+3",
    ]
    trial = (tmp_path / "tidy" / "trial.csv").read_text("utf-8").splitlines()
    assert trial == ["field,value", "title,'=1+1", "aim,", "tank_litres,12"]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_every_start_of_a_formula_gets_an_apostrophe(start: str) -> None:
    assert inert(f"{start}cmd") == f"'{start}cmd"
    assert inert(f"a{start}") == f"a{start}"


def test_a_column_name_is_made_inert_too(tiny_log: SimpleNamespace, tmp_path: Path) -> None:
    tiny_log.events = pd.DataFrame({"=cmd": [1]})
    write_tidy(tiny_log, tmp_path)
    assert (tmp_path / "events.csv").read_text("utf-8") == "'=cmd\n1\n"


def test_full_precision_and_text_with_commas_quotes_and_lines_come_back(
    tiny_log: SimpleNamespace, tmp_path: Path
) -> None:
    values = np.random.default_rng(4).random(50)
    notes = ['a,b "c"\nd', "é ü 鱼"] * 25
    tiny_log.sizes = pd.DataFrame({"length_mm": values, "note": notes})
    write_tidy(tiny_log, tmp_path)
    back = pd.read_csv(tmp_path / "sizes.csv", float_precision="round_trip")
    assert back["length_mm"].tolist() == values.tolist()
    assert back["note"].tolist() == notes


def test_a_day_with_an_hour_keeps_its_hour(tiny_log: SimpleNamespace, tmp_path: Path) -> None:
    tiny_log.events = pd.DataFrame({"at": pd.to_datetime(["2025-03-01 06:30"])})
    write_tidy(tiny_log, tmp_path)
    assert "2025-03-01 06:30:00" in (tmp_path / "events.csv").read_text("utf-8")
    package = json.loads((tmp_path / "datapackage.json").read_text("utf-8"))
    events = next(r for r in package["resources"] if r["name"] == "events")
    assert events["schema"]["fields"] == [{"name": "at", "type": "string"}]


def test_the_same_log_gives_the_same_bytes(tiny_log: SimpleNamespace, tmp_path: Path) -> None:
    one = write_tidy(tiny_log, tmp_path / "one")
    two = write_tidy(tiny_log, tmp_path / "two")
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in two]


def test_the_package_has_a_name_that_the_format_allows(package: dict) -> None:
    assert package["name"] == "club-7"
    assert package["sources"] == [{"title": "club 7.xlsx", "hash": "sha256:" + "ab" * 32}]


def test_a_round_trip_gives_the_frames_back(tmp_path: Path) -> None:
    """Read the CSV by the schema alone, with pandas, and hold it against the log."""
    log = read_log(DEMO)
    write_tidy(log, tmp_path)
    package = json.loads((tmp_path / "datapackage.json").read_text("utf-8"))
    names = [resource["name"] for resource in package["resources"]]
    assert package["profile"] == "tabular-data-package"
    assert len(set(names)) == len(names)
    for resource in package["resources"]:
        if resource["name"] == "trial":
            continue
        frame = getattr(log, resource["name"])
        back = pd.read_csv(tmp_path / resource["path"], dtype=str, keep_default_na=False)
        fields = resource["schema"]["fields"]
        assert list(back.columns) == [field["name"] for field in fields]
        assert len(back) == len(frame)
        for field in fields:
            _same_column(back[field["name"]], frame[field["name"]], field["type"])


def _same_column(back: pd.Series, was: pd.Series, kind: str) -> None:
    assert kind in {"string", "number", "integer", "boolean", "date", "datetime"}
    missing = (was.isna() | (was.astype(object) == "")).to_numpy()
    assert list((back == "").to_numpy()) == list(missing)
    read, kept = back[~missing], was[~missing]
    if kind in ("number", "integer"):
        values = read.replace("INF", "inf").astype(float).to_numpy()
        assert (values == kept.astype(float).to_numpy()).all()
    elif kind == "boolean":
        assert list(read.str.lower() == "true") == [bool(value) for value in kept]
    elif kind in ("date", "datetime"):
        assert list(pd.to_datetime(read)) == list(pd.to_datetime(kept))
    else:
        assert [text.removeprefix("'") for text in read] == [
            str(value).removeprefix("'") for value in kept
        ]
