"""Files with bytes changed, cut or put in: only a refusal may leave the reader."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from readings.small_field import BOUNDARY, CONE, blob, box
from readings.test_vector import saved

from zoning.errors import InputRefused
from zoning.readings.cone import read_cone
from zoning.readings.vector import read_layer

SHAPE = shapely.Polygon(box(0, 0, 300, 200))
FRAME = gpd.GeoDataFrame({"a": ["x"]}, geometry=[SHAPE], crs="EPSG:4326")
TOKENS = [
    b"",
    b",",
    b'"',
    b"\n",
    b"nan",
    b"-1",
    b"1e999",
    b"null",
    b"[",
    b"}",
    b"\x00",
    b"\xff",
    b"<",
    b";",
]
EDITS = st.lists(
    st.tuples(st.floats(0, 1), st.integers(0, 9), st.sampled_from(TOKENS)), min_size=1, max_size=3
)
SLOW = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def changed(data: bytes, edits: list[tuple[float, int, bytes]]) -> bytes:
    """Replace a few bytes at relative places."""
    for where, width, token in edits:
        place = int(where * len(data))
        data = data[:place] + token + data[place + width :]
    return data


def said(work: Callable[[], object]) -> str:
    """Return the refusal, blank where there was none; any other error leaves."""
    try:
        work()
    except InputRefused as error:
        return str(error)
    return ""


def printable(text: str) -> bool:
    """Whether a message can drive no terminal."""
    return all(c.isprintable() or c == "\n" for c in text)


@SLOW
@given(EDITS)
def test_cone_logs(edits: list[tuple[float, int, bytes]]) -> None:
    data = changed(CONE.encode(), edits)
    assert printable(said(lambda: read_cone(blob(data), cone_unit=None, crs_given=False, areas=[])))


@SLOW
@given(EDITS)
def test_geojson(edits: list[tuple[float, int, bytes]]) -> None:
    assert printable(said(lambda: read_layer(blob(changed(BOUNDARY.encode(), edits)))))


@pytest.mark.parametrize("kind", ["gpkg", "zip", "fgb", "gml", "kml"])
def test_other_formats(tmp_path: Path, kind: str) -> None:
    whole = saved(tmp_path, FRAME, kind)
    assert said(lambda: read_layer(whole)) == ""

    @SLOW
    @given(EDITS)
    def check(edits: list[tuple[float, int, bytes]]) -> None:
        assert printable(said(lambda: read_layer(blob(changed(whole.data, edits), whole.name))))

    check()
