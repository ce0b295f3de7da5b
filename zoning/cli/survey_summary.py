"""The short account of a survey that a person reads in a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from zoning.cli.layout import notice_blocks
from zoning.errors import printable
from zoning.model import Survey
from zoning.units import M2_PER_HA

_TOLD = 5
"""How many stations are named by their worth."""


def survey_summary(survey: Survey, written: Sequence[Path], folder: Path) -> str:
    """Return the account: how many and why, where, what they are worth, cautions, files."""
    blocks = [
        _head(survey),
        _reckoning(survey),
        _parts(survey),
        _worth(survey),
        *notice_blocks(survey.notices),
        f"{len(written)} files written to {folder}",
    ]
    return printable("\n\n".join(block for block in blocks if block))


def _head(survey: Survey) -> str:
    facts = survey.facts
    kind = "first survey" if survey.first else f"next stations ({_taken(survey)})"
    walk_km, hours = float(facts["walk_m"]) / 1000.0, float(facts["time_min"]) / 60.0
    return (
        f"{survey.settings.field.name}: {survey.boundary.area / M2_PER_HA:.2f} ha, {kind}\n"
        f"{facts['stations']} stations of {survey.proposed['insertions'].iloc[0]} insertions, "
        f"{_pits(int(facts['pits']))}; walk {walk_km:.1f} km, about {hours:.1f} h"
    )


def _taken(survey: Survey) -> str:
    pits = int((survey.taken["kind"] == "pit").sum())
    idle = int(survey.facts.get("stations_not_used", 0))
    stations = len(survey.taken) - pits + idle
    counted = f"{stations} station{'' if stations == 1 else 's'}"
    told = f"{counted} and {_pits(pits)} there already" if pits else f"{counted} there already"
    why = f"; {idle} of the stations not used: a pit outranks them or they show nothing"
    return told + (why if idle else "")


def _pits(count: int) -> str:
    return "1 pit" if count == 1 else f"{count} pits"


def _reckoning(survey: Survey) -> str:
    facts = survey.facts
    if "precision_cm" not in facts:
        return ""
    return (
        f"For the mean pan base to within {float(facts['precision_cm']):g} cm "
        f"({100 * float(facts['confidence']):.0f} % confidence): {facts['stations_in_all']} "
        "stations in all, n = (t s / e)^2\n"
        f"with s = {float(facts['spread_cm']):.1f} cm, a coefficient of variation of "
        f"{100 * float(facts['coefficient_of_variation']):.1f} % "
        f"(from {facts['coefficient_source']})"
    )


def _parts(survey: Survey) -> str:
    table = survey.proposed
    lines = ["Stations by part"]
    for part, area in zip(survey.parts["part"], survey.parts["area_ha"], strict=True):
        own = table[table["part"] == part]
        pits = int((own["pit"] != "").sum())
        lines.append(f"  {part}: {len(own)} on {area:.2f} ha, {_pits(pits)}")
    return "\n".join(lines)


def _worth(survey: Survey) -> str:
    facts = survey.facts
    if "gain_cm_ha" not in facts:
        return ""
    lines = [
        "What they are expected to bring (before anything is read)",
        (
            f"  loss of the plan, place by place: {float(facts['loss_now_cm_ha']):.1f} cm ha now, "
            f"{float(facts['gain_cm_ha']):.1f} less ({100 * float(facts['gain_share']):.0f} %); "
            "1 cm ha is a centimetre of loss, as the plan counts it, on a hectare"
        ),
        (
            f"  working depth changes on {float(facts['change_area_ha']):.2f} ha, there by "
            f"{float(facts['change_depth_cm']):.1f} cm on average, where work or legs lifted out "
            "(0 cm) takes the other's place by the whole depth"
        ),
    ]
    if round(float(facts["change_area_ha"]), 2) == 0.0:
        lines.append(
            "  No station is expected to change a depth: they would confirm the plan. Where the "
            "plan is in doubt for another reason, dig there."
        )
    if "change_fuel_l" in facts:
        net = float(facts["change_fuel_l"])
        lines.append(
            f"  {float(facts['change_fuel_moved_l']):.1f} L of fuel go elsewhere, "
            f"{abs(net):.1f} L {'less' if net < 0 else 'more'} in all"
        )
    if "gain_money" in facts:
        lines.append(
            f"  worth {float(facts['gain_money']):.2f} {facts['currency']}, with the fuel of a "
            "centimetre too deep as the measure"
        )
    elif "depths_too_heavy_cm" in facts:
        lines.append(
            f"  no worth in money: the tractor is too weak for {facts['depths_too_heavy_cm']} cm, "
            "so no fuel is reckoned there"
        )
    if float(facts["stations"]) < float(facts["stations_wanted"]):
        lines.append(
            f"  {facts['stations']} of {facts['stations_wanted']} wanted: a further one would be "
            "worth less than it costs"
        )
    best = survey.proposed.sort_values("rank")[["station", "part", "gain_cm_ha"]]
    told = [f"{r.station} ({r.part}) {r.gain_cm_ha:.2f}" for r in best.head(_TOLD).itertuples()]
    first = f"the first {_TOLD} " if len(best) > _TOLD else ""
    order = f"numbers run along the walk; {first}by worth in cm ha, each with those before it known"
    return "\n".join([*lines, f"  {order}: {', '.join(told)}"])
