"""A run is named after the part that most of it lies in, whatever its middle happens to hit."""

from __future__ import annotations

import geopandas as gpd
import pytest
from shapely import LineString, box

from zoning.workflow.describe import describe_runs

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
    run = {"pass": [1], "step": [1], "from_m": [from_m], "to_m": [to_m], "depth_cm": [40.0]}
    line = LineString([(from_m, 5), (to_m, 5)])
    runs = gpd.GeoDataFrame(run, geometry=[line], crs=CRS)
    assert describe_runs(runs, crossed)["part"].tolist() == [part]


def test_no_run_is_no_row(crossed: gpd.GeoDataFrame) -> None:
    columns = {name: [] for name in ("pass", "step", "from_m", "to_m", "depth_cm")}
    runs = gpd.GeoDataFrame(columns, geometry=[], crs=CRS)
    assert describe_runs(runs, crossed).empty
