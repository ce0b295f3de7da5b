"""Keys of ``field.toml`` that are sound one by one but not together."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Literal

from zoning.errors import Fault
from zoning.model import Notice, Settings
from zoning.model.settings import MachineSection, WheelingsSection

_CRS = re.compile(
    r"[A-Za-z]{2,12}:[A-Za-z0-9]{1,12}|(PROJCRS|PROJCS|GEOGCRS|GEOGCS|BOUNDCRS|COMPD_CS|COMPOUNDCRS)\[.*",
    re.DOTALL,
)


def combination_faults(settings: Settings, file: str, machine_file: str) -> list[Fault]:
    """Return one fault for each pair of keys that contradict each other.

    Parameters
    ----------
    settings
        Each key sound by itself.
    file, machine_file
        Names of the files the general keys and the machine's keys came from.
    """
    faults = [
        *_readings(settings, file),
        *_crs(settings, file),
        *_machine(settings.machine, machine_file),
    ]
    if settings.areas.wheelings is not None:
        travel_deg = settings.machine.travel_heading_deg
        faults.extend(_wheelings(settings.areas.wheelings, file, travel_deg))
    return faults


def settings_notices(settings: Settings) -> list[Notice]:
    """Return what a user should know about settings that are allowed but odd."""
    notices = []
    machine = settings.machine
    if machine.point == "plain" and machine.wing_width_cm > 0:
        notices.append(
            Notice(
                "note",
                "wing-width-unused",
                (
                    "machine.wing_width_cm is given but machine.point is plain: "
                    "the points are taken as plain."
                ),
            )
        )
    return notices


def machine_notices(machine: MachineSection, given: frozenset[str]) -> Iterator[Notice]:
    """Tell what a machine that is described in part leaves out, and what is assumed in its place.

    A machine that is described in no part is told with the plan.

    Parameters
    ----------
    machine
        Each key sound, those left out filled in.
    given
        The keys that the user gave.
    """
    needed = [*_SET_BY, *_RECKONED_BY, *(("row_gap_cm",) if machine.frame != "straight" else ())]
    left = [key for key in needed if key not in given]
    left += ["wing_width_cm"] if machine.wings_unknown else []
    if not left or given <= _TELLS_NOTHING:
        return
    known = {"wing_width_cm": "the foot alone"} if machine.wings_unknown else {}
    words = ", ".join(f"{key} ({known.get(key, _shown(getattr(machine, key)))})" for key in left)
    level: Literal["caution", "note"] = "caution" if set(left) & set(_SET_BY) else "note"
    why = " before anyone sets a depth from this plan"
    if level == "note":
        why = ": draft, power and the ridge between legs rest on them"
    text = (
        f"The machine is described in part; these are assumed: {words}. Measure yours and add them "
        f"under [machine]{why}."
    )
    yield Notice(level, "assumed-in-part", text, keys=tuple(left))


_SET_BY = (
    "legs", "leg_spacing_cm", "depth_min_cm", "depth_max_cm", "depth_step_cm", "depth_control",
)  # fmt: skip
"""Keys that the depths and the passes themselves rest on."""
_RECKONED_BY = ("foot_width_cm", "point", "frame", "speed_km_h")
_TELLS_NOTHING = frozenset({"travel_heading_deg"})


def _shown(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def names_of(value: str | list[str] | None) -> list[str]:
    """Return the files that a key names: none, one or several."""
    if value is None:
        return []
    return [value] if isinstance(value, str) else list(value)


def _readings(settings: Settings, file: str) -> Iterator[Fault]:
    readings = settings.readings
    for key in ("cone", "pits", "cone_after"):
        value: str | list[str] | None = getattr(readings, key)
        names = names_of(value)
        if value is not None and not names:
            yield Fault(
                file,
                "The list is empty.",
                "Name a file or leave the key out.",
                column=f"readings.{key}",
            )
        for name in sorted({n for n in names if names.count(n) > 1}):
            yield Fault(
                file,
                f"The file '{name}' is named twice.",
                "Name it once.",
                column=f"readings.{key}",
            )
    for name in sorted(set(names_of(readings.cone)) & set(names_of(readings.cone_after))):
        yield Fault(
            file,
            f"The file '{name}' is named as cone and as cone_after.",
            "Keep readings from before and after the work in files of their own.",
            column="readings.cone_after",
        )


def _crs(settings: Settings, file: str) -> Iterator[Fault]:
    named = {"field.working_crs": settings.field.working_crs, "readings.crs": settings.readings.crs}
    for key, text in named.items():
        if text is not None and not _CRS.fullmatch(text.strip()):
            yield Fault(
                file,
                f"Found '{text}', which names no coordinate system.",
                'Give a code such as "EPSG:32630".',
                column=key,
            )


def _machine(machine: MachineSection, file: str) -> Iterator[Fault]:
    low, high = machine.depth_min_cm, machine.depth_max_cm
    if low > high:
        yield Fault(
            file,
            f"depth_min_cm {low:g} is deeper than depth_max_cm {high:g}.",
            "Give the shallowest depth as depth_min_cm.",
            column="machine.depth_min_cm",
        )
    foot, wing = machine.foot_width_cm, machine.wing_width_cm
    if foot >= machine.leg_spacing_cm:
        yield Fault(
            file,
            f"foot_width_cm {foot:g} is not below leg_spacing_cm {machine.leg_spacing_cm:g}.",
            "Give the width of one foot and the distance between legs.",
            column="machine.foot_width_cm",
        )
    if machine.point == "winged" and 0 < wing < foot:
        yield Fault(
            file,
            f"wing_width_cm {wing:g} is less than foot_width_cm {foot:g}.",
            "Give the width over both wings.",
            column="machine.wing_width_cm",
        )


def _wheelings(wheelings: WheelingsSection, file: str, travel_deg: float | None) -> Iterator[Fault]:
    column = "areas.wheelings"
    heading, spacing = wheelings.heading_deg, wheelings.spacing_m
    if wheelings.lines is not None:
        if heading is not None or spacing is not None or wheelings.offset_m != 0:
            yield Fault(
                file,
                "Both lines and a heading, spacing or offset are given.",
                "Give one of the two.",
                column=column,
            )
        return
    if spacing is None or (heading is None and travel_deg is None):
        yield Fault(
            file,
            "Neither lines nor heading_deg with spacing_m are given.",
            "Give lines, or spacing_m with offset_m and with heading_deg here or "
            "travel_heading_deg under [machine].",
            column=column,
        )
    elif wheelings.width_m >= spacing:
        yield Fault(
            file,
            f"width_m {wheelings.width_m:g} is not below spacing_m {spacing:g}.",
            "Give the width of one pair of wheelings and the distance between pairs.",
            column=column,
        )
