"""The short account of a plan that a person reads in a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from zoning.cli.effort_words import changes_words, effort_words
from zoning.cli.layout import first, listed, notice_blocks, table
from zoning.contracts import NOT_CLEARED, constant
from zoning.errors import printable
from zoning.model import Plan
from zoning.model.names import in_numbers
from zoning.model.settings import DepthSection
from zoning.outputs.bars import assumed_machine
from zoning.outputs.fingerprint import short_id
from zoning.outputs.guessed import GUESSED, unread_parts
from zoning.outputs.left_out import left_out_together, places_given
from zoning.units import M2_PER_HA, as_number, inches
from zoning.workflow.cautions import HAZARD_CAUTION
from zoning.workflow.driving import PINS
from zoning.workflow.evidence_notices import BESIDE_RATING


def summary(plan: Plan, written: Sequence[Path], folder: Path) -> str:
    """Return the account: field, readings, need, depths, comparison, left out, cautions, files."""
    blocks = [
        _head(plan),
        _readings(plan),
        _need(plan),
        _depths(plan),
        _comparison(plan),
        _at_most(plan),
        changes_words(plan),
        effort_words(plan),
        _trust(plan),
        _left_out(plan),
        *notice_blocks([note for note in plan.notices if note.code not in TOLD_ELSEWHERE]),
        f"{len(written)} files written to {folder}",
    ]
    return printable("\n\n".join(block for block in blocks if block))


TOLD_ELSEWHERE = frozenset({*BESIDE_RATING, PINS, "machine-frame-level", "passes-left-out"})
"""What stands beside the rating, with the depth changes, or on the operator's sheet alone."""


def _head(plan: Plan) -> str:
    field = plan.settings.field
    season = f", season {field.season}" if field.season else ""
    unread = unread_parts(plan.parts, plan.stations)
    parts = ", ".join(
        f"{row.part} {row.area_ha:.2f} ha{f' ({GUESSED})' if row.part in unread else ''}"
        for row in plan.parts.sort_values("part").itertuples()
    )
    return (
        f"{field.name}{season}: {plan.boundary.area / M2_PER_HA:.2f} ha, "
        f"plan {short_id(plan.plan_id)}\nParts: {parts}\nWorking CRS: {plan.working_crs}"
    )


def _readings(plan: Plan) -> str:
    blank = plan.insertions["n_readings"] == 0
    verdicts = plan.insertions.loc[~blank, "verdict"].value_counts()
    counts = [f"{n} {str(name).replace('_', ' ')}" for name, n in sorted(verdicts.items())]
    told = ", ".join([*counts, *([f"{blank.sum()} without a reading"] if blank.any() else [])])
    return f"{_used(plan)}\n{_shown(plan)}\nInsertions: {told or 'none'}"


def _used(plan: Plan) -> str:
    used, kind = plan.stations["used"].astype(bool), plan.stations["kind"]
    cones, pits = (
        _of((used & (kind == k)).sum(), places_given(plan, k), one)
        for k, one in (("cone", "cone station"), ("pit", "pit"))
    )
    return f"Readings used: {cones} and {pits}"


def _of(count: int, every: int, one: str) -> str:
    if not every:
        return f"no {one}"
    return f"{count} of {every} {one}{'' if every == 1 else 's'}"


def _shown(plan: Plan) -> str:
    """Return what the stations and pits used show, and how many bases the plan tests itself by."""
    used = pd.DataFrame(plan.stations[plan.stations["used"].astype(bool)])
    deeper = used["censored"].astype(bool)
    base = used["pan_base_cm"].notna() & ~deeper
    none = ~base & ~deeper & (used["verdict"] == "no_pan")
    bare = ~base & ~deeper & (used["verdict"] == "pan")
    unknown = len(used) - int((base | deeper | none | bare).sum())
    counts = [
        f"{base.sum()} {'shows' if base.sum() == 1 else 'show'} the base of a pan",
        *([f"{deeper.sum()} a pan deeper than was read"] if deeper.any() else []),
        *([f"{bare.sum()} a pan without its base"] if bare.any() else []),
        f"{none.sum()} no pan",
        *([f"{unknown} do not tell"] if unknown else []),
    ]
    return f"Of these {len(used)}: {', '.join(counts)}{_aside(plan, int(base.sum()))}"


def _aside(plan: Plan, bases: int) -> str:
    odd, tested = plan.surface_report.get("outliers"), plan.surface_report.get("left_out")
    if not odd or not tested:
        return ""
    counted = f"{tested:.0f} of the {bases} bases are tested below"
    return f". {counted}: without {odd}, unlike the bases nearby"


def _need(plan: Plan) -> str:
    """Return the rating, and beside it the cautions without which its answer cannot be read."""
    against = [
        f"  Caution: {notice.text}" for notice in plan.notices if notice.code in BESIDE_RATING
    ]
    return "\n".join([table("Is loosening called for?", _rating(plan)), *against])


def _rating(plan: Plan) -> list[list[str]]:
    body = [
        [
            str(row["part"]),
            str(row["points"]),
            f"{100 * row['share']:.0f} %" if row["points"] else "not probed",
            row["rating"],
            row["answer"],
        ]
        for row in plan.rating.to_dict("records")
    ]
    return [["where", "points", "over the limit", "compaction", "loosen"], *body]


def _depths(plan: Plan) -> str:
    """Return the depths with their hectares, and beside them what must be known before any is set.

    Whose depths they are where no machine is described, what may not be worked yet, and why zones
    are small.
    """
    held = plan.zones["cleared"] == NOT_CLEARED
    body = []
    for depth_cm, zones in plan.zones.groupby("depth_cm", sort=True):
        area, count = _extent(zones)
        body.append([_depth_word(as_number(depth_cm)), area, count, _held(zones)])
    head = ["depth", "ha", "zones", f"of these {NOT_CLEARED}" if held.any() else ""]
    lines = [table("Working depths", [head, *body]), _assumed(plan), _small(plan)]
    return "\n".join(line for line in lines if line)


def _extent(zones: pd.DataFrame) -> tuple[str, str]:
    return f"{zones['area_ha'].sum():.2f}", str(len(zones))


def _held(zones: pd.DataFrame) -> str:
    """Return how much of `zones` is NOT CLEARED."""
    area, count = _extent(pd.DataFrame(zones[zones["cleared"] == NOT_CLEARED]))
    return f"{area} ha, {count} zone{'' if count == '1' else 's'}" if count != "0" else ""


def _assumed(plan: Plan) -> str:
    machine = assumed_machine(plan)
    return machine and (
        f"  These are depths of an ASSUMED machine, {machine}: field.toml describes none under "
        "[machine]. Measure yours and plan again."
    )


def _small(plan: Plan) -> str:
    """Return why zones are small, where many are."""
    least_ha = constant("plan_rules", "small_zone_ha")
    small = plan.zones[plan.zones["area_ha"] < least_ha]
    if len(small) <= constant("plan_rules", "small_zones_share") * len(plan.zones):
        return ""
    cut = small["parts"].str.contains("wheeling") | small["cautions"].str.contains(HAZARD_CAUTION)
    by = f", {cut.sum()} of them where wheelings or hazards cut the ground" if cut.any() else ""
    return (
        f"  {len(small)} of {len(plan.zones)} zones are smaller than {least_ha:g} ha{by}. A longer "
        "min_run_m or fewer max_depths may join some."
    )


def _depth_word(depth_cm: float) -> str:
    if depth_cm == 0:
        return "legs lifted out"
    return f"{depth_cm:g} cm ({inches(depth_cm):.1f} in)"


def _comparison(plan: Plan) -> str:
    losses = plan.losses
    rows = [
        ["choice", "loss cm"],
        ["this plan", f"{losses.driven_cm:.2f}"],
        ["the same without passes", f"{losses.unconstrained_cm:.2f}"],
        [
            _single_word(losses.single_depth_cm, plan.settings.depth),
            f"{losses.single_depth_loss_cm:.2f}",
        ],
        [_insured_word(plan), f"{losses.point95_loss_cm:.2f}"],
    ]
    share = plan.settings.depth.assurance
    words = (
        f"  A centimetre too shallow for the pan counts {share:g} cm of loss, one too deep "
        f"{1 - share:.2g} cm (assurance {share:g})."
    )
    return f"{table(_comparison_title(plan), rows)}\n{words}"


def _comparison_title(plan: Plan) -> str:
    held = (
        ", each held to what the hazards allow: where that is less, one depth is lifted out"
        if len(plan.hazards)
        else ""
    )
    return f"Expected loss, mean over the field{held}"


def _insured_word(plan: Plan) -> str:
    """Return the choice of one deep depth; the deepest setting may be too shallow for it."""
    depth_cm, machine = plan.losses.point95_depth_cm, plan.settings.machine
    short = any(notice.code == "machine-too-shallow" for notice in plan.notices)
    deepest = depth_cm + machine.depth_step_cm > machine.depth_max_cm
    what = f"one depth for {100 * constant('depth_rules', 'insurance_share'):g} %"
    what += ", or the deepest" if short and deepest else ""
    return f"{what}, {depth_cm:g} cm"


def _single_word(depth_cm: float, depth: DepthSection) -> str:
    if not depth_cm:
        return "no work at all"
    return f"one depth, {depth_cm:g} cm{' or lifted out' if depth.lift_out else ''}"


def _at_most(plan: Plan) -> str:
    """Return what each further working depth brings, where more than one is allowed."""
    most = plan.settings.depth.max_depths
    losses = [plan.totals[f"loss_at_most_{i}_cm"] for i in range(1, most + 1)]
    if most < 2:
        return ""
    rows = [
        ["at most", *(str(i) for i in range(1, most + 1))],
        ["loss cm", *(f"{loss:.2f}" for loss in losses)],
    ]
    return table(
        "Expected loss along the passes with at most so many working depths"
        f"{_lifted(plan.settings.depth, len(plan.hazards))}",
        rows,
    )


def _lifted(depth: DepthSection, hazards: int) -> str:
    if depth.lift_out:
        return ", and legs lifted out where that costs less"
    return "; where a hazard allows none of them, legs are lifted out" if hazards else ""


def _trust(plan: Plan) -> str:
    tried = plan.surface_report.get("left_out")
    words = plan.surface_report.get("left_out_words") if tried else ""
    unsure = plan.uncertain["area_ha"].sum() if len(plan.uncertain) else 0.0
    lines = [str(words)] if words else []
    if unsure:
        count, why = len(plan.uncertain), ", or ".join(sorted(set(plan.uncertain["reason"])))
        lines.append(
            f"Unsure ground: {unsure:.2f} ha in {count} place{'' if count == 1 else 's'} "
            f"({why}; layer 'uncertain' of plan.gpkg)"
        )
    return "\n".join(lines)


def _left_out(plan: Plan) -> str:
    """Return stations and pits that count for nothing, then what was not read at all."""
    unused = plan.stations[~plan.stations["used"].astype(bool)]
    stations = sorted(
        (f"{row.kind} {row.station}: {row.reason}" for row in unused.itertuples()), key=in_numbers
    )
    readings = [f"{one.file}: {one.what}: {one.reason}" for one in left_out_together(plan.left_out)]
    lines = [
        *first(stations, "more stations, all in readings_used.csv"),
        *first(readings, "more lines, all in readings_used.csv"),
    ]
    return listed("Left out:", lines, mark="") or "Left out: nothing"


__all__ = ["summary"]
