"""Which cautions of a plan stand on the operator's sheet, and which are the adviser's."""

from __future__ import annotations

from collections.abc import Sequence

from zoning.contracts import NOT_CLEARED, rows
from zoning.model import Notice, Plan
from zoning.outputs.bars import ASSUMED_IN_PART, DOUBTS, STANDING, assumed_keys
from zoning.outputs.drawing.plan import ASSUMED

ELSEWHERE = frozenset({ASSUMED, STANDING, "wet-soil", "trial-pit", "local-rules"})
WITH_HAZARDS = frozenset({
    "drain-clear-assumed", "drain-cover-assumed", "hazard-depth-unknown",
    "obstacle-clear-assumed", "service-clear-assumed",
})  # fmt: skip
BOLD = frozenset({
    ASSUMED_IN_PART, "no-pan-found", "part-guessed", "piece-without-reading", *DOUBTS,
})  # fmt: skip
FOR_ADVISER = frozenset({
    "crs-accuracy", "days-and-places", "file-changed-after-correction", "gateway-off-field",
    "heading-from-grid-north", "headland-fills-field", "layer-empty", "lifted-at-hazards",
    "pits-of-another-season", "record-not-written", "ridge-allowance-large", "sheet-hidden",
    "sheet-hidden-columns", "sheet-hidden-rows", "stations-of-another-season",
    "wheelings-everywhere", "wheelings-not-placed",
})  # fmt: skip


def cautions(plan: Plan) -> tuple[str, ...]:
    """Return the cautions for the cab: on buried services, then those in bold, then the others.

    What has its own place on the sheet is left out here: a Stop that stands, what to change on the
    machine (but not that it does not reach deep enough), that it is an assumed one, the thread
    test, the trial pit, what of the hazards is not known.
    So is what only the adviser can act on; a caution of a code that is not known here stays.
    """
    code = _services(plan)
    held = [notice for notice in _told(plan) if notice.code not in FOR_ADVISER]
    first = [notice.text for notice in held if notice.code == code]
    if not first:
        first = [row["text"] for row in rows("cautions") if row["code"] == code]
    others = [notice for notice in held if notice.code != code]
    others.sort(key=lambda notice: notice.code not in BOLD)
    return (*first, *[_for_cab(notice, plan) for notice in others])


def bold(plan: Plan) -> int:
    """Return how many of the cautions stand in bold, the first of them on buried services."""
    return 1 + sum(notice.code in BOLD for notice in _told(plan))


def for_adviser(plan: Plan) -> str:
    """Return where the adviser's cautions stand, nothing where a plan has none."""
    count = sum(notice.code in FOR_ADVISER for notice in _told(plan))
    if not count:
        return ""
    what = "1 caution" if count == 1 else f"{count} cautions"
    stand = "stands" if count == 1 else "stand"
    where = f"on files, readings or settings {stand} on the map page and in plan.json"
    return f"For the adviser: {what} {where}."


def _services(plan: Plan) -> str:
    return plan.settings.hazards.services_code


def _told(plan: Plan) -> Sequence[Notice]:
    """Return the cautions that have no other place on the sheet."""
    held = [
        notice
        for notice in plan.notices
        if notice.level == "caution" and notice.code not in ELSEWHERE | WITH_HAZARDS
    ]
    if "machine_changes" not in plan.zones:
        return held
    return [
        notice
        for notice in held
        if not notice.code.startswith("machine-") or notice.code == "machine-too-shallow"
    ]


def _for_cab(notice: Notice, plan: Plan) -> str:
    """Return the text of a caution in the words of the cab, which knows no keys of files."""
    return assumed_in_part(plan) if notice.code == ASSUMED_IN_PART else _untold(notice)


def assumed_in_part(plan: Plan) -> str:
    """Return what is assumed of a machine that is described in part."""
    machine, keys = plan.settings.machine, assumed_keys(plan)
    rows_of = "two rows" if machine.frame == "two_row" else f"{machine.frame} frame"
    setting = {
        "depth_control": "pins" if machine.depth_control == "pins" else "depth control",
        "depth_min_cm": f"from {machine.depth_min_cm:g} cm",
        "depth_max_cm": f"to {machine.depth_max_cm:g} cm",
        "depth_step_cm": f"every {machine.depth_step_cm:g} cm",
    }
    held = [word for key, word in setting.items() if key in keys]
    if held and "depth_control" not in keys:
        held.insert(0, "depths")
    told = {
        "legs": f"{machine.legs} legs",
        "leg_spacing_cm": f"legs {machine.leg_spacing_cm:g} cm apart",
        "point": f"{machine.point} points",
        "foot_width_cm": f"feet {machine.foot_width_cm:g} cm wide",
        "frame": rows_of,
        "row_gap_cm": f"rows {machine.row_gap_cm:g} cm apart",
        "speed_km_h": f"{machine.speed_km_h:g} km/h",
    }
    words = [" ".join(held), *(word for key, word in told.items() if key in keys)]
    return (
        f"Assumed, not measured: {', '.join(filter(None, words))}. Set no depth from this sheet "
        "before the office has your measures."
    )


def _untold(notice: Notice) -> str:
    """Return the text of a caution, less what the banner of ground not cleared has said of it."""
    said, _, rest = notice.text.partition(". ")
    return rest if notice.code == "not-cleared" and NOT_CLEARED in said and rest else notice.text
