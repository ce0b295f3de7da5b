"""A plan that stands in its folder: whether it is up to date, and what it says."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from zoning import workflow
from zoning.batch.job import Job, PlanFacts
from zoning.errors import OutputFailed
from zoning.outputs.bars import RATING_COLUMNS, STANDING, rating_bar
from zoning.workflow.left_over import RUNS
from zoning.workflow.standing import may_tell

PLAN_FILE = "plan.json"
LAYERS_FILE = "plan.gpkg"
_BY_RECORD = (STANDING, RUNS)


def up_to_date(folder: Path, job: Job, elsewhere: frozenset[str] = frozenset()) -> bool:
    """Return whether ``folder/plan`` was made from the files in `folder` as `job` asks for it.

    It was not where the season record has another Stop, or other trial runs of an earlier season,
    to tell than the plan does.

    Parameters
    ----------
    folder
        The field folder.
    job
        Version and shared prior that count.
    elsewhere
        Names of files of the plan that are not here but are known to be in their place.
    """
    document = _document(folder / "plan")
    try:
        return (
            document["program"]["version"] == job.version
            and _shared_of(document) == ({} if job.shared is None else job.shared.facts())
            and all(_sha256(folder / f["name"]) == f["sha256"] for f in document["inputs"])
            and all(_stands(folder / "plan", f, elsewhere) for f in document["outputs"])
            and _record_told(folder, document)
        )
    except (KeyError, TypeError):
        return False


def facts_of(plan_folder: Path) -> PlanFacts:
    """Return what the plan in `plan_folder` says.

    Raises
    ------
    OutputFailed
        If the folder holds no readable plan.
    """
    document = _document(plan_folder)
    if not document:
        raise OutputFailed(f"{plan_folder} holds no readable {PLAN_FILE}.")
    field, compared, totals = document["field"], document["comparison"], document["totals"]
    settings = document["settings"]
    return PlanFacts(
        name=field["name"],
        season=field["season"],
        plan_id=document["plan_id"],
        area_ha=field["area_ha"],
        worked_ha=totals.get("worked_ha"),
        stations=int(document["surface"]["stations"]),
        depths="; ".join(f"{d:g}" for d in sorted({z["depth_cm"] for z in document["zones"]})),
        mean_depth_cm=totals["mean_depth_cm"],
        loss_cm=compared["driven_cm"],
        single_depth_loss_cm=compared["single_depth_loss_cm"],
        work_h=_hours(totals.get("time_min")),
        fuel_l=totals.get("fuel_l"),
        lifted_h=_hours(totals.get("lifted_time_min")),
        lifted_fuel_l=totals.get("lifted_fuel_l"),
        cost=totals.get("cost"),
        currency=settings["costs"]["currency"] or "",
        priced="; ".join(what for key, what in _PRICED.items() if _is_price(settings, key)),
        machine=settings["machine"]["name"],
        cautions="; ".join(sorted({c["code"] for c in document["cautions"]})),
        rating=rating_bar(pd.DataFrame(document["rating"], columns=[*RATING_COLUMNS])),
        outline_wkb=_outline(plan_folder / LAYERS_FILE),
    )


_PRICED = {"fuel_per_l": "fuel", "machine_per_h": "machine", "labour_per_h": "labour"}


def _is_price(settings: Mapping[str, Any], key: str) -> bool:
    return settings["costs"].get(key) is not None


def _hours(time_min: float | None) -> float | None:
    return None if time_min is None else time_min / 60.0


def _document(plan_folder: Path) -> Mapping[str, Any]:
    try:
        found = json.loads((plan_folder / PLAN_FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _shared_of(document: Mapping[str, Any]) -> dict[str, float]:
    return {k: v for k, v in document["surface"].items() if k.startswith("shared_prior_")}


def _record_told(folder: Path, document: Mapping[str, Any]) -> bool:
    """Return whether the plan tells what the record has to; the field is read only if it may."""
    told = [c["text"] for c in document["cautions"] if c["code"] in _BY_RECORD]
    if not told and not may_tell(folder, document["field"]["season"]):
        return True
    now = workflow.read_field(folder).notices
    return sorted(told) == sorted(notice.text for notice in now if notice.code in _BY_RECORD)


def _stands(plan_folder: Path, file: Mapping[str, str], elsewhere: frozenset[str]) -> bool:
    if file["name"] in elsewhere and not (plan_folder / file["name"]).exists():
        return True
    return _sha256(plan_folder / file["name"]) == file["sha256"]


def _sha256(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def _outline(path: Path) -> bytes:
    layer = gpd.read_file(path, layer="boundary").to_crs("OGC:CRS84")
    outline = shapely.union_all(layer.geometry.to_numpy())
    ordered = shapely.orient_polygons(outline, exterior_cw=False)
    return bytes(shapely.to_wkb(ordered, byte_order=1))
