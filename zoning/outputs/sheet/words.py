"""The standing words of the operator's sheet, and those that follow from machine and zones."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from zoning.contracts import NOT_CLEARED, joined
from zoning.model import Plan, Settings
from zoning.outputs.bars import draft_percent, pins_assumed, slowest_km_h, too_weak
from zoning.outputs.drawing.plan import ASSUMED, hazards_in_order
from zoning.outputs.drawing.zone_labels import LeftUnsaid
from zoning.outputs.sheet.steps import how_counted
from zoning.outputs.sheet.trials import keeps_speed
from zoning.units import inches

ASK_FIRST = "Ask what is buried before you dig or probe."
MEASURED = "Legs, spacing and pin holes of the machine measured: the plan assumes them."
PINS_MEASURED = "Depth of each pin hole measured: the plan assumes them."
_BY_MEASURE = "measured at the points: the pins are assumed"

MISSING_LETTERS = (
    "Some letters have no font on the computer that made this sheet and show as boxes: go by the "
    "plan number, and install a font for them."
)
_OWN_TONES = "Tones hold for this plan alone."
_WITHOUT_DEPTH = (
    "A number alone on its tone: a small zone, its depth in the key and under 4 of the sheet."
)
_WITHOUT_NUMBER = "Ground without a number has the depth of its tone; the map page names its zone."
RIDGE = "machine-ridge-between-legs"
MOST_LISTED = 10
FIRST_STEP = (
    "Trial run and pit in the body of the field, clear of all hazards, as above; settle speed and "
    "level."
)
NOTHING_WORKED = "Nothing is worked: no leg goes in."
NO_TRIAL = "Nothing is worked, so no run is tried. Dig by hand alone, to look for a pan."
NO_HEADLAND = (
    " No headland is declared: where to turn is not planned. Turn where nothing is loosened yet, "
    "or off the field."
)
LEVEL = "Frame level in work, lengthways and sideways."
THREAD = (
    "Take soil from the surface and from working depth, and roll a thread 3 mm thick. It rolls "
    "easily: too wet, do not loosen, it would smear and compact. It cracks into short lengths: "
    "right. It crumbles: workable, but expect clods and more draft. Too wet at either: wait."
)
PIT = (
    "The plan is a forecast; the pit shows what the soil did. After each run (same setting, "
    "another speed) stop, lower the machine, stop the engine, ask what is buried, and dig across "
    "the run. Measure from the undisturbed surface down to firm soil at a leg and midway between "
    "two: their difference is the ridge."
)
SLOWEST = (
    " Take the slowest speed that leaves no pan, no hard ridge and a level surface; if none does, "
    "stop and ring who planned it."
)
SLOWEST_HELD = (
    " The depths hold the ridge of {own:g} km/h as measured: work no slower, and faster only where "
    "that leaves a pan; if a pan, a hard ridge or no level surface is left, stop and ring who "
    "planned it."
)
LATER = " Dig again the first time each other depth is worked: one line “Later pit” each."
LATER_ALIKE = " Dig again where the soil changes: one line “Later pit” each."
NO_POWER = (
    " The tractor's power was not given: whether it reaches these speeds at these depths is not "
    "known."
)
_ONE_DEPTH = (
    "one depth after another: set the pins, work every zone of that depth, legs lifted over the "
    "rest"
)
_AT_ZONES = "changing the depth where the zones meet"
_INSTEAD = "If you work pass by pass instead:"
_HEADLAND_LAST = "Headland rounds last, so that turning does not press loosened ground"


def small_print() -> str:
    """Return what the figures of the sheet are worth, and what comes before it."""
    return (
        "Depths come from few readings; how sure they are, zone by zone, tells the map page: dig "
        f"before you trust them. Draft ±{draft_percent():g} %, efficiencies, leg spacing, fuel: "
        "published equations; sources and their standing in the documentation. Litres and minutes "
        "are a guide, not a promise. Trial speeds, order of work: common practice. Local codes and "
        "licensed practice come first; this sheet does not say that work anywhere is without "
        "danger."
    )


def slowest(plan: Plan) -> str:
    """Return which speed to take: where the depths hold the ridge of the plan's own, none below."""
    own = plan.settings.machine.speed_km_h
    return SLOWEST_HELD.format(own=own) if keeps_speed(plan) else SLOWEST


def assumed(plan: Plan) -> str:
    """Return the caution of a plan whose machine is assumed, nothing where one was described."""
    told = [notice.text for notice in plan.notices if notice.code == ASSUMED]
    return f"MACHINE ASSUMED. {told[0]}" if told else ""


def unsaid(left: LeftUnsaid) -> str:
    """Return how to read the tones of the map, and what its labels leave to them."""
    told = [_OWN_TONES, *([_WITHOUT_DEPTH] if left.without_depth else [])]
    return " ".join([*told, _WITHOUT_NUMBER] if left.without_number else told)


def _first(text: str) -> str:
    """Return the first sentence."""
    return text.partition(". ")[0].rstrip(".") + "."


def checks(plan: Plan) -> list[str]:
    """Return what to check before the work, in that order, with this machine's own figures."""
    told = [_first(each.text) for each in plan.notices if each.code == "machine-frame-level"]
    own = [] if assumed(plan) else told
    level = " ".join([LEVEL, *own])
    leading = ["Leading tines set shallower than the legs."]
    return [
        "Same plan number here, on map page and machine; older sheets gone.",
        *(["Every hazard on the map found on the ground and marked."] if len(plan.hazards) else []),
        *_services(plan),
        *_measured(plan),
        _depth_control(plan),
        "Points of one kind, none worn to the wing or shorter than the others.",
        *(leading if plan.settings.machine.leading_tines else []),
        "Shear bolts: the right grade in every leg, spares in the cab.",
        "Hoses and couplings sound; nobody near a machine going up or down.",
        level,
    ]


def _measured(plan: Plan) -> list[str]:
    if assumed(plan):
        return [MEASURED]
    return [PINS_MEASURED] if pins_assumed(plan) else []


def _services(plan: Plan) -> list[str]:
    if plan.settings.hazards.located:
        return []
    return [f"Services located on the ground; until then {_until(plan, also_inches=False)}."]


def _until(plan: Plan, *, also_inches: bool = True) -> str:
    """Return what holds until services are located."""
    machine, notice_cm = plan.settings.machine, plan.settings.hazards.notice_depth_cm
    free_cm = [depth for depth in machine.settings_cm if depth <= notice_cm]
    if not free_cm:
        return "lower no leg"
    deepest = _both(notice_cm) if also_inches else f"{notice_cm:g} cm"
    told = f"set no leg deeper than {deepest}"
    if machine.depth_control == "pins" and pins_assumed(plan):
        return f"{told}, {_BY_MEASURE}"
    return f"{told}{pin_at_most(plan, notice_cm)}"


def pin_at_most(plan: Plan, most_cm: float) -> str:
    """Return the deepest pin hole that a depth allows; blank without pins, or where none fits."""
    machine = plan.settings.machine
    free_cm = [depth for depth in machine.settings_cm if depth <= most_cm]
    if machine.depth_control != "pins" or pins_assumed(plan) or not free_cm:
        return ""
    own = "" if free_cm[-1] == most_cm else f" ({free_cm[-1]:g} cm)"
    return f", pin {len(free_cm)}{own} at most"


def before_digging(plan: Plan) -> str:
    """Return what holds for spade and probe, which meet what is buried as a leg does.

    To be asked first it is everywhere. Where services are not located they go no deeper than the
    legs, and no service that is on the map is dug or probed for at all.
    """
    services = [each.tag for each in hazards_in_order(plan) if each.kind == "service"]
    told = [ASK_FIRST]
    if not plan.settings.hazards.located:
        told.append(f"Until services are located, {by_hand(plan.settings)}.")
    if services:
        told.append(f"Never within the keep-off of {', '.join(services)}.")
    return " ".join(told)


def by_hand(settings: Settings) -> str:
    """Return what holds for spade and probe until services are located: the limit of the legs."""
    notice_cm = settings.hazards.notice_depth_cm
    deep = f"no deeper than {_both(notice_cm)}"
    return f"dig and probe {deep}" if notice_cm > 0 else "do not dig or probe"


def _both(depth_cm: float) -> str:
    return f"{depth_cm:g} cm ({inches(depth_cm):.1f} in)"


def _depth_control(plan: Plan) -> str:
    machine = plan.settings.machine
    if machine.depth_control != "pins":
        return (
            "Depth control reads the same on both sides, on level ground. Measure yours: set a "
            "depth, drive 20 m, dig to the bottom of the slot, compare with the display."
        )
    known = "assumed" if pins_assumed(plan) else "taken"
    return (
        "Pins in the same hole on both sides, roller on firm ground; hole 1 is "
        f"{known} as {_both(machine.depth_min_cm)}, each hole {_both(machine.depth_step_cm)} "
        "deeper: measure yours."
    )


def stage_titles(plan: Plan, *, headland: bool) -> tuple[str, str]:
    """Return the words over the settings of the straight passes and of the headland rounds.

    `headland` tells whether there are such rounds.
    """
    if _one_depth(plan):
        return f"Straight passes{' first' if headland else ''}.", f"{_HEADLAND_LAST}."
    if plan.settings.machine.depth_control == "pins":
        return f"Straight passes, {_ONE_DEPTH}.", f"{_HEADLAND_LAST}: the same way."
    return f"Straight passes, {_AT_ZONES}.", f"{_HEADLAND_LAST}, {_AT_ZONES}."


def last_step(plan: Plan) -> str:
    """Return where the depth changes along the passes, and how they are counted.

    With pins and several depths that is another way of working than the stages before it.
    """
    pins = plan.settings.machine.depth_control == "pins"
    change = f"{_INSTEAD} lift, or stop and move the pins," if pins else "Change the depth"
    lift = "Lift at the edges of zones lifted out"
    where = lift if _one_depth(plan) else f"{change} where zones meet"
    return f"{where} (map page, Passes). {how_counted(plan.passes, plan.boundary)}".rstrip()


def why_zero(steps: Sequence[int]) -> str:
    """Return which steps, by number, tell why legs are lifted out; nothing where none does."""
    if not steps:
        return ""
    return f" Why depth 0 there: see {joined(steps)}."


def no_speed(plan: Plan) -> str:
    """Return why some depths have no speed and no minutes; nothing where all have."""
    depths = sorted(set(too_weak(plan)["depth_cm"]))
    if not depths:
        return ""
    at = ", ".join(f"{depth:g}" for depth in depths)
    return (
        f"km/h and min “–”: at {at} cm the tractor is too weak even at {slowest_km_h(plan):g} "
        "km/h; slower does not loosen."
    )


def _one_depth(plan: Plan) -> bool:
    return len({depth for depth in plan.zones["depth_cm"] if depth > 0}) == 1


def not_cleared(plan: Plan, zones: pd.DataFrame) -> tuple[str, str, str]:
    """Return the words on ground that is not cleared: first page, order of work, trial pit."""
    held: list[object] = list(zones.loc[zones["cleared"] == NOT_CLEARED, "zone"])
    if not held:
        return "", "", ""
    until, notice_cm = _until(plan), plan.settings.hazards.notice_depth_cm
    deeper = f", deeper than {_both(notice_cm)}" if notice_cm > 0 else ""
    first = (
        f"{NOT_CLEARED}: {listed(held, of=len(zones))}{deeper}. Services were not located on the "
        f"ground. Until they are, anywhere: {until}; {by_hand(plan.settings)}."
    )
    order = (
        f"NC is {NOT_CLEARED}: until services are located, {until}, whatever this table says. "
        "depth_passes.csv, depth_grid.csv and pan_surface.tif give the full depth unmarked: do not "
        "steer by them before."
    )
    return first, order, f"In a trial run too, until services are located: {until}."


def listed(zones: list[object], of: int | None = None) -> str:
    """Return zones by number, or how many (of how many) where the list would be long."""
    if len(zones) > MOST_LISTED:
        return f"{len(zones)} zones" if of is None else f"{len(zones)} of {of} zones"
    return f"zone{'s' if len(zones) > 1 else ''} {', '.join(map(str, zones))}"


def number(value: float) -> str:
    """Return a number with at most one decimal, a dash where it is not known."""
    return "–" if math.isnan(value) else f"{value:.1f}".removesuffix(".0")
