"""A file that was sent, under any name: the same, what differs, which plan it is of."""

from __future__ import annotations

import csv
import dataclasses
import json
import re
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely
from outputs.conftest import with_identity
from rasterio.warp import Resampling, calculate_default_transform, reproject, transform

from zoning.errors import InputRefused
from zoning.model import Plan
from zoning.outputs import write_plan
from zoning.outputs.map_page.page import data_text, page_document
from zoning.outputs.places import LONLAT, transformed
from zoning.outputs.verify.files import ReadBack
from zoning.outputs.verify.folder import read_back
from zoning.outputs.verify.sent import judged, plan_of
from zoning.outputs.write import KNOWN

Rows = list[list[str]]


@pytest.fixture(scope="module")
def read(written: Path) -> ReadBack:
    return read_back(written)[0]


@pytest.fixture(scope="module")
def other(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, Path]:
    """Return another plan of the same field, deeper in one zone, and its folder."""
    zones = plan.zones.assign(depth_cm=[40.0, 32.5, 0.0])
    deeper = with_identity(dataclasses.replace(plan, zones=zones))
    folder = tmp_path_factory.mktemp("other") / "plan"
    write_plan(deeper, folder)
    return deeper, folder


def said(path: Path, read: ReadBack) -> list[str]:
    return [str(each) for each in judged(path, read).faults]


@pytest.mark.parametrize("name", sorted(KNOWN))
def test_an_untouched_copy_under_any_name_is_the_same(
    read: ReadBack, tmp_path: Path, name: str
) -> None:
    sent = Path(shutil.copy(read.folder / name, tmp_path / f"from_the_office{Path(name).suffix}"))
    found = judged(sent, read)
    assert found.faults == ()
    assert found.words == f"{sent}: {name} of plan {read.plan_id[:8]}, byte for byte."


NUMBERED = {name for name in KNOWN if not name.endswith(".csv")} | {"depth_zones.csv"}


@pytest.mark.parametrize("name", sorted(NUMBERED))
def test_a_file_of_another_plan_is_told_with_its_number(
    read: ReadBack, other: tuple[Plan, Path], tmp_path: Path, name: str
) -> None:
    plan, folder = other
    sent = Path(shutil.copy(folder / name, tmp_path / f"sent{Path(name).suffix}"))
    (told,) = said(sent, read)
    assert f"of plan {plan.plan_id[:8]}, not of plan {read.plan_id[:8]}" in told
    assert ("This is an " in told) == (name == "operator_sheet.pdf")


def test_a_depth_edited_in_a_copy_is_told_with_its_row(read: ReadBack, tmp_path: Path) -> None:
    sent = tmp_path / f"depth_grid_{read.plan_id[:8]}.csv"
    lines = (read.folder / "depth_grid.csv").read_text().split("\n")
    lines[4] = lines[4].replace(",37.50", ",43.00").replace(",32.50", ",43.00")
    sent.write_text("\n".join(lines))
    (told,) = said(sent, read)
    assert told.startswith(f"{sent}:5: The row reads ")
    assert ", 43 where " in told
    assert told.endswith(f"Send depth_grid.csv of plan {read.plan_id[:8]} as it was issued.")


def test_a_zone_edited_in_a_copy_is_told(read: ReadBack, tmp_path: Path) -> None:
    document = json.loads((read.folder / "depth_zones.geojson").read_text())
    document["features"][1]["properties"]["depth_cm"] = 33.5
    sent = tmp_path / "zones.json"
    sent.write_text(json.dumps(document))
    (told,) = said(sent, read)
    assert "In zone 2, depth_cm reads 33.5 where plan.gpkg has 32.5" in told


def test_a_copy_saved_by_a_spreadsheet_is_not_as_issued_but_reads_as_planned(
    read: ReadBack, tmp_path: Path
) -> None:
    sent = tmp_path / "grid.txt"
    text = (read.folder / "depth_grid.csv").read_text()
    sent.write_text(text.replace(",", ";").replace(".", ","))
    (told,) = said(sent, read)
    assert "Every row reads as planned: only how it is written differs (semicolons" in told


def test_rows_in_another_order_hold_the_same_depths(read: ReadBack, tmp_path: Path) -> None:
    header, *rows = (read.folder / "depth_grid.csv").read_text().split()
    sent = tmp_path / "grid.csv"
    sent.write_text("\n".join([header, *sorted(rows, key=lambda row: row.split(",")[2])]))
    (told,) = said(sent, read)
    assert "Every row reads as planned" in told
    assert "(rows in another order)" in told


def test_rounded_places_are_told_apart_from_other_depths(read: ReadBack, tmp_path: Path) -> None:
    header, *rows = (read.folder / "depth_grid.csv").read_text().split()
    cut = [f"{float(lon):.6f},{float(lat):.6f},{cm}" for lon, lat, cm in map(_cells, rows)]
    sent = tmp_path / "grid.csv"
    sent.write_text("\n".join([header, *cut]))
    (told,) = said(sent, read)
    assert "Every depth is as planned, but" in told
    off_m = float(told.partition("up to ")[2].partition(" m")[0])
    assert 0.0 < off_m < 0.08  # half of 1e-6 degree is 0.056 m along a meridian


def _cells(row: str) -> list[str]:
    return row.split(",")


def test_a_grid_of_another_field_is_told(read: ReadBack, tmp_path: Path) -> None:
    sent = tmp_path / "grid.csv"
    sent.write_text("lon,lat,depth_cm\n0.5,52.0,30.00\n0.6,52.0,30.00\n")
    (told,) = said(sent, read)
    assert "it is of another field" in told


def columns_turned(rows: Rows) -> Rows:
    return [row[::-1] for row in rows]


def two_kept(rows: Rows) -> Rows:
    return [row[:2] for row in rows]


def places_swapped(rows: Rows) -> Rows:
    return [rows[0], *([lat, lon, cm] for lon, lat, cm in rows[1:])]


def with_unit(rows: Rows) -> Rows:
    return [rows[0], *([*row[:2], f"{row[2]} cm"] for row in rows[1:])]


def lifted_blank(rows: Rows) -> Rows:
    return [[*row[:2], row[2].replace("0.00", "") if row[2] == "0.00" else row[2]] for row in rows]


def four_decimals(rows: Rows) -> Rows:
    return [rows[0], *([f"{float(lon):.4f}", f"{float(lat):.4f}", cm] for lon, lat, cm in rows[1:])]


def renamed(rows: Rows) -> Rows:
    return [["Longitude", "Latitude", "Depth"], *rows[1:]]


def cut_short(rows: Rows) -> Rows:
    return [[*row[:-1], row[-1][:30]] for row in rows]


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("depth_grid.csv", columns_turned, "only how it is written differs (columns in another"),
        ("depth_grid.csv", places_swapped, "of another field, or lon and lat changed."),
        ("depth_grid.csv", two_kept, "Columns are missing: depth_cm. The heading reads: lon, lat."),
        ("depth_grid.csv", with_unit, ":2: The row does not hold three numbers, and "),
        ("depth_grid.csv", lifted_blank, "more rows differ: legs lifted out, where 0 belongs."),
        ("depth_grid.csv", renamed, "cannot be compared: no table there has its headings."),
        ("depth_zones.csv", two_kept, "The heading reads: zone, depth_cm."),
        ("depth_zones.csv", cut_short, "geometry_wkt of zone 1 is no outline, and 2 more zones"),
    ],
)
def test_what_a_clerk_does_to_a_table_is_told_in_one_message(
    read: ReadBack, tmp_path: Path, name: str, change: Callable[[Rows], Rows], words: str
) -> None:
    with (read.folder / name).open(newline="") as stream:
        rows = list(csv.reader(stream))
    sent = tmp_path / "sent.csv"
    with sent.open("w", newline="") as stream:
        csv.writer(stream).writerows(change(rows))
    (told,) = said(sent, read)
    assert words in told


def test_a_row_to_which_many_places_were_rounded_is_listed_once(
    read: ReadBack, tmp_path: Path
) -> None:
    with (read.folder / "depth_grid.csv").open(newline="") as stream:
        rows = four_decimals(list(csv.reader(stream)))
    sent = tmp_path / "sent.csv"
    with sent.open("w", newline="") as stream:
        csv.writer(stream).writerows(rows)
    told = [each.row for each in judged(sent, read).faults if each.row is not None]
    assert len(told) == len(set(told)) > 1


def test_zones_in_another_order_in_a_collection_are_compared_by_their_numbers(
    read: ReadBack, tmp_path: Path
) -> None:
    document = json.loads((read.folder / "depth_zones.geojson").read_text())
    document["features"].reverse()
    sent = tmp_path / "zones.geojson"
    sent.write_text(json.dumps(document))
    (told,) = said(sent, read)
    assert "What can be compared is as planned" in told
    document["features"].pop()
    sent.write_text(json.dumps(document))
    (told,) = said(sent, read)
    assert "The file holds 2 zones where 3 belong." in told


def test_what_to_do_is_told_once_and_last(read: ReadBack, tmp_path: Path) -> None:
    sent = tmp_path / "grid.csv"
    sent.write_text((read.folder / "depth_grid.csv").read_text().replace(",37.50", ",40.00"))
    *others, last = judged(sent, read).faults
    assert len(others) > 1
    assert {each.remedy for each in others} == {""}
    assert last.remedy.startswith("Send depth_grid.csv of plan ")


def test_a_table_is_of_the_plan_that_the_description_beside_it_says(
    read: ReadBack, other: tuple[Plan, Path], tmp_path: Path
) -> None:
    plan, folder = other
    for end in ("", "-metadata.json"):
        shutil.copy(folder / f"depth_grid.csv{end}", tmp_path / f"sent.csv{end}")
    (told,) = said(tmp_path / "sent.csv", read)
    assert f"This is a depth_grid.csv of plan {plan.plan_id[:8]}" in told


def test_the_number_in_a_name_is_held_against_the_plan(read: ReadBack, tmp_path: Path) -> None:
    sent = tmp_path / "depth_grid_b1fe826d.csv"
    shutil.copy(read.folder / "depth_grid.csv", sent)
    words = f"Its name says plan b1fe826d; this is plan {read.plan_id[:8]}."
    assert judged(sent, read).words.endswith(words)
    sent.write_text(sent.read_text().replace(",37.50", ",40.00"))
    assert words in said(sent, read)[0]
    dated = tmp_path / "depth_grid_20261126.csv"
    shutil.copy(read.folder / "depth_grid.csv", dated)
    assert "Its name" not in judged(dated, read).words


def test_what_is_no_file_of_a_plan_and_what_is_not_there(read: ReadBack, tmp_path: Path) -> None:
    for name, text in (
        ("a.csv", "sheep\n1\n"),
        ("e.zip", "PK"),
        ("b.json", "[]"),
        ("c.xyz", ""),
        ("d.csv", ""),
    ):
        (tmp_path / name).write_text(text)
        assert ["like none that a plan holds" in each for each in said(tmp_path / name, read)] == [
            True
        ]
    assert "Unpack it and name a file of plan" in said(tmp_path / "e.zip", read)[0]
    with pytest.raises(InputRefused, match="no such file"):
        judged(tmp_path / "f.csv", read)


@pytest.mark.parametrize("name", ["pan_surface.tif", "plan.gpkg", "operator_sheet.pdf", "map.html"])
def test_a_damaged_copy_is_told(read: ReadBack, tmp_path: Path, name: str) -> None:
    sent = tmp_path / f"sent{Path(name).suffix}"
    sent.write_bytes((read.folder / name).read_bytes()[:3000])
    assert said(sent, read)


@pytest.fixture
def cut(read: ReadBack, tmp_path: Path) -> Path:
    """Return the working depth cut out of the raster, as the docs advise."""
    path = tmp_path / "depth.tif"
    with rasterio.open(read.folder / "pan_surface.tif") as source:
        profile = source.profile | {"count": 1, "driver": "GTiff"}
        with rasterio.open(path, "w", **profile) as target:
            target.write(source.read(4), 1)
    return path


def test_a_table_with_a_broken_quotation_mark_is_told(read: ReadBack, tmp_path: Path) -> None:
    path = tmp_path / "sent.csv"
    path.write_text('lon,lat,depth_cm\n"x"y,1,2\n')
    assert any("sent.csv" in each for each in said(path, read))


def test_the_depth_cut_out_of_the_raster_is_judged_cell_by_cell(read: ReadBack, cut: Path) -> None:
    assert "working_depth_cm" in judged(cut, read).words
    with rasterio.open(cut, "r+") as dataset:
        depth = dataset.read(1)
        row, column = np.argwhere(depth == 32.5)[0]
        depth[row, column] = 45.0
        dataset.write(depth, 1)
    (told,) = said(cut, read)
    assert "1 of " in told
    assert "(45 cm)" in told
    assert "cells carries another depth" in told
    lon, lat = map(float, re.search(r"at lon (\S+), lat (\S+): 45 where 32.5 ", told).groups())
    with rasterio.open(cut) as dataset:
        (x,), (y,) = transform("OGC:CRS84", dataset.crs, [lon], [lat])
        assert dataset.index(x, y) == (row, column)


@pytest.mark.parametrize("band", [1, 2, 3, 5])
def test_another_band_cut_out_by_mistake_is_named(read: ReadBack, cut: Path, band: int) -> None:
    with rasterio.open(read.folder / "pan_surface.tif") as source, rasterio.open(cut, "r+") as copy:
        copy.write(source.read(band), 1)
        name = source.descriptions[band - 1]
    (told,) = said(cut, read)
    assert f"this is band {band}, {name}, not the working depth" in told
    assert told.endswith("Cut band 4 out of pan_surface.tif again.")


def test_a_cell_changed_in_the_whole_raster_is_told_with_its_place(
    read: ReadBack, tmp_path: Path
) -> None:
    sent = tmp_path / "pan.tif"
    with rasterio.open(read.folder / "pan_surface.tif") as source:
        bands, crs, names = source.read(), source.crs, source.descriptions
        row, column = np.argwhere(bands[3] == 32.5)[0]
        bands[3, row, column] = 45.0
        with rasterio.open(sent, "w", **source.profile | {"driver": "GTiff"}) as target:
            target.write(bands)
            target.descriptions = names
            target.update_tags(**source.tags())
    (told,) = said(sent, read)
    words = r"A cell carries .* at lon (\S+), lat (\S+), it reads 45 cm"
    lon, lat = map(float, re.search(words, told).groups())
    (x,), (y,) = transform("OGC:CRS84", crs, [lon], [lat])
    with rasterio.open(sent) as dataset:
        assert dataset.index(x, y) == (row, column)


def test_the_depth_warped_to_degrees_is_judged_too(read: ReadBack, cut: Path) -> None:
    """Warped by rasterio (GDAL), nearest neighbour, which keeps depths as they are."""
    warped = cut.with_name("warped.tif")
    with rasterio.open(cut) as source:
        place, width, height = calculate_default_transform(
            source.crs, "EPSG:4326", source.width, source.height, *source.bounds
        )
        profile = source.profile | {
            "crs": "EPSG:4326", "transform": place, "width": width, "height": height,
        }  # fmt: skip
        depth = np.full((height, width), -9999.0, np.float32)
        reproject(
            source.read(1), depth, src_transform=source.transform, src_crs=source.crs,
            dst_transform=place, dst_crs="EPSG:4326", src_nodata=-9999, dst_nodata=-9999,
            resampling=Resampling.nearest,
        )  # fmt: skip
    with rasterio.open(warped, "w", **profile) as target:
        target.write(depth, 1)
    assert judged(warped, read).faults == ()
    with rasterio.open(warped, "w", **profile) as target:
        target.write(np.where(depth == 32.5, np.float32(34.0), depth), 1)
    assert any("carry another depth" in each for each in said(warped, read))
    with rasterio.open(warped, "w", **profile) as target:
        depth[: height // 2] = -9999
        target.write(depth, 1)
    assert any("have no cell" in each for each in said(warped, read))


def test_the_plan_of_a_file_is_found_below_a_farm(
    read: ReadBack, other: tuple[Plan, Path], tmp_path: Path
) -> None:
    farm, one, two = tmp_path / "farm", tmp_path / "farm/one/plan", tmp_path / "farm/two/plan"
    shutil.copytree(read.folder, one)
    shutil.copytree(other[1], two)
    (farm / "plan_of_mine").mkdir()
    (farm / "plan_of_mine" / "plan.json").write_text("{}")
    sent = Path(shutil.copy(two / "depth_grid.csv", tmp_path / "sent.csv"))
    assert plan_of(sent, farm) == two
    sent.write_text(sent.read_text())  # other line ends: no longer the bytes of any plan
    with pytest.raises(InputRefused, match=r"of none of the 2 plans .* Name one .*one/plan \("):
        plan_of(sent, farm)
    named = sent.rename(tmp_path / f"depth_grid_{read.plan_id[:8]}.csv")
    assert plan_of(named, farm) == one
    assert plan_of(named, two) == two  # a plan that is named is the one that counts
    saved = json.loads((one / "depth_zones.geojson").read_text())
    (tmp_path / "zones.geojson").write_text(json.dumps(saved, indent=1))
    assert plan_of(tmp_path / "zones.geojson", farm) == one  # by the number in it
    with pytest.raises(InputRefused, match="There is no such file"):
        plan_of(farm / named.name, farm)


@pytest.fixture(scope="module")
def kept_off(read: ReadBack) -> ReadBack:
    """Return the plan with the old well in the ground where it lifts the legs out."""
    hazards = read.layers["hazards"]
    passes = read.layers["passes"]
    lifted = passes.geometry[passes["depth_cm"] == 0].iloc[0].interpolate(0.5, normalized=True)
    moved = hazards.set_geometry([hazards.geometry[0], lifted])
    return dataclasses.replace(read, layers={**read.layers, "hazards": moved})


def test_depths_deeper_than_a_hazard_allows_are_told_first_with_the_hazard(
    kept_off: ReadBack, tmp_path: Path
) -> None:
    """Two rows beside the old well at work among many that are merely shallower than planned."""
    wet = kept_off.layers["hazards"].iloc[1].geometry
    lines = (kept_off.folder / "depth_grid.csv").read_text().split("\n")
    lonlat = np.array([line.split(",")[:2] for line in lines[1:-1]], dtype=float)
    away_m = shapely.distance(
        wet, shapely.points(transformed(lonlat, LONLAT, kept_off.working_crs))
    )
    inside = np.flatnonzero(away_m <= 3.0)[:2] + 1
    assert all(lines[at].endswith(",0.00") for at in inside)
    for at, line in enumerate(lines[:-1]):
        if at in inside:
            lines[at] = line.replace(",0.00", ",35.00")
        elif at < 40:
            lines[at] = line.replace(",37.50", ",30.00")
    lines[inside[0] + 400] = lines[inside[0] + 400].replace(",32.50", ",34.00")
    sent = tmp_path / "grid.csv"
    sent.write_text("\n".join(lines))
    first, counted, *rows = said(sent, kept_off)
    assert "Do not work by it: 2 places deeper than the obstacle old well allows." in first
    assert "deeper than planned; deeper ones first" in counted
    assert [
        f":{at + 1}: The row reads " in row for at, row in zip(inside, rows[:2], strict=True)
    ] == [True, True]
    assert all("deeper than the obstacle old well allows" in row for row in rows[:2])
    assert "allows" not in "".join(rows[2:])


def test_a_zone_worked_about_a_hazard_is_told_with_the_hazard(
    kept_off: ReadBack, tmp_path: Path
) -> None:
    document = json.loads((kept_off.folder / "depth_zones.geojson").read_text())
    document["features"][0]["properties"]["depth_cm"] = 30.0  # shallower: no hazard is passed
    document["features"][2]["properties"]["depth_cm"] = 35.0
    sent = tmp_path / "zones.json"
    sent.write_text(json.dumps(document))
    told = said(sent, kept_off)
    assert "zone 3 reads 35 cm, deeper than the obstacle old well allows." in told[0]
    assert sum("allows" in each for each in told) == 1


def worked_table(row: str) -> Callable[[Path], None]:
    def work(sent: Path) -> None:
        text = sent.read_text()
        sent.write_text(re.sub(rf"(?m)^({row}.*?)\b0\.00\b", r"\g<1>35.00", text, count=1))
        assert sent.read_text() != text

    return work


def worked_raster(sent: Path) -> None:
    with rasterio.open(sent) as source:
        bands, profile, tags = source.read(), source.profile, source.tags()
        names = source.descriptions
    bands[3][bands[3] == 0] = 35.0
    sent.unlink()
    with rasterio.open(sent, "w", **profile | {"driver": "GTiff"}) as target:
        target.write(bands)
        target.descriptions = names
        target.update_tags(**tags)


def worked_store(sent: Path) -> None:
    with closing(sqlite3.connect(sent)) as store:
        names = store.execute("select name from sqlite_master where type = 'trigger'")
        for (name,) in names.fetchall():  # they need functions that sqlite3 has not
            store.execute(f'drop trigger "{name}"')
        store.execute("update zones set depth_cm = 35 where depth_cm = 0")
        store.commit()


def worked_page(sent: Path) -> None:
    document = page_document(sent.read_text())
    old = data_text(document)
    document["zones"][2]["depth_cm"] = 35.0
    sent.write_text(sent.read_text().replace(old, data_text(document)))


@pytest.mark.parametrize(
    ("name", "change", "what"),
    [
        ("depth_zones.csv", worked_table("3,"), "zone 3 reads 35 cm,"),
        ("depth_passes.csv", worked_table("2,2,"), "1 run"),
        ("pan_surface.tif", worked_raster, r"\d+ cells"),
        ("plan.gpkg", worked_store, "zone 3 reads 35 cm,"),
        ("map.html", worked_page, "zone 3 reads 35 cm,"),
    ],
)
def test_each_file_worked_about_a_hazard_is_told_with_the_hazard_first(
    kept_off: ReadBack, tmp_path: Path, name: str, change: Callable[[Path], None], what: str
) -> None:
    sent = Path(shutil.copy(kept_off.folder / name, tmp_path / f"sent{Path(name).suffix}"))
    assert judged(sent, kept_off).faults == ()
    change(sent)
    first, *rest = said(sent, kept_off)
    assert re.search(rf"Do not work by it: {what} deeper than the obstacle old well allows", first)
    assert rest


def test_runs_in_another_order_and_one_taken_out_are_still_held_against_hazards(
    kept_off: ReadBack, tmp_path: Path
) -> None:
    head, *lines = (kept_off.folder / "depth_passes.csv").read_text().splitlines()
    deep = [re.sub(r",0\.00$", ",35.00", line) for line in lines[:0:-1]]
    sent = tmp_path / "passes.csv"
    sent.write_text("\n".join([head, *deep]))
    first, *rest = said(sent, kept_off)
    assert "Do not work by it: 1 run deeper than the obstacle old well allows." in first
    assert f"The file has {len(lines) - 1} rows where {len(lines)} belong." in rest[0]


def test_cells_deeper_than_a_hazard_allows_are_told_with_the_hazard(
    kept_off: ReadBack, tmp_path: Path
) -> None:
    sent = tmp_path / "cut.tif"
    with rasterio.open(kept_off.folder / "pan_surface.tif") as source:
        band = 1 + source.descriptions.index("working_depth_cm")
        depth = source.read(band)
        profile = source.profile | {"count": 1}
    with rasterio.open(sent, "w", **profile) as target:
        target.write(np.where(depth == 0, np.float32(35.0), depth), 1)
    first = said(sent, kept_off)[0]
    assert re.search(r"Do not work by it: \d+ cells deeper than the obstacle old well", first)


def test_a_run_that_lies_elsewhere_than_planned_is_not_held_against_the_hazards_there(
    kept_off: ReadBack, tmp_path: Path
) -> None:
    """As in a file of another plan, whose passes bear the same numbers on other ground."""
    with (kept_off.folder / "depth_passes.csv").open() as file:
        head, *lines = csv.reader(file)
    for line in (line for line in lines if line[head.index("depth_cm")] == "0.00"):
        line[head.index("depth_cm")] = "35.00"
        for name in ("start_lon", "end_lon"):
            line[head.index(name)] = f"{float(line[head.index(name)]) + 0.001:.8f}"  # some 70 m
    sent = tmp_path / "passes.csv"
    with sent.open("w", newline="") as file:
        csv.writer(file).writerows([head, *lines])
    first, *rest = said(sent, kept_off)
    assert f"1 of {len(lines)} runs begins or ends elsewhere than in this plan" in first
    assert "allows" not in " ".join([first, *rest])


def test_a_zone_of_other_ground_is_not_held_against_the_hazards_of_its_number(
    kept_off: ReadBack, tmp_path: Path
) -> None:
    with (kept_off.folder / "depth_zones.csv").open() as file:
        head, *lines = csv.reader(file)
    told = {}
    own_ha = float(lines[2][head.index("area_ha")])
    for area in (f"{own_ha:.4f}", f"{own_ha:.2f}", f"{own_ha + 0.03:.4f}"):
        lines[2][head.index("depth_cm")] = "35.00"
        lines[2][head.index("area_ha")] = area
        sent = tmp_path / f"zones_{area}.csv"
        with sent.open("w", newline="") as file:
            csv.writer(file).writerows([head, *lines])
        told[area] = "old well allows" in " ".join(said(sent, kept_off))
    assert list(told.values()) == [True, True, False], "rounded it is the same ground"
