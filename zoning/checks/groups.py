"""From pits to the verdict on a zone, on all ground of one depth, on a part, on the field."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from zoning.checks.asked import waiting
from zoning.checks.caps import not_held
from zoning.checks.intervals import Share, Side
from zoning.checks.places import by_place, unseen, unseen_parts
from zoning.checks.ran import base_passed, ridge_cm, sound
from zoning.checks.rules import rule
from zoning.checks.trials import evenness
from zoning.model.check import JUDGED, PlannedGround
from zoning.units import as_number

FIELD = "whole field"


@dataclass(frozen=True, slots=True)
class Tally:
    """Counts of the pits of one piece of ground."""

    leg: Share
    between: Share
    deep: Share

    @property
    def verdict(self) -> str:
        """What the pits show with the confidence asked for; ``cannot_tell`` where they do not.

        The ground between the legs is judged by itself: ``not_between`` where it was not passed,
        whatever the legs did; ``leg_only`` where most of it was passed at the legs.
        """
        return _named(self.leg.side, self.between.side, self.deep.side)

    @property
    def so_far(self) -> str:
        """What most of the pits show, however few they are; blank without any."""
        if not self.leg.of and not self.between.of:
            return ""
        return _named(self.leg.so_far, self.between.so_far, self.deep.so_far)

    @property
    def more(self) -> int:
        """How many further pits settle the verdict if all go as most have gone so far.

        0 where it is settled; -1 where ``more_pits_most`` would not be enough.
        """
        kind = self.so_far if self.so_far not in ("", "cannot_tell") else "reached"
        for number in range(int(rule("more_pits_most")) + 1):
            if self.plus(kind, number).verdict != "cannot_tell":
                return number
        return -1

    def plus(self, kind: str, number: int) -> Tally:
        """Return the counts after `number` further pits that all show `kind`."""
        leg = number if kind not in ("not_reached", "not_between") else 0
        between = number if kind in ("reached", "too_deep") else 0
        deep = number if kind == "too_deep" else 0
        return Tally(
            self.leg.plus(leg, number),
            self.between.plus(between, number),
            self.deep.plus(deep, number),
        )


def _named(leg: Side, between: Side, deep: Side) -> str:
    if leg == "least":
        return "not_reached"
    if between == "least":
        # Whether the legs reached the base too is another question, which may stay open.
        return "leg_only" if leg == "most" else "not_between"
    # Where the ground between legs is loosened far enough, so it is at the legs.
    if between == "most":
        return "too_deep" if deep == "most" else "reached"
    return "cannot_tell"


def tally(pits: pd.DataFrame, *, lean: float = 0.0) -> Tally:
    """Count the places of the judged pits; one whose pits disagree settles nothing.

    Parameters
    ----------
    pits
        Rows of `zoning.checks.judge_pits`.
    lean
        As of `zoning.checks.places.by_place`.
    """
    seen = by_place(pits, lean=lean)
    return Tally(*(_share(seen[name]) for name in ("leg", "between", "deep")))


def _share(places: pd.Series) -> Share:
    whole, some = int((places == 1.0).sum()), int((places > 0.0).sum())
    return Share(whole, int(places.count()), torn=some - whole)


def _pit_counts(judged: pd.DataFrame) -> dict[str, object]:
    """Return the counts of single pits, which stand beside the verdict on places."""
    leg, between = (judged[name].dropna() for name in ("chance_leg", "chance_between"))
    return {
        "pits": len(judged),
        "seen_at_leg": len(leg),
        "passed_at_leg": int(base_passed(leg).sum()),
        "seen_between": len(between),
        "passed_between": int(base_passed(between).sum()),
        "too_deep": int((judged["verdict"] == "too_deep").sum()),
    }


def _facts(pits: pd.DataFrame, probes: pd.DataFrame) -> dict[str, object]:
    """Return counts, shares and means of the pits and probes of one piece of ground."""
    judged = pits[pits["verdict"].isin(JUDGED)]
    found = tally(pits)
    low, high = found.between.interval
    worked = sound(judged)
    ridge = ridge_cm(worked)
    known = probes[probes["n_known"] > 0]
    return {
        "verdict": found.verdict,
        "so_far": found.so_far,
        **_pit_counts(judged),
        "places": len(by_place(judged)),
        "share_reached": found.between.share,
        "share_low": low if found.between.of else np.nan,
        "share_high": high if found.between.of else np.nan,
        "chance_reached": float(judged["chance_between"].mean()),
        "firm": _firm(pits, found),
        "more_pits": found.more,
        "ridge_cm": ridge,
        "evenness": evenness(ridge),
        **{
            name: float(worked[name].mean())
            for name in ("loosened_at_leg_cm", "loosened_between_cm", "speed_km_h")
        },
        "probes": len(known),
        "probes_with_pan": int((known["verdict"] != "no_pan").sum()),
    }


def _firm(pits: pd.DataFrame, found: Tally) -> str:
    """Say whether the verdict stands whichever way the pits in doubt fall; blank without one."""
    if found.verdict == "cannot_tell":
        return ""
    sure = rule("firm_probability")
    strict, lenient = tally(pits, lean=sure), tally(pits, lean=-sure)
    done = ("reached", "too_deep")
    same = {_plain(t.verdict, done) for t in (found, strict, lenient)}
    return "yes" if len(same) == 1 else "no"


def _plain(verdict: str, done: tuple[str, ...]) -> str:
    return "reached" if verdict in done else verdict


def judge_zones(
    planned: PlannedGround, pits: pd.DataFrame, probes: pd.DataFrame, parts: gpd.GeoDataFrame
) -> gpd.GeoDataFrame:
    """Judge every zone of a plan.

    Parameters
    ----------
    planned
        The plan that was worked to, with the bounds of `zoning.checks.bounded` and ``cleared``.
    pits
        Rows of `zoning.checks.judge_pits`.
    probes
        Cone stations of after the work: ``zone, n_known, verdict``.
    parts
        ``part``, geometry: a part with much of a zone and no pit there holds back its verdict.

    Returns
    -------
    GeoDataFrame
        One row a zone: ``shared/schemas/check_zones.schema.json`` without ``advice`` and
        ``plan_id``. ``depth_verdict`` is the verdict on all ground worked at the depth of the zone,
        which has more pits than one zone has.
    """
    open_ground = not_held(planned).zones
    told = {
        _depth_name(as_number(depth)): _verdict(own, pits, parts)
        for depth, own in open_ground[open_ground["depth_cm"] > 0].groupby("depth_cm")
    }
    each = (planned.zones.iloc[[at]] for at in range(len(planned.zones)))
    rows = [_zone(zone, planned, pits, probes, parts) for zone in each]
    frame = gpd.GeoDataFrame(pd.DataFrame(rows), geometry="geometry", crs=planned.working_crs)
    own = frame["verdict"].isin(("lifted_out", "held"))
    of_depth = frame["depth_cm"].map(_depth_name).map(told)
    frame["depth_verdict"] = frame["verdict"].where(own, of_depth)
    frame["more_pits"] *= int(waiting(pits).empty)
    return frame.sort_values("zone", kind="stable").reset_index(drop=True)


def _verdict(zones: pd.DataFrame, pits: pd.DataFrame, parts: gpd.GeoDataFrame) -> str:
    """Return the verdict on all ground of some zones; none while much of a part has no pit."""
    if unseen_parts(zones, pits, parts):
        return "cannot_tell"
    return tally(pits[pits["zone"].isin(zones["zone"])]).verdict


def _zone(
    ground: gpd.GeoDataFrame,
    planned: PlannedGround,
    pits: pd.DataFrame,
    probes: pd.DataFrame,
    parts: gpd.GeoDataFrame,
) -> dict[str, object]:
    zone = ground.iloc[0]
    own = _facts(pits[pits["zone"] == zone["zone"]], probes[probes["zone"] == zone["zone"]])
    kept = (
        "zone", "depth_cm", "cap_cm", "cleared", "area_ha", "parts", "pan_base_cm", "assurance",
        "geometry",
    )  # fmt: skip
    row: dict[str, object] = {name: zone[name] for name in kept} | own
    row["pan_base_sd_cm"] = _sd_cm(zone["geometry"], planned)
    if zone["depth_cm"] <= 0 or zone["held"]:
        verdict = "held" if zone["held"] else "lifted_out"
        return row | {"verdict": verdict, "so_far": "", "more_pits": 0, "firm": ""}
    dug = pits[pits["zone"] == zone["zone"]]
    back = _held_back(row, unseen_parts(ground, pits, parts), dug) if row["pits"] else {}
    return row | {name: fact for name, fact in back.items() if name in row}


def _sd_cm(shape: BaseGeometry, planned: PlannedGround) -> float:
    """Return the root mean square of the plan's standard error of the base over a zone [cm]."""
    band = planned.bands["pan_base_sd_cm"].ravel()
    known = np.isfinite(band)
    sd, centres = band[known], planned.grid.centres_m()[known]
    held = np.flatnonzero(shapely.contains_xy(shape, centres[:, 0], centres[:, 1]))
    if not len(held):
        middle = shapely.get_coordinates(shapely.point_on_surface(shape))[0]
        held = np.hypot(*(centres - middle).T).argmin(keepdims=True)
    return float(np.sqrt(np.mean(sd[held] ** 2)))


def judge_groups(
    planned: PlannedGround, pits: pd.DataFrame, probes: pd.DataFrame, parts: gpd.GeoDataFrame
) -> pd.DataFrame:
    """Judge the whole field, all ground of each depth, and each part with pits or much ground.

    Ground where a hazard holds the depth above the pan is left out: there the pan was to stay. No
    verdict is given on the whole field while a part or depth with much of it has no pit (`unseen`).
    A depth that is worked on less than ``dig_least_ha`` asks for no pit, and has a row only where
    something was dug or probed there. No pit is asked for where every depth has its verdict, since
    what to do hangs on the depth, nor while all pits wait for a date.

    Parameters
    ----------
    planned, pits, probes
        As of `judge_zones`.
    parts
        ``part``, geometry: parts of the field.

    Returns
    -------
    DataFrame
        ``group`` (field, depth or part), ``name``, ``depth_cm`` (NaN but for a depth), ``area_ha``
        (NaN for a part), counts, shares and means as of a zone, and ``unseen``: what much ground
        the whole field has without a pit, in words; blank in all other rows.
    """
    zones = not_held(planned).zones
    zones = zones[zones["depth_cm"] > 0]
    field_ha = float(zones["area_ha"].sum())
    rows = [_group("field", FIELD, np.nan, field_ha, pits, probes, zones["zone"])]
    for value, held in zones.groupby("depth_cm", sort=True):
        area, names, depth_cm = float(held["area_ha"].sum()), held["zone"], as_number(value)
        row = _group("depth", _depth_name(depth_cm), depth_cm, area, pits, probes, names)
        if row["pits"]:
            dug = pits[pits["zone"].isin(names)]
            row |= _held_back(row, unseen_parts(held, pits, parts), dug)
        scrap = {"more_pits": 0} if area < rule("dig_least_ha") else {}
        if not scrap or pits["zone"].isin(names).any() or probes["zone"].isin(names).any():
            rows.append(row | scrap)
    missing = unseen(zones, pits, parts)
    rows[0] |= _held_back(rows[0], missing, pits[pits["zone"].isin(zones["zone"])])
    if not missing and _settled(rows[1:]):
        rows[0]["more_pits"] = 0
    if missing and not any(row["more_pits"] for row in rows[1:]):
        # Every depth is settled: the largest asks for the pits that the part without any is due.
        largest = max(rows[1:], key=lambda row: as_number(row["area_ha"]))
        largest["more_pits"] = rows[0]["more_pits"]
    worked = pits[pits["zone"].isin(zones["zone"]) & pits["verdict"].isin(JUDGED)]
    bare = {name for kind, name, _ in missing if kind == "part"}
    for part in sorted({*worked["part"], *bare} - {""}):
        own = (pits[pits["part"] == part], probes[probes["part"] == part])
        rows.append(_group("part", part, np.nan, np.nan, *own, zones["zone"]))
    frame = pd.DataFrame(rows)
    frame["more_pits"] *= int(waiting(pits).empty)
    return frame


def _settled(depths: Sequence[Mapping[str, object]]) -> bool:
    """Return whether there is ground of more than a scrap and every depth of it has a verdict."""
    own = [row for row in depths if as_number(row["area_ha"]) >= rule("dig_least_ha")]
    return bool(own) and all(row["verdict"] != "cannot_tell" for row in own)


def _held_back(
    field: Mapping[str, object], missing: list[tuple[str, str, float]], dug: pd.DataFrame
) -> dict[str, object]:
    """Return what the whole field cannot be told for ground without a pit; nothing without any.

    Of the pits `dug` there some may not count.
    """
    if not missing:
        return {}
    least = max(sum(kind == one[0] for one in missing) for kind in ("part", "depth"))
    more = int(as_number(field["more_pits"]))
    pit = "no pit" if dug["verdict"].isin(JUDGED).all() else "no pit that counts"
    if field["pits"] != field["seen_between"]:
        pit = "no pit that counts between the legs"
    told = [
        f"{'at' if kind == 'depth' else 'in the'} {name} ({ha:.1f} ha)"
        for kind, name, ha in missing
    ]
    return {
        "verdict": "cannot_tell",
        "firm": "",
        "more_pits": max(more, least) if more >= 0 else more,
        "unseen": f"{pit} {', none '.join(told)}",
    }


def _group(
    group: str,
    name: str,
    depth_cm: float,
    area_ha: float,
    pits: pd.DataFrame,
    probes: pd.DataFrame,
    zones: pd.Series,
) -> dict[str, object]:
    own = _facts(pits[pits["zone"].isin(zones)], probes[probes["zone"].isin(zones)])
    what = {"group": group, "name": name, "depth_cm": depth_cm, "area_ha": area_ha}
    return what | own | {"unseen": ""}


def _depth_name(depth_cm: float) -> str:
    return f"{depth_cm:g} cm"
