from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import pytest
from shapely import LineString, Point, box

from zoning.contracts import constant
from zoning.parts import hazard_zones

MARGIN = constant("part_rules", "drain_margin_cm")


def hazards(*rows: tuple[str, float, float, object]) -> gpd.GeoDataFrame:
    kind, depth, clear, shapes = zip(*rows, strict=True) if rows else ((), (), (), ())
    columns = {
        "kind": list(kind),
        "depth_cm": np.array(depth, float),
        "clear_m": np.array(clear, float),
    }
    return gpd.GeoDataFrame(columns, geometry=list(shapes), crs=32630)


LINE = LineString([(0, 0), (100, 0)])


def test_a_drain_bounds_the_depth_above_it() -> None:
    zones, notices = hazard_zones(hazards(("drain", 60, 2, LINE)), machine_width_m=3)
    assert zones["cap_cm"].tolist() == [60 - MARGIN]
    assert zones.geometry.area.iloc[0] == pytest.approx(100 * 4 + math.pi * 4, rel=0.01)
    assert list(zones.columns) == ["kind", "name", "cap_cm", "clear_m", "depth_cm", "geometry"]
    assert zones.crs.to_epsg() == 32630
    assert notices == ()


def test_each_keep_off_has_the_name_of_its_hazard() -> None:
    shapes = [LINE, LineString([(0, 50), (100, 50)]), Point(5, 80)]
    rows = hazards(*[("drain", 60, 2, shape) for shape in shapes]).assign(name=["a", "", "c"])
    zones, _ = hazard_zones(rows, machine_width_m=3)
    inside = [zones.geometry.contains(shape.centroid) for shape in shapes]
    assert [zones.loc[held, "name"].tolist() for held in inside] == [["a"], [""], ["c"]]
    assert hazard_zones(rows.drop(columns="name"), machine_width_m=3)[0]["name"].eq("").all()


def test_a_drain_shallower_than_the_margin_means_lifted_out() -> None:
    zones, _ = hazard_zones(hazards(("drain", MARGIN - 5, 2, LINE)), machine_width_m=3)
    assert zones["cap_cm"].tolist() == [0.0]


def test_services_and_obstacles_are_lifted_over_however_deep() -> None:
    rows = [
        ("service", 120, 3, LINE),
        ("obstacle", np.nan, 4, Point(5, 5)),
        ("obstacle", 90, 1, box(0, 0, 9, 9)),
    ]
    zones, notices = hazard_zones(hazards(*rows), machine_width_m=3)
    assert zones["cap_cm"].tolist() == [0.0, 0.0, 0.0]
    assert zones["kind"].tolist() == ["obstacle", "obstacle", "service"]
    assert notices == ()


def test_areas_are_kept_off_with_their_margin() -> None:
    zones, _ = hazard_zones(hazards(("obstacle", np.nan, 1, box(0, 0, 9, 9))), machine_width_m=3)
    assert zones.geometry.iloc[0].covers(box(-0.99, 0, 9.99, 9))


@pytest.mark.parametrize("kind", ["drain", "service", "obstacle"])
def test_a_missing_distance_is_cautious_and_told(kind: str) -> None:
    given = constant("part_rules", f"{kind}_clear_m")
    for width, clear in ((1.0, given), (40.0, 20.0)):
        zones, notices = hazard_zones(hazards((kind, 80, np.nan, LINE)), machine_width_m=width)
        assert zones["clear_m"].tolist() == [clear]
        assert [(notice.level, notice.code) for notice in notices] == [
            ("caution", f"{kind}-clear-assumed")
        ]
        assert f"{clear:g} m" in notices[0].text


def test_a_missing_cover_is_cautious_and_told() -> None:
    zones, notices = hazard_zones(hazards(("drain", np.nan, 2, LINE)), machine_width_m=3)
    assert 0 <= zones["cap_cm"].iloc[0] < 40
    assert np.isnan(zones["depth_cm"].iloc[0])
    assert [notice.code for notice in notices] == ["drain-cover-assumed"]


def test_a_distance_of_nothing_is_widened_and_told() -> None:
    zones, notices = hazard_zones(hazards(("service", 80, 0, LINE)), machine_width_m=3)
    assert zones.geometry.area.iloc[0] > 0
    assert [notice.code for notice in notices] == ["clear-widened"]


def test_the_order_of_rows_does_not_matter() -> None:
    rows = [("drain", 60, 2, LINE), ("drain", 70, 2, Point(3, 3)), ("service", 60, 2, Point(9, 9))]
    one, _ = hazard_zones(hazards(*rows), machine_width_m=3)
    two, _ = hazard_zones(hazards(*rows[::-1]), machine_width_m=3)
    assert one.equals(two)


def test_no_hazards_no_zones() -> None:
    zones, notices = hazard_zones(hazards(), machine_width_m=3)
    assert len(zones) == 0
    assert list(zones.columns) == ["kind", "name", "cap_cm", "clear_m", "depth_cm", "geometry"]
    assert notices == ()


def test_unknown_kinds_are_refused() -> None:
    with pytest.raises(ValueError, match="pylon"):
        hazard_zones(hazards(("pylon", 1, 1, LINE)), machine_width_m=3)
