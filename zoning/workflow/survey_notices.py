"""What an adviser must be told before going out to probe."""

from __future__ import annotations

from collections.abc import Iterable

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from zoning.contracts import constant, rows
from zoning.model import FieldInputs, Notice

MOISTURE = (
    "Probe near field capacity: a day or two after the profile was well soaked and has drained. "
    "Dry soil reads harder and wet soil softer at the same density, so that a dry day shows pans "
    "that are none and a wet day hides them. Probe all of a field on one day, or write the date "
    "of each station: the plan allows for the day but cannot correct for moisture."
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
NO_GROUND = (
    "{part} ({area:.2f} ha) has no ground off the boundary and the hazards: it gets no station."
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
    """
    texts = {row["code"]: row["text"] for row in rows("cautions")}
    services = f"services-{inputs.settings.hazards.services}".replace("_", "-")
    unit = inputs.settings.readings.cone_unit or "MPa"
    own = [
        Notice("caution", services, texts[services]),
        Notice("caution", "probe-buried", BURIED),
        Notice("note", "probe-moisture", MOISTURE),
        Notice("note", "probe-places", PLACES),
        Notice("note", "form-back", _form_back(inputs).format(unit=unit)),
        *([Notice("note", "one-part", ONE_PART)] if len(parts) == 1 else []),
        *_thin_parts(parts, proposed, first=bool(proposed["gain_cm_ha"].isna().all())),
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
        if n < floor:
            text = NO_BODY if n else NO_GROUND
            said = text.format(part=part, area=area, n=n, floor=floor)
            found.append(Notice("note", "part-thin", said[0].upper() + said[1:]))
    return found
