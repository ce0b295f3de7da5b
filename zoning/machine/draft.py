"""Draft of a loosener."""

from __future__ import annotations

from dataclasses import dataclass

from zoning.contracts import DraftRow, constant, draft_row
from zoning.machine.findings import Finding, number
from zoning.model.settings import MachineSection


@dataclass(frozen=True, slots=True)
class Draft:
    """Draft of the whole machine and its published range [kN]."""

    value_kn: float
    low_kn: float
    high_kn: float


def row_of(machine: MachineSection) -> DraftRow:
    """Return the coefficients of the machine's points, narrow for plain ones."""
    return draft_row(machine.draft_implement)


def draft_n(row: DraftRow, texture: str, speed_km_h: float, depth_cm: float, tools: float) -> float:
    """Return the draft of an implement in work [N].

    ``D = F (A + B S + C S^2) W T``: S speed [km/h], W number of tools (width in m for the
    mouldboard row), T depth [cm], F factor of the texture (fine 1.0).

    Raises
    ------
    ValueError
        If speed, depth or tools are negative.

    Notes
    -----
    ASAE D497.4 to D497.7, clause 4.1 and Table 1; the spread of real machines is +-50 % for
    subsoilers. The equation is linear in depth; field data have risen faster (depth to the power
    1.76 in one study), so what it says about shallower work is on the low side.
    """
    if min(speed_km_h, depth_cm, tools) < 0:
        raise ValueError("speed, depth and number of tools cannot be negative")
    return row.factor(texture) * row.unit_n(speed_km_h) * tools * depth_cm


def machine_draft(
    machine: MachineSection, texture: str, speed_km_h: float, depth_cm: float
) -> Draft:
    """Return draft and range of the loosener [kN]; leading tines are not in it."""
    row = row_of(machine)
    value_kn = draft_n(row, texture, speed_km_h, depth_cm, machine.legs) / 1000.0
    return Draft(value_kn, value_kn * (1.0 - row.range_share), value_kn * (1.0 + row.range_share))


def draft_findings(machine: MachineSection) -> tuple[Finding, ...]:
    """Return what the draft equation leaves out for this machine: leading tines, another wing."""
    found = []
    measured = "Measure draft or fuel on the first run and compare."
    if machine.leading_tines:
        text = "The draft of the leading tines is not in the equation; expect more than it says."
        found.append(Finding("note", "leading-tines-not-in-draft", text, measured, "asae_d497"))
    wing = constant("machine_rules", "winged_row_wing_cm")
    if machine.point == "winged" and machine.wing_width_cm not in (0.0, wing):
        text = (
            f"The draft equation's winged point is {number(wing)} cm wide, this machine's "
            f"{number(machine.wing_width_cm)} cm."
        )
        found.append(Finding("note", "other-wing-width", text, measured, "asae_d497"))
    return tuple(found)
