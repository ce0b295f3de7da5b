"""CSV out and in: the same rows, the same bytes, whatever text they hold."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from records.kept import first, pit

from zoning.errors import InputRefused, OutputFailed
from zoning.records import (
    BODIES,
    Draft,
    Pit,
    Record,
    everything,
    export_folder,
    import_folder,
    new_id,
    open_record,
    table_text,
)

ODD = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"])
    | st.sampled_from("=+-@'\t\r\n,\""),
    max_size=12,
)


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(notes=st.lists(ODD, min_size=1, max_size=4), depth=st.floats(0, 120))
def test_any_text_and_number_comes_back(
    tmp_path_factory: pytest.TempPathFactory, notes: list[str], depth: float
) -> None:
    folder = tmp_path_factory.mktemp("rows")
    record = open_record(folder)
    record.save_all(
        [first(pit(f"A{i}", note=n, loosened_at_leg_cm=depth)) for i, n in enumerate(notes)]
    )
    export_folder(everything(folder), folder / "rows")
    (folder / "new").mkdir()
    new = open_record(folder / "new")
    assert import_folder(new, folder / "rows") == len(notes)
    assert [e.body for e in new.everything(Pit)] == [e.body for e in record.everything(Pit)]
    for kind in BODIES:
        assert table_text(kind, new.everything(kind)) == table_text(kind, record.everything(kind))


def test_no_cell_begins_like_a_formula(record: Record) -> None:
    for i, note in enumerate(("=1+1", "+1", "-1", "@x", "\tx", "'=x", "plain")):
        record.save(first(pit(f"A{i}", note=note)))
    rows = csv.DictReader(io.StringIO(table_text(Pit, record.everything(Pit)), newline=""))
    cells = [row["note"] for row in rows]
    assert cells == ["'=1+1", "'+1", "'-1", "'@x", "'\tx", "''=x", "plain"]


def test_versions_come_back_and_a_second_import_adds_nothing(
    record: Record, tmp_path: Path
) -> None:
    one = record.save(first(pit()))
    record.save(
        Draft(body=pit(note="again"), row_id=new_id(), record_id=one.record_id, based_on=1,
              origin="page", why="misread", by_whom="K. Moss")
    )  # fmt: skip
    export_folder(everything(record.path.parent), tmp_path / "rows")
    assert import_folder(record, tmp_path / "rows") == 0
    (tmp_path / "new").mkdir()
    new = open_record(tmp_path / "new")
    assert import_folder(new, tmp_path / "rows") == 2
    assert [(e.version, e.why, e.by_whom) for e in new.trail(Pit, one.record_id)] == [
        (1, "", ""),
        (2, "misread", "K. Moss"),
    ]
    open_record(tmp_path / "new")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("31.5", "13.5", "changed since it was exported"),
        ("31.5", "deep", "does not read"),
        ("row_id,", "row,", "columns"),
        ("\r\n", ",\r\n", "columns"),
    ],
)
def test_a_row_changed_in_the_csv_is_refused_by_line(
    record: Record, tmp_path: Path, old: str, new: str, told: str
) -> None:
    record.save(first(pit(loosened_at_leg_cm=31.5)))
    export_folder(everything(record.path.parent), tmp_path / "rows")
    path = tmp_path / "rows" / "pits.csv"
    path.write_bytes(path.read_bytes().replace(old.encode(), new.encode()))
    (tmp_path / "new").mkdir()
    target = open_record(tmp_path / "new")
    with pytest.raises(InputRefused, match=told) as caught:
        import_folder(target, tmp_path / "rows")
    assert "pits.csv" in str(caught.value)
    assert target.everything(Pit) == []


def test_another_entry_of_the_same_version_is_refused(record: Record, tmp_path: Path) -> None:
    row = new_id()
    record.save(first(pit(), row))
    export_folder(everything(record.path.parent), tmp_path / "rows")
    (tmp_path / "new").mkdir()
    other = open_record(tmp_path / "new")
    other.save(first(pit(note="mine"), row))
    with pytest.raises(InputRefused, match="holds another version 1"):
        import_folder(other, tmp_path / "rows")


def test_a_folder_with_other_files_is_not_written_into(record: Record, tmp_path: Path) -> None:
    (tmp_path / "rows").mkdir()
    (tmp_path / "rows" / "letter.txt").write_text("keep me")
    with pytest.raises(OutputFailed, match="other files"):
        export_folder(everything(record.path.parent), tmp_path / "rows")
    assert [p.name for p in (tmp_path / "rows").iterdir()] == ["letter.txt"]
