"""The depths that the operator's sheet prints: in its table, on its map and in the work order."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any

import pandas as pd

from zoning.contracts import NOT_CLEARED
from zoning.errors import Fault
from zoning.outputs.drawing.plan import depth_text
from zoning.outputs.drawing.zone_labels import GUESSED_MARK, guessed_zones, small_numbers
from zoning.outputs.fingerprint import short_id
from zoning.outputs.sheet.steps import Stages, work_stages
from zoning.outputs.sheet.tables import setting_row, zone_row
from zoning.outputs.verify.files import STORE, ReadBack, fault
from zoning.outputs.verify.pdf_text import Pdf, read_pdf, unspaced
from zoning.units import inches

SHEET = "operator_sheet.pdf"
_ONE_LINE = re.compile(r"(\d+): ((?:[\d.]+ cm|lifted)\??)")
_LABELS = re.compile(rf"(?:{_ONE_LINE.pattern}\s*)+")  # nothing else: a sentence may hold the like
_DEPTH = re.compile(r"(?:[\d.]+ cm|lifted)\??")
_COLUMNS = (
    ("cm", "depth_cm"), ("in", "depth_in"), ("Pin", "pin"), ("Pan to", "pan_cm"),
    ("Pan to cm", "pan_cm"), ("Pan in", "pan_in"), ("ha", "area_ha"),
    ("Hectares", "area_ha"), ("Litres", "fuel_l"), ("min", "time_min"),
    ("Minutes", "time_min"), ("NC", "marked"), ("Buried services", "cleared"), ("Zones", "zones"),
)  # fmt: skip
_UNSPACED = {unspaced(head): head for head, _ in _COLUMNS}
_KEY = re.compile(r"([\d.]+ cm) \| ([\d.]+) in(?: \| pin (\d+)(?: \(assumed\))?)?(?: \| (NC))?")
_MARKS = {"NC", "Buried services"}


def sheet_faults(read: ReadBack) -> Iterator[Fault]:
    """Compare every depth that ``operator_sheet.pdf`` prints with the zones of ``plan.gpkg``."""
    pdf = read_pdf((read.folder / SHEET).read_bytes())
    machine = read.document["settings"]["machine"]
    pins = machine["depth_control"] == "pins"
    zones = pd.DataFrame(read.zones.drop(columns="geometry"))
    if pins:
        zones["pin_hole"] = _holes(zones["depth_cm"], machine)
    if read.plan_id not in pdf.letters:
        yield fault(SHEET, f"The sheet does not print the number of plan {short_id(read.plan_id)}.")
    yield from _table_faults(pdf, zones)
    yield from _map_faults(pdf, zones)
    yield from _order_faults(pdf, zones, work_stages(read.zones, read.layers["passes"]))


def _key(zones: pd.DataFrame) -> list[tuple[str, str, str, str]]:
    """Return each depth in cm, in inches, by its pin and with its mark, as the key shows them."""
    pins = zones["pin_hole"] if "pin_hole" in zones else pd.Series(math.nan, zones.index)
    holes = {float(at): float(hole) for at, hole in zip(zones["depth_cm"], pins, strict=True)}
    marked = set(zones.loc[zones["cleared"] == NOT_CLEARED, "depth_cm"].astype(float))
    return [
        (
            depth_text(at),
            f"{inches(at):.1f}",
            "" if math.isnan(hole) else f"{hole:.0f}",
            "NC" if at in marked else "",
        )
        for at, hole in sorted(holes.items())
        if at > 0
    ]


def _holes(depth_cm: pd.Series, machine: Mapping[str, Any]) -> pd.Series:
    """Return the pin hole of each depth, 1 for the shallowest; NaN where the legs are lifted."""
    steps = (depth_cm - float(machine["depth_min_cm"])) / float(machine["depth_step_cm"])
    return steps.round().add(1).where(depth_cm > 0)


def _tables(pdf: Pdf, known_by: str) -> list[dict[str, str]]:
    """Return the rows, by heading, of the tables of depths that have a column `known_by`."""
    return [
        dict(zip([_heading(name) for name in head], row, strict=True))
        for head, *rows in pdf.tables
        if {known_by, "cm", "in"} <= set(head)
        for row in rows
    ]


def _heading(name: str) -> str:
    """Return a heading as `_COLUMNS` has it: spaces are lost where lines end, as in Pan to."""
    return "Pin" if name.startswith("Pin") else _UNSPACED.get(unspaced(name), name)


def _table_faults(pdf: Pdf, zones: pd.DataFrame) -> Iterator[Fault]:
    """Compare the table of zones column by column, as its headings name them."""
    found = _tables(pdf, "Zone")
    found.sort(key=lambda row: (len(row["Zone"]), row["Zone"]))  # tables come in any order
    listed = zones[~zones["zone"].isin(small_numbers(zones))]
    wanted = [zone_row(zone, {}) for zone in listed.to_dict("records")]
    if [row["Zone"] for row in found] != [row["zone"] for row in wanted]:
        what = f"The table prints {len(found)} zones where {len(wanted)} belong, or other numbers."
        yield fault(SHEET, what)
        return
    for row, right in zip(found, wanted, strict=True):
        for told in _differing(row, right):
            yield fault(SHEET, f"Zone {right['zone']} prints {told}")


def _order_faults(pdf: Pdf, zones: pd.DataFrame, stages: Stages) -> Iterator[Fault]:
    """Compare the settings in the order of work, stage by stage, with the zones they are for."""
    found = _tables(pdf, "Zones")
    wanted = [setting_row(each, zones) for each in (*stages.straight, *stages.headland)]
    if len(found) != len(wanted):
        what = f"The order of work has {len(found)} settings where {len(wanted)} belong."
        yield fault(SHEET, what)
        return
    for row, right in zip(found, wanted, strict=True):
        for told in _differing(row, right):
            yield fault(SHEET, f"The order of work for {right['depth_cm']} cm prints {told}")


def _differing(row: Mapping[str, str], right: Mapping[str, Any]) -> Iterator[str]:
    """Yield what a row prints under a heading where something else belongs."""
    wanting = {**right, "marked": "NC" if right["not_cleared"] else ""}
    for head, name in _COLUMNS:
        if head in row and unspaced(row[head]) != unspaced(wanting[name]):
            yield f"{head} {row[head][:40] or 'blank'} where {wanting[name] or 'blank'} belongs."
    if right["not_cleared"] and not _MARKS & set(row):
        yield "no mark NC, which belongs there."


def _map_faults(pdf: Pdf, zones: pd.DataFrame) -> Iterator[Fault]:
    """Compare the labels on the map, in one line or two, and the key beneath it."""
    columns = zones["zone"], zones["depth_cm"], guessed_zones(zones)
    planned = {
        str(zone): depth_text(float(depth)) + (GUESSED_MARK if guessed else "")
        for zone, depth, guessed in zip(*columns, strict=True)
    }
    words = [text.words.strip() for text in pdf.texts]
    named = [each for each in words if _LABELS.fullmatch(each)]
    labels = [found.groups() for each in named for found in _ONE_LINE.finditer(each)]
    labels += [
        (head, foot) for head, foot in pairwise(words) if head.isdigit() and _DEPTH.fullmatch(foot)
    ]
    for zone, depth in dict.fromkeys(labels):
        if planned.get(zone) != depth:
            told = planned.get(zone, "no such zone")
            yield fault(SHEET, f"The map labels zone {zone} {depth}; {STORE} has {told}.")
    key = [found for each in words for found in _KEY.findall(each)]
    if key != _key(zones):
        yield fault(SHEET, f"The key of the map does not show the depths of {STORE}.")
