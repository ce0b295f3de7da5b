"""A table as a spreadsheet leaves it: what it says is read, and how it is written is named."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from zoning.outputs.columns import table_schema
from zoning.outputs.verify.folder import read_back
from zoning.outputs.verify.table import (
    TABLES,
    TableRead,
    cell_differences,
    manner_of,
    read_table,
    table_like,
)

SCHEMA = table_schema("depth_grid")
HEADER = ["lon", "lat", "depth_cm"]
Resave = Callable[[str], bytes]

# By hand, as common office programs save: by the country of the machine, or by a choice on saving.
SAVED: dict[str, tuple[Resave, str]] = {
    "line ends": (lambda text: text.replace("\r\n", "\n").encode(), "line ends"),
    "mark": (lambda text: b"\xef\xbb\xbf" + text.encode(), "line ends"),
    "fewer decimals": (lambda text: text.replace(".50\r", ".5\r").encode(), "decimals"),
    "tabs": (lambda text: text.replace(",", "\t").encode("utf-16"), "tabs between the cells"),
    "blank rows": (lambda text: (text + ",,\r\n\r\n").encode(), "line ends"),
    "semicolons": (
        lambda text: text.replace(",", ";").replace(".", ",").encode(),
        "semicolons between the cells, decimal commas",
    ),
}


@pytest.mark.parametrize("way", sorted(SAVED))
def test_a_grid_saved_by_a_spreadsheet_reads_as_planned_and_is_still_not_as_issued(
    written: Path, tmp_path: Path, way: str
) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    grid = folder / "depth_grid.csv"
    resave, named = SAVED[way]
    grid.write_bytes(resave(grid.read_bytes().decode()))
    (told,) = read_back(folder)[1]
    assert (told.file, "SHA-256" in told.what) == (grid.name, False)
    assert told.what.startswith("Every row reads as planned: only how it is written differs (")
    assert named in told.what


@pytest.mark.parametrize("name", TABLES)
def test_every_table_of_a_plan_may_come_back_with_semicolons(
    written: Path, tmp_path: Path, name: str
) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    frame = pd.read_csv(folder / name, dtype=str, keep_default_na=False)
    frame.to_csv(folder / name, sep=";", index=False)
    (told,) = read_back(folder)[1]
    assert "(semicolons between the cells)" in told.what


def test_a_depth_changed_on_the_way_is_found_behind_semicolons(
    written: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    passes = folder / "depth_passes.csv"
    text = passes.read_text(encoding="utf-8").replace("37.50", "30.00", 1)
    passes.write_text(text.replace(",", ";").replace(".", ","), encoding="utf-8")
    told = [str(each) for each in read_back(folder)[1]]
    assert any("depth_cm reads '30.00' where 37.50 belongs" in each for each in told)
    assert not any("reads as planned" in each for each in told)


def test_where_a_pass_begins_is_compared_too(written: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    frame = pd.read_csv(folder / "depth_passes.csv", dtype=str, keep_default_na=False)
    frame.loc[0, "start_lat"] = "52.00000000"
    frame.to_csv(folder / "depth_passes.csv", index=False)
    told = [each.what for each in read_back(folder)[1] if each.row == 2]
    assert [each.partition(" reads")[0] for each in told] == ["start_lat"]


def test_a_cell_is_compared_to_half_its_last_decimal() -> None:
    wanted = pd.DataFrame({"lon": [0.5], "lat": [52.0], "depth_cm": [30.0]})

    def said(lon: str, depth: str) -> list[int | None]:
        table = TableRead(HEADER, [[lon, "52.00000000", depth]], ())
        return [each.row for each in cell_differences("g.csv", table, wanted, SCHEMA)]

    assert said("0.50000000", "30.00") == []
    assert said("0.50000001", "30.00") == [2]
    assert said("0.50000000", "nan") == [2]
    assert said("0.50000000", "deep") == [2]


def test_a_column_is_told_once_with_its_first_row_and_the_number_of_the_others() -> None:
    wanted = pd.DataFrame({"lon": [0.5, 0.6, 0.7], "lat": [52.0] * 3, "depth_cm": [30.0] * 3})
    lines = [["0.5", "52", "30"], ["0.6", "52", "31"], ["0.7", "53", "40"]]
    lat, depth = cell_differences("g.csv", TableRead(HEADER, lines, ()), wanted, SCHEMA)
    assert (lat.row, lat.what) == (4, "lat reads '53' where 52.00000000 belongs.")
    assert (depth.row, depth.what) == (
        3,
        "depth_cm reads '31' where 30.00 belongs, and 1 more row differs.",
    )


@pytest.mark.parametrize(
    ("header", "line", "words"),
    [
        (["lon"], ["0.5"], "Columns are missing: depth_cm, lat. The heading reads: lon."),
        ([*HEADER, "rate"], ["0.5", "52", "30", "1"], "do not belong there: rate"),
        (HEADER, ["0.5", "52"], "row has 2 cells where 3 belong"),
    ],
)
def test_what_is_wrong_with_the_columns_is_named(
    header: list[str], line: list[str], words: str
) -> None:
    wanted = pd.DataFrame({"lon": [0.5], "lat": [52.0], "depth_cm": [30.0]})
    told = cell_differences("g.csv", TableRead(header, [line], ()), wanted, SCHEMA)
    assert [words in each.what for each in told] == [True]


def test_a_decimal_comma_in_text_stays(tmp_path: Path) -> None:
    path = tmp_path / "readings_used.csv"
    path.write_bytes("file;row;reason\ncone.csv;2;1,5\n".encode("utf-16"))
    table = read_table(path, table_schema("readings_used"))
    assert table.lines == [["cone.csv", "2", "1,5"]]
    assert manner_of(path.name, path) == ("semicolons between the cells", "encoded as UTF-16")


def test_a_table_is_known_by_its_headings(written: Path, tmp_path: Path) -> None:
    for name in TABLES:
        shutil.copy(written / name, tmp_path / "sent.csv")
        assert table_like(tmp_path / "sent.csv") == name
    (tmp_path / "sent.csv").write_text("sheep,weight_kg\n1,55\n")
    assert table_like(tmp_path / "sent.csv") == ""


def _sorted_by(path: Path, column: str) -> pd.DataFrame:
    frame = pd.read_csv(path, dtype=str, keep_default_na=False)
    ordered = frame.sort_values(column, kind="stable", ascending=False, ignore_index=True)
    assert not ordered.equals(frame)
    return ordered


@pytest.mark.parametrize(
    ("name", "column"),
    [("depth_passes.csv", "depth_cm"), ("depth_zones.csv", "zone"), ("readings_used.csv", "lon")],
)
def test_rows_in_another_order_are_told_as_that_alone(
    written: Path, tmp_path: Path, name: str, column: str
) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    _sorted_by(folder / name, column).to_csv(folder / name, index=False)
    (told,) = read_back(folder)[1]
    assert "Every row reads as planned" in told.what
    assert "rows in another order" in told.what


def test_a_depth_changed_among_sorted_rows_is_told_with_its_line(
    written: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    frame = _sorted_by(folder / "depth_passes.csv", "depth_cm")
    was, frame.loc[2, "depth_cm"] = frame.loc[2, "depth_cm"], "61.00"
    frame.to_csv(folder / "depth_passes.csv", index=False)
    told = [(e.row, e.what) for e in read_back(folder)[1] if "SHA-256" not in e.what]
    assert told == [
        (None, "The rows stand in another order; each is compared with that of its pass, step."),
        (4, f"depth_cm reads '61.00' where {was} belongs."),
    ]


def test_outlines_that_were_exchanged_are_found_behind_another_order(
    written: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    frame = _sorted_by(folder / "depth_zones.csv", "zone")
    outline = frame.columns[-1]
    frame[outline] = frame[outline].to_numpy()[::-1]
    frame.to_csv(folder / "depth_zones.csv", index=False)
    told = [each.what for each in read_back(folder)[1]]
    assert not any("reads as planned" in each for each in told)
    assert any("outline" in each for each in told)
