"""The map page as a file: nothing foreign in it, nothing runs but ours, places and classes true."""

from __future__ import annotations

import base64
import dataclasses
import hashlib
import io
import re
import warnings
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import pytest
import rasterio
import rasterio.errors
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from outputs.conftest import build_plan
from scipy.spatial import cKDTree

from zoning.contracts import constant
from zoning.errors import OutputFailed
from zoning.grid import Grid
from zoning.model import Notice, Plan
from zoning.outputs.bars import STANDING
from zoning.outputs.drawing.pit_signs import PIT_SIGNS
from zoning.outputs.drawing.plan import gateway_places
from zoning.outputs.map_page.data import map_document, until_cleared
from zoning.outputs.map_page.page import check_map, data_text, map_html, page_document, write_map
from zoning.outputs.map_page.places import Places
from zoning.outputs.map_page.rasters import surfaces
from zoning.outputs.sheet.tables import zone_row

HOSTILE = "</script><script>document.title='x'</script><img src=x onerror=alert(1)>&\u2028<!--"


class Elements(HTMLParser):
    """Every element of a page with its attributes, and the text of style and script."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.held: list[tuple[str, dict[str, str | None], str]] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.lasttag == self.cdata_elem:
            self.held.append((*self.found[-1], data))


@pytest.fixture(scope="module")
def html(plan: Plan) -> str:
    return map_html(plan)


@pytest.fixture(scope="module")
def document(plan: Plan) -> dict[str, Any]:
    return map_document(plan)


def places_of(document: dict[str, Any], moves: list[int]) -> np.ndarray:
    """Longitude and latitude of a run, by the rule that the page states."""
    steps = np.cumsum(np.reshape(moves, (-1, 2)), axis=0)
    return np.array(document["origin"]) + steps / document["steps_a_degree"]


def opened(png: bytes) -> tuple[np.ndarray, dict[int, tuple[int, ...]]]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        with rasterio.open(io.BytesIO(png), driver="PNG") as picture:
            return picture.read(1), picture.colormap(1)


def test_same_plan_gives_the_same_bytes_in_any_row_order(plan: Plan, html: str) -> None:
    turned = {
        name: getattr(plan, name).iloc[::-1]
        for name in ("stations", "insertions", "cone", "zones", "parts", "passes", "pits")
    }
    assert map_html(dataclasses.replace(plan, **turned)) == html


def test_policy_names_every_style_and_script_by_its_hash(html: str) -> None:
    elements = Elements(html)
    policy = next(
        attributes["content"] or ""
        for tag, attributes in elements.found
        if tag == "meta" and attributes.get("http-equiv") == "Content-Security-Policy"
    )
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert rules["img-src"] == "data: blob:"
    for kind in ("style", "script"):
        digests = {
            f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
            for tag, attributes, text in elements.held
            if tag == kind and attributes.get("type") is None
        }
        assert digests == set(rules[f"{kind}-src"].split())


def test_nothing_points_out_of_the_page(html: str) -> None:
    for _, attributes in Elements(html).found:
        assert not {"style", "onload", "onerror", "onclick"} & set(attributes)
        for name in ("src", "href", "action", "data", "poster"):
            value = attributes.get(name) or "#"
            assert value.startswith(("#", "data:"))


def test_licence_of_the_map_library_is_kept(html: str) -> None:
    assert "BSD 2-Clause License" in html
    assert "Redistributions in binary form must reproduce" in html
    assert "Leaflet 1.9.4" in html


def test_hostile_texts_stay_texts(plan: Plan, changed: Callable[..., Plan]) -> None:
    field = dataclasses.replace(plan.settings.field, name=HOSTILE)
    hostile = changed(
        settings=dataclasses.replace(plan.settings, field=field),
        stations=plan.stations.assign(reason=HOSTILE),
        pits=plan.pits.assign(note=HOSTILE, photo=HOSTILE),
        notices=(Notice("caution", "services-not-checked", HOSTILE),),
    )
    text = map_html(hostile)
    kinds = [tag for tag, _ in Elements(text).found]
    assert kinds.count("script") == 3
    assert "img" not in kinds
    found = page_document(text)
    assert found["plan"]["field"] == HOSTILE
    assert found["pits"][0]["note"] == HOSTILE
    assert all(letter not in data_text(found) for letter in "<>&\u2028\u2029")


def test_page_that_was_changed_is_refused(plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "map.html"
    write_map(plan, path)
    check_map(plan, path)
    path.write_text(path.read_text("utf-8").replace('"depth_cm":37.5', '"depth_cm":32.5'), "utf-8")
    with pytest.raises(OutputFailed):
        check_map(plan, path)
    path.write_text("<p>nothing</p>", encoding="utf-8")
    with pytest.raises(OutputFailed):
        check_map(plan, path)


def test_first_caution_is_that_on_services_and_held_zones_are_told(plan: Plan, html: str) -> None:
    services = "Buried services were not checked."
    notices = (Notice("caution", "another", "Another matter."), *plan.notices)
    text = map_html(dataclasses.replace(plan, notices=notices))
    assert page_document(text)["cautions"][0] == services
    assert text.index("NOT CLEARED") < text.index(services) < text.index("Another matter.")
    assert "NOT CLEARED: 1 of 3 zones, 0.66 ha." in text


def test_a_stop_that_stands_leads_the_band_and_what_is_below_it(plan: Plan) -> None:
    stop = "STOP, by the check of 2026-10-02 against plan aaaaaaaa: pit A7 was too deep."
    notice = Notice("caution", STANDING, stop, ("A7",))
    text = map_html(dataclasses.replace(plan, notices=(notice, *plan.notices)))
    band, below = text[text.index("<summary>") :].split("</summary>", 1)
    assert "STOP, by the check of 2026-10-02: pit A7<br>NOT CLEARED" in band
    assert below.index(f'<p class="held">{stop}</p>') < below.index('<p class="held">NOT CLEARED')
    assert stop in page_document(text)["cautions"]


def test_what_may_stop_the_plan_is_in_sight_at_the_top(plan: Plan) -> None:
    rating = pd.DataFrame(
        {"part": ["whole field"], "points": [16], "over_limit": [1], "rating": ["little"],
         "loosen": ["no"], "few_points": [False]}
    )  # fmt: skip
    text = map_html(dataclasses.replace(plan, rating=rating))
    band = text[text.index("<summary>") : text.index("</summary>")]
    assert "NOT CLEARED" in band
    assert "not called for" in band
    shown = "RATING: LITTLE COMPACTION (1 of 16 points over the limit): loosening is not called for"
    assert shown in re.sub("</?small>", "", band)
    assert text.count(f'<p class="held">{shown}.</p>') == 2  # below the band, and on paper
    assert "IN DOUBT" not in text
    dry = Notice("caution", "readings-dry", "Soil was dry.")
    doubted = map_html(dataclasses.replace(plan, notices=(*plan.notices, dry)))
    assert "EVIDENCE IN DOUBT" in doubted[doubted.index("<summary>") : doubted.index("</summary>")]


@pytest.mark.parametrize(
    ("notice_cm", "machine", "most"),
    [
        (30.0, {}, (30.0, 7)),
        (31.0, {}, (30.0, 7)),
        (29.9, {}, (27.5, 6)),
        (10.0, {}, (0.0, None)),
        (0.0, {}, (0.0, None)),
        (90.0, {}, (45.0, 13)),
        (30.0, {"depth_control": "hydraulic"}, (30.0, None)),
        (30.0, {"depth_min_cm": 20.0, "depth_step_cm": 0.1}, (30.0, 101)),
    ],
)
def test_the_most_that_may_be_set_before_services_are_located(
    plan: Plan, notice_cm: float, machine: dict[str, Any], most: tuple[float, int | None]
) -> None:
    """By hand: holes from the shallowest depth on, a step each."""
    settings = dataclasses.replace(
        plan.settings,
        hazards=dataclasses.replace(plan.settings.hazards, notice_depth_cm=notice_cm),
        machine=dataclasses.replace(plan.settings.machine, **machine),
    )
    found = until_cleared(dataclasses.replace(plan, settings=settings))
    assert (found["depth_cm"], found["pin_hole"]) == most


def test_outlines_lie_where_pyproj_puts_them(plan: Plan, document: dict[str, Any]) -> None:
    """Area on the ellipsoid by Karney's geodesics (pyproj.Geod), places by PROJ."""
    geod = pyproj.Geod(ellps="WGS84")
    to_lonlat = pyproj.Transformer.from_crs(plan.working_crs, "EPSG:4326", always_xy=True)
    for zone, (_, row) in zip(document["zones"], plan.zones.iterrows(), strict=True):
        rings = [
            [shapely.Polygon(places_of(document, ring)) for ring in rings]
            for rings in zone["shape"]
        ]
        area = sum(
            abs(geod.geometry_area_perimeter(outer)[0])
            - sum(abs(geod.geometry_area_perimeter(hole)[0]) for hole in holes)
            for outer, *holes in rings
        )
        exact = shapely.transform(
            row.geometry, lambda xy: np.column_stack(to_lonlat.transform(*xy.T))
        )
        assert area == pytest.approx(abs(geod.geometry_area_perimeter(exact)[0]), rel=1e-4)
        assert shapely.union_all([outer for outer, *_ in rings]).buffer(1e-7).covers(exact)


def test_places_run_on_past_the_date_line() -> None:
    places = Places("EPSG:32660", 179.9995, -17.0)
    lonlat = np.array([[179.999, -17.0], [-179.999, -17.0]])
    to_working = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32660", always_xy=True)
    there = places.lonlat(np.column_stack(to_working.transform(*lonlat.T)))
    assert there[:, 0] == pytest.approx([179.999, 180.001], abs=1e-6)


@pytest.mark.parametrize(
    ("name", "band", "factor"),
    [
        ("pan_base", "pan_base_cm", 1),
        ("pan_base_sd", "pan_base_sd_cm", 1),
        ("pan_probability", "pan_probability", 100),
    ],
)
def test_every_dot_of_a_surface_tells_the_class_of_its_cell(
    plan: Plan, document: dict[str, Any], name: str, band: str, factor: float
) -> None:
    """Dots placed by EPSG:3857 of PROJ, as a web map does, and looked up in the plan's grid."""
    ranks, colours, xy_m, surface = dots_of(plan, document, name)
    cells = plan.grid.cell_of(xy_m)
    values = np.where(plan.inside, plan.rasters[band], np.nan).ravel()
    seen = np.where(cells >= 0, values[cells], np.nan) * factor
    in_field = shapely.contains_xy(plan.boundary, xy_m)
    assert (ranks[in_field] > 0).all()
    assert in_field.sum() > 1000
    off_m = shapely.distance(plan.boundary, shapely.points(xy_m))
    assert (ranks[off_m > plan.grid.cell_m] == 0).all()  # and nothing beyond the field
    words = [one["words"].replace("over ", "").split() for one in surface["classes"]]
    low = np.array([float(word[0]) for word in words])
    high = np.array([float(word[2]) if "to" in word else np.inf for word in words])
    centres = plan.grid.centres_m()
    own_part = np.zeros(len(xy_m), dtype=bool)
    for shape in plan.parts.geometry:
        own_part |= shapely.contains_xy(shape, xy_m) & shapely.contains_xy(shape, centres)[cells]
    # A dot of another part than its cell shows the next cell of its own; see the test that follows.
    told = in_field & own_part
    assert told.sum() > 0.95 * in_field.sum()
    rank = ranks[told] - 1
    right = (low[rank] <= seen[told] + 1e-9) & (seen[told] <= high[rank] + 1e-9)
    # One whose middle lies on the edge of a cell to the last digit may fall to either side.
    assert right.mean() > 0.9999
    tones = ["#{:02x}{:02x}{:02x}".format(*colours[i + 1][:3]) for i in range(len(words))]
    assert tones == [one["tone"] for one in surface["classes"]]
    assert colours[0][3] == 0


@pytest.mark.parametrize(("name", "band"), [("pan_base_sd", "pan_base_sd_cm"),
                                            ("pan_probability", "pan_probability")])  # fmt: skip
def test_two_fields_are_told_in_the_same_classes(
    plan: Plan, document: dict[str, Any], name: str, band: str
) -> None:
    rasters = {**plan.rasters, band: np.where(plan.inside, 0.97, np.nan)}
    other = dataclasses.replace(plan, rasters=rasters)
    told = {"surfaces": surfaces(other, Places.around(other))}
    ours, theirs = (
        next(each for each in held["surfaces"] if each["name"] == name) for held in (document, told)
    )
    assert ours["classes"] == theirs["classes"]
    assert "the same classes on every field" in ours["unit"]
    ranks = dots_of(other, told, name)[0]
    assert set(ranks) == {0, len(ours["classes"]) if band == "pan_probability" else 1}


def test_whatever_is_less_certain_than_the_classes_is_in_the_last(plan: Plan) -> None:
    rasters = {**plan.rasters, "pan_base_sd_cm": np.where(plan.inside, 40.0, np.nan)}
    wide = dataclasses.replace(plan, rasters=rasters)
    told = {"surfaces": surfaces(wide, Places.around(wide))}
    ranks, _, _, surface = dots_of(wide, told, "pan_base_sd")
    assert set(ranks) == {0, len(surface["classes"])}
    assert surface["classes"][-1]["words"] == "over 8 cm"
    assert f"{constant('plan_rules', 'support_sd_cm'):g} to 8 cm" in str(surface["classes"])


def dots_of(
    plan: Plan, document: dict[str, Any], name: str
) -> tuple[np.ndarray, dict[int, tuple[int, ...]], np.ndarray, dict[str, Any]]:
    """Class of every dot of a surface, its colours, the middles of the dots [m], the surface."""
    surface = next(one for one in document["surfaces"] if one["name"] == name)
    ranks, colours = opened(base64.b64decode(surface["picture"].partition(",")[2]))
    web = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    (south, west), (north, east) = surface["bounds"]
    (x0, y0), (x1, y1) = web.transform(west, south), web.transform(east, north)
    rows, columns = ranks.shape
    x = x0 + (np.arange(columns) + 0.5) * (x1 - x0) / columns
    y = y1 - (np.arange(rows) + 0.5) * (y1 - y0) / rows
    lonlat = web.transform(np.tile(x, rows), np.repeat(y, columns), direction="INVERSE")
    back = pyproj.Transformer.from_crs("EPSG:4326", plan.working_crs, always_xy=True)
    return ranks.ravel(), colours, np.column_stack(back.transform(*lonlat)), surface


@settings(max_examples=25, deadline=None)
@given(
    turn_deg=st.floats(-80, 80),
    width_m=st.floats(3.2, 8.0),
    across=st.floats(-30, 30),
    cell_m=st.sampled_from([1.0, 1.5, 1.75, 2.0]),
)
def test_a_slanting_strip_keeps_its_own_edges(
    turn_deg: float, width_m: float, across: float, cell_m: float
) -> None:
    """A wheeling with a pan at 40 cm in ground with one at 30: no dot of one tells the other."""
    plan = build_plan()
    middle = plan.boundary.centroid
    line = shapely.LineString([(middle.x - 400, middle.y + across), (middle.x + 400, middle.y)])
    turned = shapely.affinity.rotate(line, turn_deg, origin=middle)
    strip = turned.buffer(width_m / 2, cap_style="flat").intersection(plan.boundary)
    shapes = [plan.boundary.difference(strip), strip]
    parts = plan.parts.assign(part=["body", "wheeling"], kind=["body", "wheeling"])
    grid = Grid.covering(plan.boundary.bounds, cell_m)
    centres = grid.centres_m()
    base = np.where(shapely.contains_xy(strip, centres), 40.0, 30.0).reshape(grid.shape)
    inside = shapely.contains_xy(plan.boundary, centres).reshape(grid.shape)
    told = dataclasses.replace(
        plan,
        parts=parts.set_geometry(gpd.GeoSeries(shapes, index=parts.index, crs=parts.crs)),
        grid=grid,
        inside=inside,
        rasters={name: np.where(inside, base, np.nan) for name in plan.rasters},
    )
    document = {"surfaces": surfaces(told, Places.around(told))}
    ranks, _, xy_m, _ = dots_of(told, document, "pan_base")
    assert (ranks[shapely.contains_xy(plan.boundary, xy_m)] > 0).all()
    lit = inside.ravel()
    for shape, deep in zip(shapes, (False, True), strict=True):
        # Off the edges by more than the rounding of the corners of the picture; a corner of a part
        # without a cell of its own next to it has no value to show.
        dots = xy_m[held := shapely.contains_xy(shape.buffer(-0.02), xy_m)]
        own = cKDTree(centres[lit & shapely.contains_xy(shape, centres)])
        told_here = own.query(dots)[0] < cell_m
        assert told_here.mean() > 0.98
        assert ((ranks[held][told_here] == ranks.max()) == deep).all()


def read_cone(letters: str) -> list[int | None]:
    """Two digits of base 64 a reading, in the order of RFC 4648, table 1."""
    padded = [letters[i : i + 2] for i in range(0, len(letters), 2)]
    values = [None if p == ".." else base64.b64decode("AA" + p) for p in padded]
    return [None if v is None else int.from_bytes(v, "big") for v in values]


def test_profiles_come_back_to_ten_kilopascals(plan: Plan, document: dict[str, Any]) -> None:
    told = {
        (station["station"], one["insertion"]): list(
            zip(document["depths"][one["depths"]], read_cone(one["cone"]), strict=True)
        )
        for station in document["stations"]
        for one in station["insertions"]
    }
    for _, row in plan.cone.iterrows():
        found = dict(told[row["station"], row["insertion"]])[row["depth_cm"]]
        assert found / document["cone_steps_a_mpa"] == pytest.approx(
            row["cone_index_mpa"], abs=0.005
        )
    assert sum(map(len, told.values())) == len(plan.cone)


def test_each_station_knows_the_working_depth_of_its_zone(
    plan: Plan, document: dict[str, Any]
) -> None:
    by_name = {station["station"]: station for station in document["stations"]}
    for _, row in plan.stations[plan.stations["kind"] == "cone"].iterrows():
        zone = plan.zones[plan.zones.intersects(row.geometry)].iloc[0]
        assert by_name[row["station"]]["work_cm"] == zone["depth_cm"]
        assert by_name[row["station"]]["zone"] == zone["zone"]


def test_each_station_tells_the_base_that_the_plan_took_where_a_day_counts(
    plan: Plan, document: dict[str, Any], changed: Callable[..., Plan]
) -> None:
    assert {station["taken_cm"] for station in document["stations"]} == {None}
    cone = plan.stations[(plan.stations["kind"] == "cone") & plan.stations["used"]]
    row = cone[cone["pan_base_cm"].notna()].iloc[0]
    report = {**plan.surface_report, f"day_effect_{row['date']}_cm": 1.7}
    stations = map_document(changed(surface_report=report))["stations"]
    taken = {station["station"]: station["taken_cm"] for station in stations}
    assert taken[row["station"]] == pytest.approx(row["pan_base_cm"] - 1.7, abs=0.05)
    other = {s["station"] for s in stations if s["date"] != row["date"] or not s["used"]}
    assert {taken[name] for name in other} <= {None}


def test_remarks_on_readings_stand_with_their_insertion_each_once(
    plan: Plan, document: dict[str, Any], changed: Callable[..., Plan]
) -> None:
    def noted(stations: list[dict[str, Any]]) -> dict[str, str]:
        every = ((one["station"], each) for one in stations for each in one["insertions"])
        return {name: each["note"] for name, each in every if "note" in each}

    assert noted(document["stations"]) == {}
    first = plan.cone.iloc[0]
    own = plan.cone["insertion_id"] == first["insertion_id"]
    notes = pd.Series("", index=plan.cone.index).mask(own, "struck a stone <b>")
    notes.loc[notes.index[own][-1]] = " old track"
    told = map_document(changed(cone=plan.cone.assign(note=notes)))["stations"]
    assert noted(told) == {first["station"]: "struck a stone <b>; old track"}


def test_a_gateway_has_its_sign_where_the_drawing_has_it(
    plan: Plan, document: dict[str, Any], changed: Callable[..., Plan]
) -> None:
    assert document["gateways"] == []
    west, south, _, _ = plan.boundary.bounds
    corner = shapely.box(west, south, west + 20, south + 20).intersection(plan.boundary)
    rest = plan.parts.iloc[:1].assign(part="gateway", kind="gateway", geometry=[corner])
    entered = changed(parts=pd.concat([plan.parts, rest], ignore_index=True))
    (at,) = map_document(entered)["gateways"]
    (place,) = gateway_places(entered)
    assert place.distance(plan.boundary.boundary) == pytest.approx(0, abs=1e-9)
    assert at == Places.around(entered).point(place.x, place.y)


def test_changes_of_depth_are_those_of_the_passes(document: dict[str, Any]) -> None:
    assert [change[2:] for change in document["changes"]] == [
        [2, 120.0, 32.5, 0.0],
        [2, 160.0, 0.0, 32.5],
    ]


def test_every_lump_of_a_zone_has_room_for_a_label_of_its_own(plan: Plan) -> None:
    """Two lumps that only a sliver joins, and a long strip: a place inside each, apart."""
    west, south, *_ = plan.boundary.bounds
    lumps = [shapely.box(west + x, south, west + x + 30, south + 30) for x in (0, 100)]
    sliver = shapely.box(west + 20, south + 14, west + 110, south + 14.5)
    shape = shapely.union_all([*lumps, sliver])
    zones = plan.zones.iloc[:1].set_geometry([shape])
    document = map_document(dataclasses.replace(plan, zones=zones))
    (zone,) = document["zones"]
    back = pyproj.Transformer.from_crs("EPSG:4326", plan.working_crs, always_xy=True)
    found = [(*zone["at"], zone["room_m"]), *zone["more"]]
    steps = np.array([(east, north) for east, north, _ in found])
    lonlat = np.array(document["origin"]) + steps / document["steps_a_degree"]
    spots = shapely.points(np.column_stack(back.transform(*lonlat.T)))
    for lump in lumps:
        assert shapely.covers(lump, spots).sum() == 1
    for spot, (*_, room_m) in zip(spots, found, strict=True):
        assert shape.buffer(0.6).covers(spot.buffer(room_m))


def test_pits_have_the_signs_of_every_other_page(document: dict[str, Any]) -> None:
    assert document["pit_signs"] == {
        phase: PIT_SIGNS[phase].outline for phase in ("before", "after")
    }


@settings(max_examples=60, deadline=None)
@given(
    area_ha=st.lists(
        st.one_of(
            st.floats(0.0, 60.0),
            # Close to where a second rounding would go the other way, and ties to the last bit.
            st.tuples(st.integers(0, 4000), st.floats(-6e-5, 6e-5)).map(
                lambda at: max(0.0, at[0] / 100 + 0.005 + at[1])
            ),
            st.sampled_from([1.14498, 1.14502, 0.125, 0.375, 10.125, 0.004]),
        ),
        min_size=3,
        max_size=3,
    )
)
def test_an_area_is_the_same_on_page_sheet_and_terminal(area_ha: list[float]) -> None:
    """The page shows what the sheet shows, and beside a depth what the terminal shows."""
    plan = build_plan()
    changed = dataclasses.replace(
        plan, zones=plan.zones.assign(area_ha=area_ha, depth_cm=[37.5, 32.5, 32.5], time_min=0.3)
    )
    document = map_document(changed)
    rows = [zone_row(zone, {}) for zone in changed.zones.to_dict("records")]
    assert [zone["shown"]["area_ha"] for zone in document["zones"]] == [r["area_ha"] for r in rows]
    assert [zone["shown"]["time_min"] for zone in document["zones"]] == ["<1"] * 3
    sums = changed.zones.groupby("depth_cm")["area_ha"].sum()
    for (depth, told), (wanted, area) in zip(document["depth_areas"], sums.items(), strict=True):
        assert depth == wanted
        assert told == (f"{area:.2f}" if area == 0 or area > 0.005 else "<0.01")


def test_beside_a_pit_stands_the_nearest_cone_station(plan: Plan) -> None:
    """Stations lie at (20, 15), (90, 60) and (140, 70), pits at (50, 20) and (55, 20)."""
    by_phase = {pit["phase"]: pit["beside"] for pit in map_document(plan)["pits"]}
    assert by_phase["before"] == ["alpha", round(float(np.hypot(30, 5)), 1)]
    assert by_phase["after"] == ["alpha", round(float(np.hypot(35, 5)), 1)]
    far = dataclasses.replace(plan, pits=plan.pits.assign(x_m=plan.pits["x_m"] + 900.0))
    assert {pit["beside"] for pit in map_document(far)["pits"]} == {None}
    bare = dataclasses.replace(plan, stations=plan.stations[plan.stations["kind"] == "pit"])
    assert {pit["beside"] for pit in map_document(bare)["pits"]} == {None}


@pytest.mark.parametrize(
    ("level", "keys", "hole"),
    [
        ("caution", ("depth_min_cm", "legs"), None),
        ("caution", ("depth_step_cm",), None),
        ("caution", ("legs",), 7),
        ("note", ("speed_km_h",), 7),
    ],
)
def test_no_pin_is_told_of_ground_not_cleared_where_pins_are_assumed(
    plan: Plan, level: str, keys: tuple[str, ...], hole: int | None
) -> None:
    notices = (*plan.notices, Notice(level, "assumed-in-part", "In words.", keys=keys))
    document = map_document(dataclasses.replace(plan, notices=notices))["plan"]
    assert document["until_cleared"]["pin_hole"] == hole
    assert document["pins_assumed"] is (hole is None)
    assert document["assumed_words"] == ("In words." if level == "caution" else "")


def test_a_gap_bears_its_label_in_its_middle(plan: Plan, document: dict[str, Any]) -> None:
    (gap,) = document["gaps"]
    ring = plan.boundary.geoms[0].interiors[0]
    lon, lat = (
        origin + step / document["steps_a_degree"]
        for origin, step in zip(document["origin"], gap["at"], strict=True)
    )
    to_working = pyproj.Transformer.from_crs("EPSG:4326", plan.working_crs, always_xy=True)
    middle = shapely.Point(to_working.transform(lon, lat))
    assert middle.distance(ring.centroid) < 1.0
    assert gap["room_m"] == pytest.approx(15.0, abs=0.6)


def test_uncertain_ground_ends_at_the_boundary(plan: Plan) -> None:
    """Its cells lie past the edge and over the pond; what is drawn does not."""
    over = plan.boundary.envelope.buffer(4.0)
    rows = {"reason": ["no station near"], "area_ha": [3.0]}
    held = gpd.GeoDataFrame(rows, geometry=[over], crs=plan.uncertain.crs)
    document = map_document(dataclasses.replace(plan, uncertain=held))
    assert document["unsure"][0]["unread"] is True
    drawn, outline = (
        [[shapely.Polygon(places_of(document, ring)) for ring in rings] for rings in shape]
        for shape in (document["unsure"][0]["shape"], document["outline"])
    )
    assert [
        [one.equals(other) for one, other in zip(*pair, strict=True)]
        for pair in zip(drawn, outline, strict=True)
    ] == [[True, True]]
