"""The user's own pictures on the map page: photographs of pits, the picture from above."""

from __future__ import annotations

import base64
import dataclasses
import io
import warnings
from typing import Any

import numpy as np
import pyproj
import pytest
import rasterio
import rasterio.errors

from zoning.contracts import constant
from zoning.model import Plan
from zoning.model.pictures import Backdrop, Photo
from zoning.outputs.map_page.data import map_document

CELL_M = 1.0


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Pictured(Plan):
    """A plan with pictures."""

    backdrop: Backdrop | None = None
    photos: tuple[Photo, ...] = ()


def pictured(plan: Plan, **pictures: Any) -> Pictured:
    facts = {name: getattr(plan, name) for name in Plan.__slots__}
    return Pictured(**(facts | pictures))


def test_small_photographs_are_put_in_and_large_ones_only_named(plan: Plan) -> None:
    pits = plan.pits.assign(photo=["small.jpg", "large.jpg"])
    most = int(constant("map_rules", "photo_most_bytes"))
    photos = (
        Photo("small.jpg", "image/jpeg", b"s" * most),
        Photo("large.jpg", "image/jpeg", b"l" * (most + 1)),
    )
    told = {
        pit["photo"]: pit["picture"]
        for pit in map_document(pictured(dataclasses.replace(plan, pits=pits), photos=photos))[
            "pits"
        ]
    }
    assert (
        base64.b64decode(told["small.jpg"].removeprefix("data:image/jpeg;base64,")) == b"s" * most
    )
    assert told["large.jpg"] == ""


def test_plan_without_pictures_has_none(plan: Plan) -> None:
    document = map_document(plan)
    assert document["backdrop"] is None
    assert {pit["picture"] for pit in document["pits"]} == {""}


@pytest.mark.parametrize("crs", ["EPSG:32630", "EPSG:32631", "EPSG:4326"])
def test_backdrop_lies_where_its_own_system_puts_it(plan: Plan, crs: str) -> None:
    """A red block drawn in the picture's own system is found where EPSG:3857 of PROJ puts it."""
    to_own = pyproj.Transformer.from_crs(plan.working_crs, crs, always_xy=True)
    west, south, east, north = plan.boundary.buffer(60).bounds
    corners = np.array([(x, y) for x in (west, east) for y in (south, north)])
    own = np.column_stack(to_own.transform(*corners.T))
    (x0, y0), (x1, y1) = own.min(axis=0), own.max(axis=0)
    rows, columns = 600, 800
    dx, dy = (x1 - x0) / columns, (y1 - y0) / rows
    rgb = np.full((rows, columns, 3), (0, 160, 0), dtype=np.uint8)
    rgb[200:300, 500:650] = (230, 0, 0)
    shown = np.ones((rows, columns), dtype=bool)
    backdrop = Backdrop("photo.tif", rgb, shown, crs, (dx, 0.0, x0, 0.0, -dy, y1))
    record = map_document(pictured(plan, backdrop=backdrop))["backdrop"]
    content = base64.b64decode(record["picture"].removeprefix("data:image/jpeg;base64,"))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        with rasterio.open(io.BytesIO(content), driver="JPEG") as picture:
            red = picture.read(1).astype(int) - picture.read(2)
    middle = pyproj.Transformer.from_crs(crs, "EPSG:3857", always_xy=True).transform(
        x0 + 575 * dx, y1 - 250 * dy
    )
    (low, left), (high, right) = record["bounds"]
    web = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    (wx0, wy0), (wx1, wy1) = web.transform(left, low), web.transform(right, high)
    down, across = np.nonzero(red > 100)
    found = (
        wx0 + (across.mean() + 0.5) * (wx1 - wx0) / red.shape[1],
        wy1 - (down.mean() + 0.5) * (wy1 - wy0) / red.shape[0],
    )
    assert found == pytest.approx(middle, abs=1.5)
    assert record["name"] == "photo.tif"
