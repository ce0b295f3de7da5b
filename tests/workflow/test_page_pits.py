"""The pits of the review page among those of the files, and which of the two counts."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from workflow.paged import corrected, page_pit
from workflow.worked import worked_folder

from zoning.model import FieldInputs
from zoning.records import CheckRow, Pit, open_record
from zoning.review.views import is_stale
from zoning.workflow import check_work, read_field
from zoning.workflow.page_pits import with_recorded_pits
from zoning.workflow.records import record_check, record_inputs

CHANGED = "file-changed-after-correction"


def kept(inputs: FieldInputs, folder: Path) -> None:
    record_inputs(open_record(folder), folder, inputs)


def pit_of(inputs: FieldInputs, name: str, phase: str) -> pd.Series:
    """The one row of a pit."""
    return inputs.pits.set_index(["pit", "phase"]).loc[(name, phase)]


def saying(inputs: FieldInputs, name: str, **said: object) -> FieldInputs:
    """The inputs with other words in the row of a pit."""
    pits = inputs.pits.copy()
    for column, value in said.items():
        pits.loc[pits["pit"] == name, column] = value
    return dataclasses.replace(inputs, pits=pits)


def codes(inputs: FieldInputs) -> list[str]:
    return [notice.code for notice in inputs.notices]


def test_pits_of_the_page_join_those_of_the_files(
    sample_inputs: FieldInputs, tmp_path: Path
) -> None:
    assert with_recorded_pits(sample_inputs, tmp_path) is sample_inputs
    kept(sample_inputs, tmp_path)
    page_pit(tmp_path, "A1", loosened_at_leg_cm=36.0, pan="no")
    (one,) = with_recorded_pits(sample_inputs, tmp_path).notices[len(sample_inputs.notices) :]
    assert one.text == "1 pit is as records.gpkg holds it (review page)."
    corrected(tmp_path, "P2", "before", pan="yes", pan_base_cm=33.0)
    joined = with_recorded_pits(sample_inputs, tmp_path)
    assert "2 pits are as records.gpkg holds them (review page)." in [
        n.text for n in joined.notices
    ]
    assert len(joined.pits) == len(sample_inputs.pits) + 1
    assert pit_of(joined, "P2", "before")["pan_base_cm"] == 33.0
    assert pit_of(joined, "A1", "after")["file"] == "records.gpkg"
    pd.testing.assert_series_equal(joined.pits.dtypes, sample_inputs.pits.dtypes)
    assert CHANGED not in codes(joined)
    # The place of P2 in the sample's own file, brought into the working CRS by the reader.
    own = sample_inputs.pits.set_index("pit").loc["P2", ["x_m", "y_m"]].to_numpy(dtype=float)
    there = pit_of(joined, "A1", "after")[["x_m", "y_m"]].to_numpy(dtype=float)
    assert np.hypot(*(own - there)) < 0.01


def test_pits_behind_the_machine_that_no_file_has_any_more_are_named(
    sample_inputs: FieldInputs, tmp_path: Path
) -> None:
    def told(inputs: FieldInputs) -> list[str]:
        found = with_recorded_pits(inputs, tmp_path).notices
        return [notice.text for notice in found if notice.code == "pits-in-no-file"]

    behind = saying(saying(sample_inputs, "P2", phase="after"), "P1", phase="after")
    kept(behind, tmp_path)
    assert told(behind) == []
    without = dataclasses.replace(behind, pits=behind.pits[~behind.pits["pit"].isin(["P1", "P2"])])
    (text,) = told(without)
    assert text.startswith(
        "records.gpkg holds pits P1 and P2, dug after the work, that no file has"
    )
    # One before the work is the plan's to miss; a row left out for its place is told already.
    before = dataclasses.replace(behind, pits=behind.pits[behind.pits["phase"] == "after"])
    assert told(before) == []
    row = {"file": "pits.csv", "row": 2, "what": "pit P1 (after)", "pit_phase": "after"}
    away = pd.DataFrame([row | {"reason": "Outside."}]).astype(behind.left_out.dtypes.to_dict())
    (text,) = told(dataclasses.replace(without, left_out=away))
    assert "holds pit P2, dug" in text
    corrected(tmp_path, "P2", "after", withdrawn="yes")
    assert told(dataclasses.replace(without, left_out=away)) == []


def test_a_withdrawn_pit_is_left_out_by_name(sample_inputs: FieldInputs, tmp_path: Path) -> None:
    kept(sample_inputs, tmp_path)
    corrected(tmp_path, "P2", "before", withdrawn="yes")
    joined = with_recorded_pits(sample_inputs, tmp_path)
    assert "P2" not in set(joined.pits["pit"])
    last = joined.left_out.iloc[-1]
    assert last["what"] == "pit P2, before"
    assert "Withdrawn" in last["reason"]
    assert joined.withdrawn["pit"].tolist() == ["P2"]
    pd.testing.assert_series_equal(joined.withdrawn.dtypes, sample_inputs.pits.dtypes)


@pytest.mark.parametrize("said", [{"pan_base_cm": 33.0}, {"withdrawn": "yes"}])
def test_a_row_changed_after_the_page_counts_before_and_after_the_page_takes_it_in(
    sample_inputs: FieldInputs, tmp_path: Path, said: dict[str, object]
) -> None:
    kept(sample_inputs, tmp_path)
    corrected(tmp_path, "P2", "before", **said)
    again = saying(sample_inputs, "P2", pan_base_cm=39.0, note="measured again")
    joined = with_recorded_pits(again, tmp_path)
    assert pit_of(joined, "P2", "before")["pan_base_cm"] == 39.0
    (told,) = (notice for notice in joined.notices if notice.code == CHANGED)
    assert told.level == "caution"
    assert "Pit P2" in told.text
    kept(again, tmp_path)
    later = with_recorded_pits(again, tmp_path)
    assert pit_of(later, "P2", "before")["pan_base_cm"] == 39.0
    assert told in later.notices
    corrected(tmp_path, "P2", "before", pan_base_cm=31.0)
    last = with_recorded_pits(again, tmp_path)
    assert pit_of(last, "P2", "before")["pan_base_cm"] == 31.0
    assert CHANGED not in codes(last)


def test_a_file_that_says_at_last_what_the_page_said_needs_no_word(
    sample_inputs: FieldInputs, tmp_path: Path
) -> None:
    kept(sample_inputs, tmp_path)
    corrected(tmp_path, "P2", "before", pan_base_cm=33.0)
    again = saying(sample_inputs, "P2", pan_base_cm=33.0)
    joined = with_recorded_pits(again, tmp_path)
    assert len(joined.pits) == len(sample_inputs.pits)
    assert CHANGED not in codes(joined)


def test_a_pit_given_another_name_on_the_page_is_not_counted_twice(
    sample_inputs: FieldInputs, tmp_path: Path
) -> None:
    kept(sample_inputs, tmp_path)
    corrected(tmp_path, "P2", "before", pit="P2 north")
    joined = with_recorded_pits(sample_inputs, tmp_path)
    names = set(joined.pits["pit"])
    assert len(joined.pits) == len(sample_inputs.pits)
    assert "P2 north" in names
    assert "P2" not in names


def in_place(folder: Path, **said: object) -> None:
    """Write other words into the row of the pit A01."""
    rows = pd.read_csv(folder / "pits.csv", dtype=str, keep_default_na=False)
    for column, value in said.items():
        rows.loc[rows["pit"] == "A01", column] = str(value)
    rows.to_csv(folder / "pits.csv", index=False)


def test_a_check_goes_by_a_corrected_pit_and_by_its_row_once_that_is_changed(
    plan_folder: Path, tmp_path: Path
) -> None:
    folder = worked_folder(plan_folder, tmp_path / "field", "slow")
    kept(read_field(folder), folder)
    corrected(folder, "A01", loosened_at_leg_cm=11.0, loosened_between_cm=5.0, pan="yes")
    for _ in range(2):
        assert record_check(folder, check_work(folder)) == ()
    (held,) = open_record(folder).latest(Pit, pit="A01")
    assert (held.version, held.body.loosened_at_leg_cm) == (2, 11.0)
    (row,) = open_record(folder).latest(CheckRow, about="pit", name="A01")
    assert "11 cm" in row.body.reason
    in_place(folder, loosened_at_leg_cm=48, loosened_between_cm=20)
    check = check_work(folder)
    assert record_check(folder, check) == ()
    assert "48 cm" in check.pits.set_index("pit").loc["A01", "reason"]
    assert CHANGED in {notice.code for notice in check.notices}
    assert check_work(folder).notices == check.notices
    (held,) = open_record(folder).latest(Pit, pit="A01")
    assert (held.version, held.body.loosened_at_leg_cm) == (3, 48.0)


def test_a_pit_that_is_not_judged_is_not_compared(plan_folder: Path, tmp_path: Path) -> None:
    folder = worked_folder(plan_folder, tmp_path / "field", "slow")
    page_pit(folder, "FAR", lat=52.76, pan="yes", structure_score=5.0)
    check = check_work(folder)
    assert check.pits.set_index("pit").loc["FAR", "verdict"] == "not_judged"
    names = {name for told in check.pairs["name_after"] for name in told.split("; ")}
    assert names & set(check.pits["pit"])
    assert "FAR" not in names


def test_every_column_of_a_pit_that_a_check_reads_marks_its_verdict_as_old(
    plan_folder: Path, tmp_path: Path
) -> None:
    folder = worked_folder(plan_folder, tmp_path / "field", "slow")
    check = check_work(folder)
    assert record_check(folder, check) == ()
    rows = {e.body.name: e.body for e in open_record(folder).latest(CheckRow, about="pit")}
    dug = {e.body.pit: e.body for e in open_record(folder).latest(Pit, phase="after")}
    assert dug
    assert not any(is_stale(dug[name], rows[name]) for name in dug)
    pit, row = dug["A01"], rows["A01"]
    texts = {"pan": "", "part": "elsewhere", "date": "2026-12-01", "moisture": "plastic"}
    # The columns that a file of pits has, but for names and what only people read.
    names = set(check.inputs.pits.columns) & set(Pit.__annotations__) - {"pit", "phase"}
    for name in names - {"photo", "note"}:
        said = texts[name] if name in texts else (getattr(pit, name) or 0.0) + 1.0
        assert is_stale(dataclasses.replace(pit, **{name: said}), row), name
    assert len(names) == 14
    assert not is_stale(dataclasses.replace(pit, photo="other.jpg", note="other words"), row)
