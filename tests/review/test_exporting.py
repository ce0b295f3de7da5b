"""What is taken along reads back: by our own reader and by libraries that are not ours."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pandas as pd
import pyogrio
from flask.testing import FlaskClient
from review.small_desk import form, post

from zoning.readings import read_field
from zoning.records import Pit, everything, import_folder, open_record
from zoning.review import Desk, make_app, open_desk


def test_pits_csv_is_read_by_the_field_reader(desk: Desk, client: FlaskClient) -> None:
    post(client, "/save/pit", form(desk, note="=HYPERLINK(1)", speed_km_h="7,5"))
    data = client.get("/export/pits.csv").data
    (desk.folder / "pits.csv").write_bytes(data)
    read = read_field(desk.folder).pits
    assert sorted(zip(read["pit"], read["phase"], strict=True)) == [
        ("A1", "after"), ("P1", "before"), ("P2", "before"),
    ]  # fmt: skip
    row = read[read["pit"] == "A1"].iloc[0]
    assert (row["loosened_between_cm"], row["speed_km_h"], row["lat"]) == (31.5, 7.5, 52.70102)
    frame = pd.read_csv(io.BytesIO(data))
    assert frame.set_index("pit").loc["A1", "note"] == "'=HYPERLINK(1)"


def test_the_zip_brings_every_version_back(desk: Desk, client: FlaskClient, tmp_path: Path) -> None:
    post(client, "/save/pit", form(desk))
    packed = zipfile.ZipFile(io.BytesIO(client.get("/export/record.zip").data))
    packed.extractall(tmp_path / "out")
    (tmp_path / "new").mkdir()
    new = open_record(tmp_path / "new")
    import_folder(new, tmp_path / "out" / "record")
    for kind, entries in everything(desk.folder).items():
        assert [e.body for e in new.everything(kind)] == [e.body for e in entries]


def test_the_record_itself_is_a_geopackage(desk: Desk, client: FlaskClient, tmp_path: Path) -> None:
    path = tmp_path / "records.gpkg"
    path.write_bytes(client.get("/export/records.gpkg").data)
    frame = pyogrio.read_dataframe(path, layer="pits_now")
    assert sorted(frame["pit"]) == [e.body.pit for e in desk.record.latest(Pit)]


def test_the_page_says_whose_place_the_pits_take(folder: Path, client: FlaskClient) -> None:
    assert "in the place of <code>pits.csv</code>, the one file" in client.get("/export").text
    toml = (
        (folder / "field.toml")
        .read_text()
        .replace('pits = "pits.csv"', 'pits = ["a.csv", "b.csv"]')
    )
    (folder / "field.toml").write_text(toml)
    head, one, two = (folder / "pits.csv").read_text().splitlines()
    (folder / "a.csv").write_text(f"{head}\n{one}\n")
    (folder / "b.csv").write_text(f"{head}\n{two}\n")
    two_files = make_app(open_desk(folder)).test_client().get("/export").text
    assert "all files named under <code>pits</code>" in two_files
    assert "(now a.csv, b.csv)" in two_files
