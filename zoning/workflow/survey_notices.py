"""What an adviser must be told before going out to probe."""

from __future__ import annotations

from collections.abc import Iterable

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.model import FieldInputs, Notice
from zoning.workflow.cautions import on_services

MOISTURE = (
    "Probe near field capacity: a day or two after the profile was well soaked and has drained. "
    "Dry soil reads harder and wet soil softer at the same density, so that a dry day shows pans "
    "that are none and a wet day hides them. Probe all of a field on one day, or write the date "
    "of each station: the plan allows for the day but cannot correct for moisture."
)
ANOTHER_DAY = (
    "On another day than the readings there are, push also beside 2 or 3 of the earlier stations: "
    "that is what tells the moisture of the day from the ground."
)
BURIED = (
    "Ask about buried services before you push a cone or dig: probe and spade reach as deep as "
    "cables. Stations keep off the hazards that the field folder names, and nothing else is known."
)
PLACES = (
    "Where you stand elsewhere than proposed, correct lon, lat and part of the station on the "
    "form: what you stood on counts, and a step beside a wheeling is another part."
)
NO_BODY = (
    "{part} ({area:.2f} ha) has {n} of the stations, fewer than the {floor} that tell its depth "
    "and spread. Ask for more stations if the part matters."
)
KEPT_OFF = (
    "{part} ({area:.2f} ha) gets no station: all of it lies in the keep-off of hazards. Probe "
    "there only where the line was found on the ground."
)
AT_THE_EDGE = (
    "{part} ({area:.2f} ha) gets no station: what the hazards leave of it is too narrow or lies "
    "within {edge:g} m of the boundary, where a step aside is other ground. If the part matters, "
    "probe by eye and note the place."
)
TOO_FEW = (
    "{part} ({area:.2f} ha) gets no station: {count} stations do not reach for all {parts} parts, "
    "and the larger ones come first. Ask for {parts} or more."
)
NOT_WORTH = (
    "No further station lies in {parts}: by what the readings so far say, one there is less likely "
    "to change the plan than those proposed. Ask for more stations if a part without them matters."
)
ONE_PART = (
    "The field folder names no headland, wheelings, gateways or other areas, so the stations are "
    "spread over the field as one. The pan often lies deeper where machines turn and drive: name "
    "them under [areas] and lay out again, or write under part what you stood on."
)
FORM = (
    "To read the filled-in form back, copy stations.csv and pit_form.csv into the field folder and "
    'name them under [readings] in field.toml: cone, pits and cone_unit = "{unit}".'
)
FORM_AGAIN = (
    "To read the filled-in form back, copy stations.csv and pit_form.csv into the field folder "
    "under names that are not taken there, so that the earlier readings stay, and name the earlier "
    "and the new files under [readings] in field.toml, as cone = "
    '["first.csv", "second.csv"], pits in the same way, and cone_unit = "{unit}".'
)


PIT_NEAR = (
    "Pit {pits}: within {clear:g} m of the keep-off of a hazard, and its part has no other station "
    "to dig at. Have the line found before a spade goes in, or dig farther off."
)


def near_keep_off(xy_m: NDArray[np.float64], keep_off: gpd.GeoDataFrame) -> NDArray[np.bool_]:
    """Return whether each place lies within ``pit_clear_m`` of the keep-off of a hazard."""
    clear_m = constant("survey_rules", "pit_clear_m")
    ground = shapely.union_all(keep_off.geometry.to_numpy())
    return np.asarray(shapely.dwithin(shapely.points(xy_m), ground, clear_m), dtype=bool)


def pits_near_keep_off(
    proposed: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame
) -> tuple[Notice, ...]:
    """Return the caution on pits near a hazard; nothing where there is none."""
    dug = proposed[proposed["pit"] != ""]
    near = dug["pit"][near_keep_off(shapely.get_coordinates(dug.geometry.to_numpy()), keep_off)]
    if near.empty:
        return ()
    clear_m = constant("survey_rules", "pit_clear_m")
    return (Notice("caution", "pit-near", PIT_NEAR.format(pits=", ".join(near), clear=clear_m)),)


def survey_notices(
    before: Iterable[Notice],
    parts: gpd.GeoDataFrame,
    proposed: gpd.GeoDataFrame,
    inputs: FieldInputs,
    ground: gpd.GeoDataFrame,
    keep_off: gpd.GeoDataFrame,
) -> tuple[Notice, ...]:
    """Return cautions first, then what to know about probing, then what the reader told.

    Parameters
    ----------
    before
        What reading and dividing the field gave.
    parts
        The partition.
    proposed
        The stations.
    inputs
        The field.
    ground
        Where stations may stand, by part.
    keep_off
        Ground about hazards where nobody probes.
    """
    first = bool(proposed["gain_cm_ha"].isna().all())
    unit = inputs.settings.readings.cone_unit or "MPa"
    own = [
        on_services(inputs.settings),
        Notice("caution", "probe-buried", BURIED),
        Notice("note", "probe-moisture", MOISTURE),
        *([Notice("note", "probe-another-day", ANOTHER_DAY)] if len(inputs.cone) else []),
        Notice("note", "probe-places", PLACES),
        Notice("note", "form-back", _form_back(inputs).format(unit=unit)),
        *([Notice("note", "one-part", ONE_PART)] if len(parts) == 1 else []),
        *_thin_parts(parts, proposed, first=first),
        *_without_ground(parts, ground, keep_off),
        *_passed_over(parts, proposed, ground, first=first),
    ]
    told = sorted(set(before) - set(own))
    every = [*own, *told]
    return (
        *(each for each in every if each.level == "caution"),
        *(each for each in every if each.level == "note"),
    )


def _form_back(inputs: FieldInputs) -> str:
    """Return how a form is read back; a second one must not be copied over the first."""
    return FORM_AGAIN if len(inputs.cone) or len(inputs.pits) else FORM


def _thin_parts(
    parts: gpd.GeoDataFrame, proposed: gpd.GeoDataFrame, *, first: bool
) -> list[Notice]:
    """Tell which parts a first survey leaves with too few stations."""
    floor = int(constant("survey_rules", "part_floor"))
    found = []
    for part, area in zip(parts["part"], parts["area_ha"], strict=True) if first else ():
        n = int((proposed["part"] == part).sum())
        if 0 < n < floor:
            found.append(_told("part-thin", NO_BODY, part=part, area=area, n=n, floor=floor))
    return found


def _without_ground(
    parts: gpd.GeoDataFrame, ground: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame
) -> list[Notice]:
    """Tell which parts have no ground for a station, and whether that is for hazards."""
    bare = parts[~parts["part"].isin(ground["part"])]
    hazards = shapely.union_all(keep_off.geometry.to_numpy())
    edge_m = constant("survey_rules", "edge_m")
    found = []
    for part, area, shape in zip(bare["part"], bare["area_ha"], bare.geometry, strict=True):
        left = shapely.area(shapely.difference(shape, hazards)) > 0
        text = AT_THE_EDGE if left else KEPT_OFF
        found.append(_told("part-without-ground", text, part=part, area=area, edge=edge_m))
    return found


def _passed_over(
    parts: gpd.GeoDataFrame, proposed: gpd.GeoDataFrame, ground: gpd.GeoDataFrame, *, first: bool
) -> list[Notice]:
    """Tell which parts with ground for a station get none, and why."""
    open_parts = parts[parts["part"].isin(ground["part"])]
    bare = open_parts[~open_parts["part"].isin(proposed["part"])]
    if bare.empty:
        return []
    if not first:
        return [_told("part-passed-over", NOT_WORTH, parts=", ".join(bare["part"]))]
    facts = {"count": len(proposed), "parts": len(open_parts)}
    return [
        _told("part-passed-over", TOO_FEW, part=part, area=area, **facts)
        for part, area in zip(bare["part"], bare["area_ha"], strict=True)
    ]


def _told(code: str, text: str, **facts: object) -> Notice:
    said = text.format(**facts)
    return Notice("note", code, said[0].upper() + said[1:])
