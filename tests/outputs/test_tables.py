"""Open CSV: RFC 4180, numbers without exponents, text that no spreadsheet takes for a formula."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from zoning.errors import OutputFailed
from zoning.outputs.columns import table_schema
from zoning.outputs.tables import check_table, guarded, unguarded, write_table

GRID = table_schema("depth_grid")
TABLES = ("depth_zones", "depth_grid", "depth_passes", "readings_used")
# OWASP ASVS 5.0, 1.2.10 and CWE-1236 name these first characters.
FORMULAS = ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx", '=HYPERLINK("http://x","y")', "-", "="]


def grid(**columns: object) -> pd.DataFrame:
    return pd.DataFrame({"lon": [1e-8], "lat": [-7.5e-7], "depth_cm": [2.54]} | columns)


@pytest.mark.parametrize("name", TABLES)
def test_line_ends_are_those_of_rfc_4180(written: Path, name: str) -> None:
    data = (written / f"{name}.csv").read_bytes()
    assert not data.startswith(b"\xef\xbb\xbf")
    assert data.endswith(b"\r\n")
    assert data.count(b"\n") == data.count(b"\r\n") == data.count(b"\r")


@pytest.mark.parametrize("name", TABLES)
def test_numbers_have_fixed_decimals_and_no_exponent(written: Path, name: str) -> None:
    rows = list(csv.DictReader((written / f"{name}.csv").open(encoding="utf-8", newline="")))
    for column in table_schema(name).among(set(rows[0])):
        if column.kind != "string":
            pattern = re.compile(
                rf"-?\d+(\.\d{{{column.decimals}}})?" if column.decimals else r"-?\d+"
            )
            cells = [row[column.name] for row in rows if row[column.name] != "" or not column.blank]
            assert all(pattern.fullmatch(cell) for cell in cells), column.name


def test_numbers_near_nought_are_written_out(tmp_path: Path) -> None:
    write_table(grid(), GRID, tmp_path / "g.csv")
    assert (tmp_path / "g.csv").read_text(encoding="utf-8").splitlines()[
        1
    ] == "0.00000001,-0.00000075,2.54"


@pytest.mark.parametrize(("value", "words"), [(2.125, "2.13"), (-2.125, "-2.13"), (1.005, "1.01")])
def test_halves_go_away_from_zero(tmp_path: Path, value: float, words: str) -> None:
    # 2.125 is a half in binary too, where IEEE 754's own rounding would give 2.12; 1.005 is just
    # below a half, and no reader of a rule would know
    write_table(grid(depth_cm=[value]), GRID, tmp_path / "g.csv")
    assert (tmp_path / "g.csv").read_text(encoding="utf-8").split()[-1].endswith(f",{words}")


@given(st.floats(-90.0, 90.0), st.floats(-1e7, 1e7))
@example(52.348887144994386, 0.0)  # 0.0056 of its last decimal below a half
@example(-52.348887144994386, 5_800_123.4549999)
def test_every_number_reads_back_as_it_was_written(lat: float, depth_cm: float) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "g.csv"
        frame = grid(lat=[lat], depth_cm=[depth_cm])
        write_table(frame, GRID, path)
        check_table(frame, GRID, path)
        written = next(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    # By the exact value of the number: to the nearest of 8 decimals, a tie and float noise aside.
    assert abs(Decimal(written["lat"]) - Decimal(lat)) <= Decimal("0.50000002e-8")


@pytest.mark.parametrize("text", FORMULAS)
def test_text_that_begins_like_a_formula_gets_an_apostrophe(text: str) -> None:
    assert guarded(text) == f"'{text}"
    assert unguarded(guarded(text)) == text


@given(st.text())
def test_guarding_is_undone(text: str) -> None:
    assert not guarded(text).startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    if not text.startswith("'"):
        assert unguarded(guarded(text)) == text


def test_formulas_are_guarded_in_every_text_cell_of_a_plan(written: Path) -> None:
    for name in TABLES:
        rows = csv.DictReader((written / f"{name}.csv").open(encoding="utf-8", newline=""))
        kinds = {column.name: column.kind for column in table_schema(name).columns}
        texts = [cell for row in rows for key, cell in row.items() if kinds[key] == "string"]
        assert not [text for text in texts if text.startswith(("=", "+", "-", "@"))]
    assert "'=SUM(A1)/1" in (written / "readings_used.csv").read_text(encoding="utf-8")


def test_quotes_commas_and_umlauts_read_back_by_pandas(written: Path) -> None:
    frame = pd.read_csv(written / "readings_used.csv", keep_default_na=False)
    assert 'Übergröße, "long"/1' in set(frame["name"])


@pytest.mark.parametrize("value", [np.inf, -np.inf, np.nan])
def test_a_depth_that_is_no_number_is_refused(tmp_path: Path, value: float) -> None:
    with pytest.raises(OutputFailed, match="depth_cm"):
        write_table(grid(depth_cm=[value]), GRID, tmp_path / "g.csv")


@pytest.mark.parametrize(
    ("old", "new"),
    [("2.54", "2.55"), ("0.00000001", "0.00000002"), ("lat", "lot"), ("\r\n", "\r\n1,2,3\r\n")],
)
def test_a_changed_file_is_noticed(tmp_path: Path, old: str, new: str) -> None:
    path = tmp_path / "g.csv"
    write_table(grid(), GRID, path)
    check_table(grid(), GRID, path)
    path.write_bytes(path.read_bytes().replace(old.encode(), new.encode(), 1))
    with pytest.raises(OutputFailed, match=r"g\.csv"):
        check_table(grid(), GRID, path)


def test_the_writer_agrees_with_the_csv_reader_of_the_standard_library(tmp_path: Path) -> None:
    schema = table_schema("readings_used")
    odd = ['a"b', "c,d", "e\nf", "g\r\nh", " i ", "'j"]
    frame = pd.DataFrame({"kind": "pit", "name": odd, "used": "yes", "reason": odd[::-1]})
    write_table(frame, schema, tmp_path / "r.csv")
    text = (tmp_path / "r.csv").read_bytes().decode("utf-8")
    found = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [row["name"] for row in found] == odd
    check_table(frame, schema, tmp_path / "r.csv")
