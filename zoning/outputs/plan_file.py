"""``plan.json``: what a plan was made from, what it says, and what it is worth."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd
import pyproj

from zoning.contracts import DISTRIBUTION, constant, program_version
from zoning.errors import OutputFailed
from zoning.model import Losses, Notice, Plan
from zoning.outputs.fingerprint import combined, digests
from zoning.outputs.geojson import check_depths, zone_properties
from zoning.outputs.left_out import COLUMNS as LEFT_OUT
from zoning.outputs.plain import plain, read_json, siblings, write_text


@lru_cache(maxsize=1)
def plan_digests(plan: Plan) -> Mapping[str, str]:
    """Return the hashes that the fingerprint of `plan` is made of; the last are kept."""
    found = digests(
        boundary=plan.boundary,
        working_crs=plan.working_crs,
        cone=plan.cone,
        pits=plan.pits,
        settings=plan.settings,
        hazards=plan.hazards,
        zones=plan.zones,
    )
    return MappingProxyType(found)


def write_plan_file(plan: Plan, path: Path) -> None:
    """Write ``plan.json``, last of all, with the SHA-256 of every file that stands beside it."""
    document = sealed(plain(plan_document(plan) | {"outputs": siblings(path)}))
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    write_text(path, text + "\n")


def check_plan_file(plan: Plan, path: Path) -> None:
    """Read ``plan.json`` back and compare it with the plan and the files beside it.

    Raises
    ------
    OutputFailed
        If anything differs.
    """
    found = read_json(path)
    if found != sealed(plain(plan_document(plan) | {"outputs": siblings(path)})):
        raise OutputFailed(f"{path.name} did not read back as written.")
    if found["plan_id"] != combined(found["digests"]):
        raise OutputFailed(f"{path.name}: plan_id does not belong to this plan.")
    check_depths(plan, [zone["depth_cm"] for zone in found["zones"]], path.name)


def sealed(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return `document` with ``document_sha256``: the SHA-256 of all its other members.

    They are written as JSON without blanks, members sorted by name, and hashed as UTF-8.
    """
    members = {name: value for name, value in document.items() if name != "document_sha256"}
    text = json.dumps(
        members, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":")
    )
    return members | {"document_sha256": hashlib.sha256(text.encode("utf-8")).hexdigest()}


def plan_document(plan: Plan) -> dict[str, Any]:
    """Return the members of ``plan.json``, the list of files left out."""
    return {
        "plan_id": plan.plan_id,
        "digests": dict(plan_digests(plan)),
        "program": {"name": DISTRIBUTION, "version": program_version()},
        "field": {
            "name": plan.settings.field.name,
            "season": plan.settings.field.season,
            "area_ha": float(plan.zones["area_ha"].sum()),
        },
        "settings": asdict(plan.settings),
        "inputs": [asdict(file) for file in sorted(plan.files, key=lambda f: (f.role, f.name))],
        "working_crs": {
            "crs": plan.working_crs,
            "name": pyproj.CRS(plan.working_crs).name,
            "accuracy_m": plan.crs_accuracy_m,
            "outputs": "WGS 84 longitude and latitude (OGC:CRS84)",
        },
        "totals": plan.totals,
        "rating": plan.rating.to_dict("records"),
        "comparison": asdict(plan.losses) | {"words": comparison_words(plan.losses)},
        "surface": plan.surface_report,
        "verdicts": _verdicts(plan.insertions),
        "cautions": _notices(plan.notices, "caution"),
        "notes": _notices(plan.notices, "note"),
        "zones": zone_properties(plan),
        "left_out": _left_out(plan.left_out),
    }


def comparison_words(losses: Losses) -> list[str]:
    """Return the losses of a plan and of its alternatives as sentences."""
    driven = losses.driven_cm
    share_pct = 100 * constant("depth_rules", "insurance_share")
    others = (
        ("If the depth could change at every place", losses.unconstrained_cm),
        (f"The best single depth, {losses.single_depth_cm:.1f} cm", losses.single_depth_loss_cm),
        (
            f"One depth at the {share_pct:g} % point, {losses.point95_depth_cm:.1f} cm",
            losses.point95_loss_cm,
        ),
    )
    first = f"Expected loss of this plan: {driven:.2f} cm, mean over the field."
    return [first, *(f"{what}: {_against(driven, loss)}." for what, loss in others)]


def _against(driven_cm: float, other_cm: float) -> str:
    if not np.isfinite(other_cm):
        return "not known"
    if not np.isfinite(driven_cm) or other_cm <= 0:
        return f"{other_cm:.2f} cm"
    share = 100 * (driven_cm / other_cm - 1)
    return (
        f"{other_cm:.2f} cm; this plan loses {abs(share):.0f} % {'more' if share > 0 else 'less'}"
    )


def _verdicts(insertions: pd.DataFrame) -> dict[str, int]:
    counts = insertions["verdict"].astype(str).value_counts()
    return {str(verdict): int(counts[verdict]) for verdict in sorted(counts.index)}


def _notices(notices: Sequence[Notice], level: str) -> list[dict[str, str]]:
    return [
        {"code": notice.code, "text": notice.text} for notice in notices if notice.level == level
    ]


def _left_out(frame: pd.DataFrame) -> list[dict[str, Any]]:
    rows = frame[LEFT_OUT].sort_values(LEFT_OUT, kind="stable").to_dict("records")
    return [
        {str(k): v for k, v in row.items()}
        | {"row": None if pd.isna(row["row"]) else int(row["row"])}
        for row in rows
    ]
