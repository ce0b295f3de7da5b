"""Do the legs suit the depth: spacing, critical depth, the ridge between legs, the wheels."""

from __future__ import annotations

import math
from dataclasses import dataclass

from zoning.contracts import by_geometry, constant, rows
from zoning.machine.findings import Finding, number
from zoning.model.settings import MachineSection

RULES = "machine_rules"
_BELOW_CRITICAL = (
    "Fit wider points or wings, run shallower leading tines, work less deep, or loosen in two "
    "passes, the first one shallower."
)
_NEAR_CRITICAL = (
    "Look in the trial pit for a smeared slot at the point; if there is one, work less deep or "
    "wait for drier soil."
)
_RIDGE = "or a second pass half a spacing aside lower it: measure between two legs."
_KEEP_CLOSE = (
    "Leave them where shallower work or a ridge in the trial pit asks for it: legs too wide leave "
    "pan, too close they cost draft."
)
_WHEELS_BETWEEN = (
    "Dig across a wheel mark in the trial pit; where it stays hard, change the wheel track or move "
    "a leg."
)
_WHEELS_AHEAD = (
    "Soil pressed by the wheel breaks less well: dig at these legs first; where it stays hard, set "
    "the track so that the wheels run between legs."
)


@dataclass(frozen=True, slots=True)
class SpacingRule:
    """Leg centres for one kind of point, in working depths.

    Parameters
    ----------
    points
        ``plain``, ``winged`` or ``winged_after_leading_tines``.
    closest, widest
        Range of leg centre distance over working depth.
    source
        Key of ``shared/tables/sources.csv``.
    """

    points: str
    closest: float
    widest: float
    source: str


@dataclass(frozen=True, slots=True)
class Leg:
    """Place of one leg, seen from behind.

    Parameters
    ----------
    number
        From 1 at the left.
    across_cm
        Distance from the middle of the machine, right positive [cm].
    behind_cm
        Distance behind the foremost leg [cm].
    """

    number: int
    across_cm: float
    behind_cm: float


def spacing_rule(machine: MachineSection) -> SpacingRule:
    """Return the spacing rule of the machine's points.

    Leading tines ahead of plain points have no row of their own in the sources: the rule of plain
    points stands, which is the closer one.
    """
    points = machine.point
    wanted = (
        "winged_after_leading_tines" if points == "winged" and machine.leading_tines else points
    )
    row = next(row for row in rows("spacing_rules") if row["points"] == wanted)
    return SpacingRule(wanted, float(row["closest"]), float(row["widest"]), row["source"])


def widest_spacing_cm(points: str, depth_cm: float) -> float:
    """Return the widest leg centre distance for `points` at a working depth [cm].

    Spacing = factor x working depth; the factor stands in ``shared/tables/spacing_rules.csv``
    (Spoor and Godwin 1978; 45, 60 and 75 cm at 30 cm are common practice).
    """
    row = next(row for row in rows("spacing_rules") if row["points"] == points)
    return float(row["widest"]) * depth_cm


def loosening_width_cm(machine: MachineSection) -> float:
    """Return the width from which soil breaks upwards [cm]: that of wing or foot."""
    if machine.point == "winged":
        return max(machine.wing_width_cm, machine.foot_width_cm)
    return machine.foot_width_cm


def ridge_cm(machine: MachineSection, depth_cm: float) -> float:
    """Return the height of the unloosened ridge midway between two legs [cm].

    Soil breaks from the edge of the point upwards and sideways at the break angle (45 degrees to
    the ground, Irish Farmers Journal; nominal, steeper below the critical depth), so two neighbours
    meet ``(spacing - width) / 2 x tan(angle)`` above the point. The ridge cannot be taller than the
    depth.
    """
    half_gap_cm = max(machine.leg_spacing_cm - loosening_width_cm(machine), 0.0) / 2.0
    angle = math.radians(constant(RULES, "break_angle_deg"))
    return min(half_gap_cm * math.tan(angle), depth_cm)


def ridge_told_cm(
    machine: MachineSection, depth_cm: float, measured_cm: float | None = None
) -> float:
    """Return the ridge to expect at a depth: as measured behind this machine, else `ridge_cm`."""
    return ridge_cm(machine, depth_cm) if measured_cm is None else measured_cm


def critical_depth_cm(foot_width_cm: float) -> tuple[float, float, float]:
    """Return the low, middle and high critical depth of a foot of this width [cm].

    Below it a narrow point presses the soil aside and does not lift it: 5 to 7 times the foot width
    (Spoor and Godwin 1978, from memory), 6 as taught by Godwin. It counts the foot, not the leg or
    the wing.
    """
    names = ("critical_ratio_low", "critical_ratio", "critical_ratio_high")
    low, middle, high = (constant(RULES, name) * foot_width_cm for name in names)
    return low, middle, high


def legs(machine: MachineSection) -> tuple[Leg, ...]:
    """Return the place of every leg.

    ``straight``: one row. ``two_row``: odd legs in the front row, even legs `row_gap_cm` behind.
    ``v``: the middle leg (or pair) in front, the outer legs `row_gap_cm` behind, the others
    between.
    """
    middle = (machine.legs - 1) / 2.0
    return tuple(
        Leg(i + 1, (i - middle) * machine.leg_spacing_cm, _behind_cm(machine, i))
        for i in range(machine.legs)
    )


def _behind_cm(machine: MachineSection, index: int) -> float:
    if machine.frame == "two_row":
        return machine.row_gap_cm if index % 2 else 0.0
    if machine.frame == "straight" or machine.legs < 3:
        return 0.0
    middle = (machine.legs - 1) / 2.0
    nearest = 0.0 if machine.legs % 2 else 0.5
    return machine.row_gap_cm * (abs(index - middle) - nearest) / (middle - nearest)


def legs_behind_wheels(machine: MachineSection, track_cm: float, tyre_cm: float) -> tuple[int, ...]:
    """Return the numbers of the legs whose centre runs within a wheel mark.

    Parameters
    ----------
    machine
        The loosener, pulled in line with the tractor.
    track_cm
        Distance between the centres of the left and right wheel [cm].
    tyre_cm
        Width of a tyre [cm].
    """
    return tuple(
        leg.number
        for leg in legs(machine)
        if abs(abs(leg.across_cm) - track_cm / 2.0) <= tyre_cm / 2.0
    )


def spacing_findings(
    machine: MachineSection,
    depth_cm: float,
    measured_ridge_cm: float | None = None,
    shallowest_cm: float | None = None,
) -> tuple[Finding, ...]:
    """Return what does not fit between the machine and a working depth, the changes first.

    Parameters
    ----------
    machine
        The loosener.
    depth_cm
        Working depth [cm]; 0 or less means legs lifted out: nothing to find.
    measured_ridge_cm
        How much shallower the soil was loosened between legs than at the legs, measured in pits
        behind this machine [cm]; ``None`` where not measured.
    shallowest_cm
        Shallowest working depth of the plan [cm], which legs set closer must suit too; ``None``:
        this depth.
    """
    if depth_cm <= 0:
        return ()
    found = [
        *_depth_range(machine, depth_cm),
        *_spacing(machine, depth_cm, shallowest_cm or depth_cm),
        *_critical(machine, depth_cm),
        *_ridge(machine, depth_cm, measured_ridge_cm),
    ]
    return tuple(sorted(found))


def _depth_range(machine: MachineSection, depth_cm: float) -> list[Finding]:
    if machine.depth_min_cm <= depth_cm <= machine.depth_max_cm:
        return []
    text = (
        f"{number(depth_cm)} cm lies outside the depth range of the machine, "
        f"{number(machine.depth_min_cm)} to {number(machine.depth_max_cm)} cm."
    )
    remedy = "Work at a depth within it, in two passes if need be, or use another machine."
    return [Finding("change", "depth-range", text, remedy, "contract")]


def _spacing(machine: MachineSection, depth_cm: float, shallowest_cm: float) -> list[Finding]:
    rule = spacing_rule(machine)
    spacing = machine.leg_spacing_cm
    if spacing > rule.widest * depth_cm:
        text = (
            f"Legs {number(spacing)} cm apart are too wide at {number(depth_cm)} cm deep: "
            f"the rule for {rule.points.replace('_', ' ')} points is at most "
            f"{number(rule.widest * depth_cm)} cm."
        )
        remedy = _closer(machine, rule, shallowest_cm)
        return [Finding("change", "legs-too-wide", text, remedy, rule.source)]
    if spacing < rule.closest * depth_cm:
        text = (
            f"Legs {number(spacing)} cm apart are closer than {number(depth_cm)} cm deep needs "
            f"({number(rule.closest * depth_cm)} cm or more): more draft and clods than loosening."
        )
        return [Finding("note", "legs-closer-than-needed", text, _KEEP_CLOSE, rule.source)]
    return []


def _closer(machine: MachineSection, rule: SpacingRule, depth_cm: float) -> str:
    options = [f"set the legs {number(rule.widest * depth_cm)} cm apart or closer"]
    if rule.points == "plain" and machine.leg_spacing_cm <= widest_spacing_cm("winged", depth_cm):
        options.append("fit wings")
    tined = widest_spacing_cm("winged_after_leading_tines", depth_cm)
    if rule.points != "winged_after_leading_tines" and machine.leg_spacing_cm <= tined:
        options.append("run winged points after shallower leading tines")
    if machine.leg_spacing_cm / 2.0 <= rule.widest * depth_cm:
        options.append("make two passes, the second half a spacing aside")
    return f"Either {', or '.join(options)}." if len(options) > 1 else f"{options[0].capitalize()}."


def _critical(machine: MachineSection, depth_cm: float) -> list[Finding]:
    low, middle, _ = critical_depth_cm(machine.foot_width_cm)
    if depth_cm <= low:
        return []
    helped = machine.point == "winged" or machine.leading_tines
    foot_cm = machine.foot_width_cm
    text = (
        f"{number(depth_cm)} cm is {number(depth_cm / foot_cm)} times the foot width: a plain foot "
        f"{foot_cm:g} cm wide stops lifting and presses the soil aside at about "
        f"{number(middle)} cm, at {number(low)} cm in plastic soil or with a worn point."
    )
    if helped:
        text += " With wings or leading tines it lies deeper; no figure is known for how much."
    deep = depth_cm > middle and not helped
    code = "below-critical-depth" if deep else "near-critical-depth"
    remedy = _BELOW_CRITICAL if deep else _NEAR_CRITICAL
    return [Finding("change" if deep else "note", code, text, remedy, "godwin_lecture")]


def _ridge(machine: MachineSection, depth_cm: float, measured_cm: float | None) -> list[Finding]:
    expected, ridge = ridge_cm(machine, depth_cm), ridge_told_cm(machine, depth_cm, measured_cm)
    if ridge <= constant(RULES, "ridge_note_cm"):
        return []
    text = (
        f"At {number(depth_cm)} cm expect soil loosened to only {number(max(depth_cm - ridge, 0))} "
        f"cm midway between legs, a ridge of {number(ridge)} cm"
    )
    if measured_cm is None:
        text += f" {by_geometry(wings_unknown=machine.wings_unknown)}."
    else:
        text += f" as measured behind this machine ({number(expected)} cm by geometry)."
    remedy = f"{_lower_ridge(machine, depth_cm)} {_RIDGE}"
    return [Finding("note", "ridge-between-legs", text, remedy, "farmers_journal_loosening")]


def _lower_ridge(machine: MachineSection, depth_cm: float) -> str:
    """Return what lowers the ridge; legs that are close already are not asked to stand closer."""
    wings = "wider wings" if machine.point == "winged" else "wings"
    if machine.leg_spacing_cm < spacing_rule(machine).closest * depth_cm:
        return wings.capitalize()
    return f"Closer legs, {wings},"


def wheel_findings(machine: MachineSection) -> tuple[Finding, ...]:
    """Return which legs run in the marks of the tractor's wheels, or that none does."""
    track, tyre = constant(RULES, "wheel_track_cm"), constant(RULES, "tyre_width_cm")
    behind = legs_behind_wheels(machine, track, tyre)
    assumed = (
        f"(assumed: wheels {number(track)} cm apart, tyres {number(tyre)} cm wide; measure yours)"
    )
    if not behind:
        text = f"No leg runs in a wheel mark {assumed}: it is loosened from the sides only."
        return (Finding("note", "wheels-between-legs", text, _WHEELS_BETWEEN, "project_choice"),)
    which = ", ".join(map(str, behind))
    text = f"Legs behind the tractor wheels, counted from the left: {which} {assumed}."
    return (
        Finding("note", "legs-behind-wheels", text, _WHEELS_AHEAD, "farmers_journal_loosening"),
    )
