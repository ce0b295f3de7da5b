"""What further stations are worth to the plan: surface and depth choice handed to the survey."""

from __future__ import annotations

import math
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from zoning import depths, machine, survey
from zoning.contracts import constant
from zoning.depths.compare import Weighed
from zoning.depths.levels import allowed_options
from zoning.errors import PlanRefused
from zoning.model import PanSurface, Settings
from zoning.surface import PanModel
from zoning.surface.design import Exchange, Spots, base_exchange, presence_exchange
from zoning.survey.scatter import Scattered

Floats = NDArray[np.float64]
RULES = "survey_rules"


@dataclass(frozen=True, slots=True, eq=False)
class Worth:
    """The next stations, what each is worth, and what to expect of all of them.

    Parameters
    ----------
    batch
        Candidates chosen, with their gains.
    change
        What they are expected to change.
    loss_now_cm_ha
        Expected loss as things stand, every place at its own best of the plan's depths.
    levels_cm
        The plan's depths, 0 for legs lifted out.
    price_cm_ha
        What a centimetre hectare of loss is worth in the field's currency; ``None`` if not known.
    """

    batch: survey.Batch
    change: survey.Change
    loss_now_cm_ha: float
    levels_cm: tuple[float, ...]
    price_cm_ha: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Question:
    """The field as it is known, and where the next stations might stand.

    Parameters
    ----------
    model
        Fitted to the readings there are.
    places
        Where depths are chosen.
    candidates
        Where a station might stand.
    keep_off
        ``cap_cm`` and the keep-off polygons of hazards.
    error_sd_cm
        Standard error of the base of a further station [cm].
    """

    model: PanModel
    places: Scattered
    candidates: Scattered
    keep_off: gpd.GeoDataFrame
    error_sd_cm: float


def worth_of_next(
    question: Question, settings: Settings, count: int, station_cost: float | None = None
) -> Worth:
    """Return up to `count` next stations of greatest worth, chosen one after the other.

    Parameters
    ----------
    question
        What is known, and where to look.
    settings
        Machine and depth choice.
    count
        Most stations.
    station_cost
        What a station costs in the field's currency: none is proposed that is worth less.

    Raises
    ------
    PlanRefused
        If a cost is given and what a loss is worth cannot be told, as without a price of fuel or
        with a tractor too weak for a depth.
    """
    outlook = outlook_of(question, settings)
    price = price_of_loss(outlook.depths_cm, settings)
    least_cm_ha = 0.0
    if station_cost is not None:
        if price is None:
            raise PlanRefused(_no_price(outlook.depths_cm, settings))
        least_cm_ha = station_cost / price
    table = survey.ValueTable(outlook, quadrature())
    batch = _chosen(table, question, count, least_cm_ha)
    fuel = fuel_l_ha(outlook.depths_cm, settings)
    change = survey.expected_change(outlook, batch, fuel, quadrature().points)
    return Worth(
        batch,
        change,
        expected_loss_cm_ha(outlook),
        tuple(float(depth) for depth in outlook.depths_cm),
        price,
    )


def _chosen(
    table: survey.ValueTable, question: Question, count: int, least_cm_ha: float
) -> survey.Batch:
    """Return the stations, spread out; nearer to each other only where there is no other room."""
    least_m, candidates = constant(RULES, "next_apart_m"), candidates_of(question)
    apart_m = max(least_m, next_apart_m(float(question.places.area_ha.sum()), count))
    batch = survey.choose_next(table, candidates, survey.Rule(count, least_cm_ha, apart_m))
    if len(batch.rows) < count and least_cm_ha <= 0:
        return survey.choose_next(table, candidates, survey.Rule(count, least_cm_ha, least_m))
    return batch


def next_apart_m(area_ha: float, count: int) -> float:
    """Return how far apart `count` stations on a field are to stand [m]."""
    return constant(RULES, "next_apart_share") * survey.even_m(area_ha, count)


def expected_loss_cm_ha(outlook: survey.Outlook) -> float:
    """Return the loss as things stand, each place at its own best of the depths [cm ha]."""
    loss = outlook.loss(outlook.base_mean_cm, outlook.base_sd_cm, outlook.pan_probability)
    return float(np.where(outlook.allowed, loss, np.inf).min(axis=1) @ outlook.area_ha)


def candidates_of(question: Question) -> survey.Candidates:
    """Return what a station at each candidate tells about the base and about the presence."""
    model = question.model
    places, candidates = (
        Spots.of(model, each.xy_m, each.part.tolist())
        for each in (question.places, question.candidates)
    )
    return survey.Candidates(
        question.candidates.xy_m,
        model.presence.predict(candidates.xy_m, candidates.part),
        _link(base_exchange(model, places, candidates)),
        _link(presence_exchange(model, places, candidates)),
        question.error_sd_cm**2,
    )


def _link(each: Exchange) -> survey.Link:
    return survey.Link(each.covariance, each.own, each.variance, each.column)


def quadrature() -> survey.Quadrature:
    """Return how finely values are worked out."""
    return survey.Quadrature(
        int(constant(RULES, "value_shares")),
        constant(RULES, "value_share_most"),
        int(constant(RULES, "value_chances")),
        int(constant(RULES, "value_points")),
        int(constant(RULES, "value_scenarios")),
    )


def outlook_of(question: Question, settings: Settings) -> survey.Outlook:
    """Return the pan as it is known now, with the depths that the plan would use cell by cell."""
    places, depth = question.places, settings.depth
    pan = question.model.predict(places.xy_m, places.part.tolist())
    options = depths.depth_options(settings.machine)
    caps = caps_at(places.xy_m, question.keep_off)
    allowed = allowed_options(options, caps, lift_out=depth.lift_out)

    def loss_of(surface: PanSurface, levels: Floats) -> Floats:
        return depths.expected_loss(
            surface, levels, clearance_cm=depth.clearance_cm, assurance=depth.assurance
        )

    cells = Weighed(
        loss_of(pan, options),
        places.area_ha,
        allowed,
        np.argmax(np.where(allowed, options, -1.0), axis=1),
        options,
    )
    columns = np.unique(cells.few(depth.max_depths))
    levels = options[columns]

    def loss(mean_cm: Floats, sd_cm: Floats, probability: Floats) -> Floats:
        near = np.zeros(len(mean_cm), dtype=np.int64)
        return loss_of(PanSurface(mean_cm, sd_cm, probability, near, {}), levels)

    free = allowed[:, columns]
    free[~free.any(axis=1), 0] = True
    return survey.Outlook(
        pan.base_mean_cm, pan.base_sd_cm, pan.pan_probability, places.area_ha, levels, free, loss
    )


def caps_at(xy_m: Floats, keep_off: gpd.GeoDataFrame) -> Floats:
    """Return the greatest depth that hazards allow at each place, infinite off them [cm]."""
    caps = np.full(len(xy_m), np.inf)
    for shape, cap in zip(keep_off.geometry, keep_off["cap_cm"], strict=True):
        held = shapely.contains_xy(shape, xy_m)
        caps[held] = np.minimum(caps[held], cap)
    return caps


def fuel_l_ha(levels_cm: Floats, settings: Settings) -> Floats:
    """Return the fuel of each depth [L/ha]; NaN where the tractor's power is not given."""
    outfit = machine.Outfit.of(settings)
    return np.array([machine.zone_work(float(depth), 1.0, outfit).fuel_l for depth in levels_cm])


def price_of_loss(levels_cm: Floats, settings: Settings) -> float | None:
    """Return what a centimetre hectare of expected loss is worth in the field's currency.

    A centimetre too deep weighs ``1 - assurance`` in the loss and costs the fuel of a centimetre,
    so one unit of loss is worth that fuel over ``1 - assurance``. The same weights say that a
    centimetre too shallow costs ``assurance / (1 - assurance)`` times as much. ``None`` where the
    price of fuel or the tractor's power is not given, the tractor is too weak for a depth, or there
    is no second depth to compare.
    """
    worked = levels_cm[levels_cm > 0]
    price = settings.costs.fuel_per_l
    if price is None or settings.tractor.pto_power_kw is None or len(worked) < 2:
        return None
    ends = fuel_l_ha(worked[[0, -1]], settings)
    slope_l_ha_cm = float((ends[1] - ends[0]) / (worked[-1] - worked[0]))
    if not math.isfinite(slope_l_ha_cm):
        return None
    return float(slope_l_ha_cm * price / (1.0 - settings.depth.assurance))


def beyond_the_tractor_cm(levels_cm: Floats, settings: Settings) -> tuple[float, ...]:
    """Return the depths that the tractor is too weak for [cm]; none without its power."""
    if settings.tractor.pto_power_kw is None:
        return ()
    worked = levels_cm[levels_cm > 0]
    weak = ~np.isfinite(fuel_l_ha(worked, settings))
    return tuple(float(depth) for depth in worked[weak])


def _no_price(levels_cm: Floats, settings: Settings) -> str:
    """Return why the cost of a station cannot be set against its worth, and what to do."""
    weak = ", ".join(f"{depth:g}" for depth in beyond_the_tractor_cm(levels_cm, settings))
    if weak:
        return (
            "What a station costs cannot be set against its worth: the tractor is too weak for "
            f"{weak} cm, so no fuel is reckoned there. Leave out --station-cost, or give under "
            "[tractor] the one that will pull."
        )
    if settings.costs.fuel_per_l is not None and settings.tractor.pto_power_kw is not None:
        return (
            "What a station costs cannot be set against its worth: the plan works one depth, and "
            "worth is reckoned from the fuel between two. Leave out --station-cost."
        )
    return (
        "What a station costs can be set against its worth only where field.toml gives fuel_per_l "
        "under [costs] and pto_power_kw under [tractor]."
    )


def station_error_cm(stations: pd.DataFrame) -> float:
    """Return the standard error to expect of a station: the usual one here, else the table's."""
    used = stations[stations["used"] & (stations["kind"] == "cone")]
    known = used["error_sd_cm"].dropna()
    if len(known):
        return float(known.median())
    one_cm = constant("profile_rules", "within_station_sd_cm")
    return one_cm / math.sqrt(constant(RULES, "insertions"))
