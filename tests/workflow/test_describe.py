"""What zones and runs are told of: the assurance of a depth, the part most of a run lies in."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from scipy import stats
from shapely import LineString, box

from zoning.depths import Places
from zoning.model import PanSurface, Settings
from zoning.model.settings import DepthSection, FieldSection, ReadingsSection
from zoning.workflow.describe import describe_runs, describe_zones

CRS = "EPSG:32631"


@pytest.fixture
def crossed() -> gpd.GeoDataFrame:
    """Return a body with a wheeling across its middle and a headland at its end."""
    ground = {
        "body": box(0, 0, 48.5, 10).union(box(51.5, 0, 90, 10)),
        "wheeling": box(48.5, 0, 51.5, 10),
        "headland": box(90, 0, 120, 10),
    }
    shapes = list(ground.values())
    area = [shape.area / 1e4 for shape in shapes]
    columns = {"part": list(ground), "kind": list(ground), "area_ha": area}
    return gpd.GeoDataFrame(columns, geometry=shapes, crs=CRS)


@pytest.mark.parametrize(
    ("from_m", "to_m", "part"),
    [
        (0.0, 100.0, "body"),  # the middle stands in the wheeling
        (48.0, 52.0, "wheeling"),
        (80.0, 120.0, "headland"),
        (80.0, 99.0, "body"),
    ],
)
def test_most_of_a_run_names_its_part(
    crossed: gpd.GeoDataFrame, from_m: float, to_m: float, part: str
) -> None:
    run = {"pass": [1], "step": [1], "from_m": [from_m], "to_m": [to_m], "depth_cm": [40.0],
           "laid": ["straight"]}  # fmt: skip
    line = LineString([(from_m, 5), (to_m, 5)])
    runs = gpd.GeoDataFrame(run, geometry=[line], crs=CRS)
    assert describe_runs(runs, crossed)["part"].tolist() == [part]


def test_no_run_is_no_row(crossed: gpd.GeoDataFrame) -> None:
    columns = {name: [] for name in ("pass", "step", "from_m", "to_m", "depth_cm", "laid")}
    runs = gpd.GeoDataFrame(columns, geometry=[], crs=CRS)
    assert describe_runs(runs, crossed).empty


def test_a_gateway_or_a_named_area_is_named_however_small_a_wheeling_is_not() -> None:
    """A zone of 1 ha with 1 % of each: only the ground that someone looks for is named."""
    names = ["body", "gateway", "old pond", "wheeling"]
    places = Places(
        np.zeros(4, np.int64), np.array(names), np.zeros((4, 2)), np.array([9700.0, 100, 100, 100])
    )
    surface = PanSurface(np.full(4, 30.0), np.full(4, 3.0), np.ones(4), np.ones(4, np.int64), {})
    zone = {"zone": [1], "depth_cm": [35.0], "area_ha": [1.0]}
    zones = gpd.GeoDataFrame(zone, geometry=[box(0, 0, 100, 100)], crs=CRS)
    settings = Settings(
        field=FieldSection(name="a", boundary="b"), readings=ReadingsSection(cone="c")
    )
    told = describe_zones(zones, np.array([1]), places, surface, settings)
    assert told["parts"].tolist() == ["body; gateway; old pond"]


def test_the_assurance_of_a_zone_counts_no_pan_above_ground() -> None:
    """Against scipy's truncated normal, where the base may lie near the surface."""
    settings = Settings(
        field=FieldSection(name="F", boundary="b.geojson"), depth=DepthSection(clearance_cm=3.0)
    )
    pan = PanSurface(np.array([10.0]), np.array([8.0]), np.ones(1), np.ones(1, dtype=np.int64), {})
    places = Places(np.zeros(1, dtype=np.int64), np.array(["body"]), np.zeros((1, 2)), np.ones(1))
    zones = gpd.GeoDataFrame(
        {"zone": [1], "depth_cm": [15.0], "area_ha": [1.0]}, geometry=[box(0, 0, 1, 1)], crs=CRS
    )
    told = describe_zones(zones, np.array([1]), places, pan, settings)
    base = stats.truncnorm(-10 / 8, np.inf, loc=10, scale=8)
    assert told["assurance"].tolist() == pytest.approx([base.cdf(12.0)])
