"""Nothing on the sheet leaves its cell or its page or is printed over, whatever the zones are.

Words are placed by pdftotext (poppler), the strokes of tables by pypdf: tools outside the project.
"""

from __future__ import annotations

import dataclasses
import itertools
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from pypdf import PageObject, PdfReader
from pypdf.generic import ContentStream
from shapely import LineString, MultiPolygon, Polygon, STRtree, box

from zoning.model import Notice, Plan
from zoning.outputs.sheet.pages import write_sheet

_WORD = re.compile(
    r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*)</word>'
)
_TABLE_STROKE = 0.4
_MARGIN = 28.3  # 10 mm
_SLACK = 0.3
_TAKEN = Notice("caution", "assumed-machine", "No machine is described: measure yours.")


def placed(path: Path) -> list[tuple[list[str], list[Polygon]]]:
    """Return the words of each page and the boxes that their small letters fill [pt]."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    done = subprocess.run(["pdftotext", "-bbox", path, "-"], capture_output=True, check=True)
    pages = []
    for page in done.stdout.decode("utf-8").split("<page ")[1:]:
        held = _WORD.findall(page)
        boxes = [
            box(left + _SLACK, low - 0.6 * (low - top), right - _SLACK, low - 0.25 * (low - top))
            for left, top, right, low in (map(float, word[:4]) for word in held)
        ]
        pages.append(([word[4] for word in held], boxes))
    return pages


def strokes(page: PageObject) -> list[LineString]:
    """Return the lines of the tables of a page [pt from the upper left]."""
    height = float(page.mediabox.height)
    held = ContentStream(page["/Contents"], page.pdf, "bytes").operations
    found = []
    for i, (_, operator) in enumerate(held):
        if operator == b"S" and i > 7:
            place, width, _, start, to = (held[i - back] for back in (7, 4, 3, 2, 1))
            drawn = (place[1], width[1], start[1], to[1]) == (b"cm", b"w", b"m", b"l")
            if drawn and float(width[0][0]) == _TABLE_STROKE:
                x, y = float(place[0][4]), height - float(place[0][5])
                found.append(LineString([(x, y), (x + float(to[0][0]), y + float(to[0][1]))]))
    return found


def faults(path: Path) -> list[str]:
    """Return what is printed over something, crossed by a line of a table or off the page."""
    told = []
    pages = PdfReader(path).pages
    for number, (page, (words, boxes)) in enumerate(zip(pages, placed(path), strict=True), 1):
        lines = strokes(page)
        assert number == 1 or len(lines) > 20, "no lines of tables found: the check is blind"
        inner = box(_MARGIN, 0, float(page.mediabox.width) - _MARGIN, float(page.mediabox.height))
        for word, place in zip(words, boxes, strict=True):
            if not inner.contains(place):
                told.append(f"page {number}: {word} leaves the margin")
        tree = STRtree(boxes)
        for _, at in tree.query(np.array(lines, dtype=object), predicate="intersects").T:
            told.append(f"page {number}: {words[at]} leaves its cell")
        for one, other in tree.query(boxes, predicate="intersects").T:
            if one < other:
                told.append(f"page {number}: {words[one]} over {words[other]}")
    return told


@dataclass(frozen=True)
class Case:
    """What the table of zones has to hold."""

    zones: int = 18
    first: int = 1
    step_cm: float = 2.5
    minutes: float = 161.0
    area_ha: float = 5.49
    assumed: bool = False
    pins: bool = True
    depths: int = 6
    small: bool = False
    fuel: bool = True
    flat: bool = False
    inches: bool = False

    def plan(self, plan: Plan) -> Plan:
        """Return a plan of so many zones, ten beside each other, a headland round and a pass."""
        west, south, east, north = plan.boundary.bounds
        north = south + 50 if self.flat else north  # the table has room beneath the map
        at = np.arange(self.zones)
        bands = np.array_split(at, -(-self.zones // 10))
        shapes = []
        for band, (low, high) in zip(
            bands, itertools.pairwise(np.linspace(south, north, len(bands) + 1)), strict=True
        ):
            edges = np.linspace(west, east, len(band) + 1)
            shapes += [box(a, low, b, high) for a, b in itertools.pairwise(edges)]
        depth = 27.5 + self.step_cm * (at % self.depths)
        depth[at % 17 == 11] = 0.0
        worked = depth > 0
        rows = {
            "zone": at + self.first, "depth_cm": depth,
            "area_ha": np.where(self.small & (at % 3 == 1), 0.03, self.area_ha),
            "cleared": np.where(worked, "NOT CLEARED", "lifted out"),
            "pan_base_cm": np.where(worked, 33.4, np.nan),
            "pin_hole": np.where(worked & self.pins, at % self.depths + 8.0, np.nan),
            "time_min": self.minutes, "fuel_l": 222.2 if self.fuel else np.nan,
        }  # fmt: skip
        middles = [(shape.centroid.x, shape.centroid.y) for shape in shapes]
        lines = [
            LineString([(x - 1, y + up), (x + 1, y + up)]) for up in (0, 1) for x, y in middles
        ]
        runs = {
            "pass": np.repeat([1, 2], self.zones), "step": np.tile(at + 1, 2), "from_m": 0.0,
            "part": np.repeat(["headland", "body"], self.zones), "to_m": 10.0,
            "laid": np.repeat(["round", "straight"], self.zones), "depth_cm": np.tile(depth, 2),
        }  # fmt: skip
        control = "pins" if self.pins else "hydraulic"
        machine = dataclasses.replace(plan.settings.machine, depth_control=control)
        return dataclasses.replace(
            plan,
            settings=dataclasses.replace(plan.settings, machine=machine),
            boundary=MultiPolygon([box(west, south, east, north)]),
            zones=gpd.GeoDataFrame(rows, geometry=shapes, crs=plan.working_crs),
            passes=gpd.GeoDataFrame(runs, geometry=lines, crs=plan.working_crs),
            notices=(*plan.notices, *([_TAKEN] if self.assumed else [])),
            cone=plan.cone.assign(depth_cm=2.54) if self.inches else plan.cone,
        )


FARM = [
    Case(flat=True),
    Case(flat=True, assumed=True),
    Case(flat=True, assumed=True, inches=True),
]  # as a farm of 18 zones came to be printed over
WIDE = [
    Case(13, 95, assumed=True, depths=9, step_cm=2.3),
    Case(3, 998, minutes=12345.0, area_ha=123.45, assumed=True, depths=3),
    Case(60, 90, assumed=True, small=True, fuel=False),
    Case(30, 1, depths=2, pins=False),
    Case(7, 998, minutes=12345.0, area_ha=123.45, assumed=True, depths=3, inches=True),
    Case(4, depths=4, step_cm=2.3, inches=True),  # four depths in both units fit no box as printed
]
MOST = [
    Case(90, 100, minutes=999.0, area_ha=12.34, assumed=True, depths=11),
    Case(90, depths=2, pins=False),
]


def told(case: Case, plan: Plan, path: Path) -> tuple[list[str], int]:
    """Return what is wrong with the sheet of a case, and how many pages it has."""
    write_sheet(case.plan(plan), path)
    return faults(path), len(PdfReader(path).pages)


@pytest.mark.parametrize("case", FARM + WIDE, ids=str)
def test_every_word_keeps_to_its_cell_on_two_pages(plan: Plan, case: Case, tmp_path: Path) -> None:
    assert told(case, plan, tmp_path / "sheet.pdf") == ([], 2)


@pytest.mark.parametrize("case", MOST, ids=str)
def test_the_most_zones_go_on_to_a_third_page_at_most(
    plan: Plan, case: Case, tmp_path: Path
) -> None:
    wrong, pages = told(case, plan, tmp_path / "sheet.pdf")
    assert wrong == []
    assert pages <= 3


@settings(
    max_examples=3,
    phases=[Phase.explicit, Phase.generate],
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    case=st.builds(
        Case,
        zones=st.integers(1, 90),
        first=st.integers(1, 150),
        minutes=st.sampled_from([0.2, 45.0, 161.0, 1234.0]),
        area_ha=st.sampled_from([0.004, 5.49, 123.45]),
        assumed=st.booleans(),
        pins=st.booleans(),
        flat=st.booleans(),
        depths=st.integers(1, 9),
        small=st.booleans(),
        inches=st.booleans(),
    )
)
def test_any_zones_keep_to_their_cells(plan: Plan, case: Case, tmp_path: Path) -> None:
    wrong, pages = told(case, plan, tmp_path / "sheet.pdf")
    assert wrong == []
    assert pages <= 3
