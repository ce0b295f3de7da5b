"""What a check must tell beside its verdicts: a plan no longer current, wet soil, days, hazards."""

from __future__ import annotations

from collections.abc import Iterator

import geopandas as gpd
import pandas as pd

from zoning import checks, outputs
from zoning.contracts import NOT_CLEARED, constant, keep_off_m, rows
from zoning.model import FieldInputs, Notice
from zoning.model.check import JUDGED, PlannedGround
from zoning.model.names import by_name
from zoning.outputs.check.words import WHICH_PLAN
from zoning.outputs.fingerprint import short_id
from zoning.records import NAME
from zoning.units import tenths
from zoning.workflow.cautions import notice_cm
from zoning.workflow.ridge import allowance_cm
from zoning.workflow.season_dates import last_read

_PARTS = ("boundary", "readings", "settings", "hazards")
_MISTYPED = (
    "Is that date mistyped, or are theirs, or were two dates swapped? Correct the date; no row "
    "need be taken out. Until then a Stop for any of them stands."
)
_LAYERS = ("wheelings", "gateways", "named areas")


def check_notices(
    inputs: FieldInputs,
    planned: PlannedGround,
    pits: pd.DataFrame,
    probes: pd.DataFrame,
    pairs: pd.DataFrame,
    told: tuple[Notice, ...],
) -> tuple[Notice, ...]:
    """Return what must be told first, cautions, then notes, each told once; `told` among them."""
    found = {
        *inputs.notices,
        *told,
        *_stale(inputs, planned),
        *_from_pits(inputs, pits, planned),
        *_from_probes(probes, pits, inputs),
        *checks.day_notices(pairs),
        *_out_of_pairs(inputs, pits, pairs),
        *_allowance(inputs, planned),
        *_outdone(inputs, pits),
        *checks.odd_run_notices(inputs.trials, inputs.settings.machine.depth_min_cm),
    }
    texts = {row["code"]: row["text"] for row in rows("check_cautions")}
    standing = [Notice("caution", code, text) for code, text in texts.items()]
    which = [notice for notice in told if notice.code in WHICH_PLAN]
    stops = tuple(_stops(inputs, pits))
    first = (*stops, *which, *standing, *_not_cleared(inputs, pits))
    return (*first, *sorted(found - set(which)))


def changed_since(inputs: FieldInputs, planned: PlannedGround) -> list[str]:
    """Return what the plan was made from that is not as it was, by name."""
    now = outputs.digests(
        boundary=inputs.boundary,
        working_crs=inputs.working_crs,
        cone=inputs.cone,
        pits=inputs.pits,
        settings=inputs.settings,
        hazards=inputs.hazards,
        zones=planned.zones,
    )
    changed = [name for name in _PARTS if now[name] != planned.digests.get(name)]
    for role in _LAYERS:
        then = sorted(h for key, h in planned.inputs.items() if key.startswith(f"{role}: "))
        if then != sorted(file.sha256 for file in inputs.files if file.role == role):
            changed.append(role)
    return changed


def _stale(inputs: FieldInputs, planned: PlannedGround) -> Iterator[Notice]:
    changed = [
        name + (_by_page(inputs) if name == "readings" else "")
        for name in changed_since(inputs, planned)
    ]
    if changed:
        text = (
            f"Changed since plan {short_id(planned.plan_id)} was made: {', '.join(changed)}. The "
            "work is judged against that plan as it stands; if the machine worked to another plan, "
            "name it with --plan."
        )
        yield Notice("caution", "check-plan-stale", text)


def _by_page(inputs: FieldInputs) -> str:
    """Return in words which pits of before the work the review page changed; blank for none."""
    pits, gone = inputs.pits, inputs.left_out
    names = {*pits.loc[(pits["phase"] == "before") & (pits["file"] == NAME), "pit"]}
    withdrawn = gone.loc[(gone["pit_phase"] == "before") & (gone["file"] == NAME), "what"]
    names |= {*withdrawn.str.removeprefix("pit ").str.removesuffix(", before")}
    return f" ({checks.pits_named(sorted(names))}, by the review page)" if names else ""


def _from_pits(inputs: FieldInputs, pits: pd.DataFrame, planned: PlannedGround) -> Iterator[Notice]:
    day, named = last_read(inputs)
    earlier = pits["earlier"].astype(bool)
    for (year, now), own in pits[earlier].groupby([pits["date"].str[:4], "of_work"], sort=True):
        one = len(own) == 1
        many = f"{len(own)} pit{'' if one else 's'} of {year}"
        text = f"{many} not judged: dug before {named} ({day}). "
        past = "It judges earlier work and counts" if one else "They judge earlier work and count"
        text += _MISTYPED if now else f"{past} for nothing here."
        yield Notice("caution" if now else "note", "check-pits-of-earlier-work", text)
    unjudged = pits[pits["verdict"].eq("not_judged") & ~earlier]
    if len(unjudged):
        told = " ".join(f"{p.pit}: {p.reason}" for p in unjudged.itertuples())
        yield Notice("note", "check-pits-not-judged", f"Pits not judged: {told}")
    undated = pits.loc[pits["date"] == "", "pit"].tolist()
    if undated:
        text = f"No date at {checks.pits_named(undated)}: taken as dug after the work of this plan."
        yield Notice("note", "check-pits-undated", text)
    yield from _without_ridge(pits)
    if words := checks.worked_where_lifted(pits):
        yield Notice("caution", "check-worked-where-lifted", words)
    if words := checks.pan_where_lifted(pits, planned.zones):
        yield Notice("caution", "check-pan-where-lifted", words)
    yield from _over_hazards(pits)


def _without_ridge(pits: pd.DataFrame) -> Iterator[Notice]:
    """Yield the pits that tell of the pan and not of the ridge, since a loosened depth is blank."""
    depths = pits[["loosened_at_leg_cm", "loosened_between_cm"]]
    worked = pits["verdict"].isin(JUDGED) & (pits["verdict"] != "not_worked")
    bare = pits[worked & depths.isna().any(axis=1)]
    if len(bare):
        names = checks.pits_named(bare["pit"].tolist())
        text = (
            f"The ridge is not told by {names}: measure loosened_at_leg_cm and "
            "loosened_between_cm in every pit, since the ridge says what to change."
        )
        yield Notice("note", "check-ridge-not-told", text)


def _stops(inputs: FieldInputs, pits: pd.DataFrame) -> Iterator[Notice]:
    """Yield what asks to stop at once, the gravest first."""
    yield from _in_keep_off(inputs, pits)
    pits = pits[pits["of_work"].astype(bool)]
    deep = checks.past_caps(pits)
    # One within the keep-off of a service or obstacle was told of it already.
    told = deep["pit"].isin(strikes(inputs, pits).index) & (deep["cap_by"] != "drain")
    for pit in deep[deep["far"] & ~told].to_dict("records"):
        yield Notice("caution", "check-past-cap", checks.stop_words(pit), (str(pit["pit"]),))
    if words := checks.wet_words(pits):
        plastic = tuple(pits.loc[pits["moisture"] == "plastic", "pit"])
        yield Notice("caution", "check-soil-plastic", words, plastic)


def _not_cleared(inputs: FieldInputs, pits: pd.DataFrame) -> Iterator[Notice]:
    notice = notice_cm(inputs.settings)
    now = pits["of_work"].astype(bool)
    own = pits[now & (pits["leg_least_cm"] > notice)]
    deep, doubted = own["pit"].tolist(), own.loc[own["asked"] == "reach", "pit"].tolist()
    if deep:
        text = (
            f"{NOT_CLEARED}: {checks.pits_named(deep)} show{'s' if len(deep) == 1 else ''} work "
            f"deeper than {notice:g} cm, the notice depth (notice_depth_cm), and buried services "
            "were not located. Have them located before a leg goes that deep again."
        )
        if doubted:
            text += f" At {checks.pits_named(doubted)} the depth may be mistyped."
        yield Notice("caution", "check-not-cleared", text, tuple(deep))


def strikes(inputs: FieldInputs, pits: pd.DataFrame) -> pd.Series:
    """Return what is asked at once of pits worked inside a keep-off, in words, by their name."""
    told = pd.DataFrame(_strikes(inputs, pits), columns=["pit", "now", "text"])
    return told[told["now"].astype(bool)].groupby("pit")["text"].agg(" ".join)


def _in_keep_off(inputs: FieldInputs, pits: pd.DataFrame) -> Iterator[Notice]:
    """Yield a caution for each hazard that must be kept off and that a pit was worked beside."""
    for pit, now, text in _strikes(inputs, pits):
        code = "check-worked-in-keep-off" if now else "check-worked-in-keep-off-earlier"
        yield Notice("caution", code, text, (pit,))


def _strikes(inputs: FieldInputs, pits: pd.DataFrame) -> Iterator[tuple[str, bool, str]]:
    """Yield each pit worked inside a keep-off, whether it is of this work, and what is asked."""
    worked = pits[pits["leg_least_cm"] > 0]
    places = gpd.GeoSeries(gpd.points_from_xy(worked["x_m"], worked["y_m"]), crs=inputs.working_crs)
    held = inputs.hazards[inputs.hazards["kind"] != "drain"]
    clear_m = keep_off_m(held["kind"], held["clear_m"], inputs.settings.machine.width_m)
    names = map(checks.called_by, held["kind"], held["name"])
    for name, clear, shape in zip(names, clear_m, held.geometry, strict=True):
        gaps_m = places.distance(shape)
        for pit, gap_m in zip(worked.to_dict("records"), gaps_m, strict=True):
            how = f"loosened {gap_m:.1f} m from the {name}, inside its keep-off of {clear:g} m"
            if gap_m < clear and not pit["of_work"]:
                of = f"Pit {pit['pit']} of {pit['date']}"
                yield pit["pit"], False, f"{of} was {how}: its owner should have been told."
            elif gap_m < clear:
                text = f"Stop: {checks.pit_at(pit)} was {how}. {checks.TOUCHED}"
                yield pit["pit"], True, text


def _over_hazards(pits: pd.DataFrame) -> Iterator[Notice]:
    past = checks.past_caps(pits)
    over = past[~past["far"] & (past["cap_by"] == "drain") & (past["depth_cm"] > 0)]
    if len(over):
        tape = constant("check_rules", "set_depth_tolerance_cm")
        text = (
            f"Worked deeper than a drain allows, within what a tape can tell ({tape:g} cm): "
            f"{checks.pits_named(over['pit'].tolist())}. Look at the outfalls."
        )
        yield Notice("caution", "check-deep-over-drain", text, tuple(over["pit"]))


def _out_of_pairs(inputs: FieldInputs, pits: pd.DataFrame, pairs: pd.DataFrame) -> Iterator[Notice]:
    """Yield which pits the comparison of before and after leaves out, and what that does to it."""
    missed = pits.loc[pits["verdict"] == "not_worked", "pit"].tolist()
    if missed and len(pairs):
        text = f"Left out of before and after, missed strips: {checks.pits_named(missed)}."
        yield Notice("note", "check-missed-not-compared", text)
    after = inputs.pits[(inputs.pits["phase"] == "after") & (inputs.pits["pan"] == "yes")]
    bare = after[after["pan_top_cm"].isna() & ~after["pit"].isin(missed)]
    compared = ((pairs["what"] == "pan_thickness_cm") & (pairs["after"] > 0)).any()
    if compared and len(bare):
        names = by_name(bare, "pit")["pit"].tolist()
        text = (
            f"A pan is seen and no top noted at {checks.pits_named(names)}: left out of the "
            "thickness after the work."
        )
        yield Notice("note", "check-thickness-without-top", text)


def _from_probes(probes: pd.DataFrame, pits: pd.DataFrame, inputs: FieldInputs) -> Iterator[Notice]:
    if probes.empty:
        return
    known = probes[(probes["n_known"] > 0) & (probes["depth_cm"] > 0)]
    still = known[known["verdict"] != "no_pan"]
    done = pits["verdict"].isin(("reached", "too_deep")).sum()
    if len(still) * 2 > len(known) and done * 2 > len(pits):
        where = f"{len(still)} of {len(known)} stations" if len(known) > 1 else "the one station"
        dug = "most pits were" if len(pits) > 1 else "the one pit was"
        text = (
            f"The cone still meets a pan at {where} although {dug} loosened through: pits are "
            "few, or the day was dry. Dig where the cone says."
        )
        yield Notice("caution", "check-cone-disagrees", text)
    before = inputs.cone["station"].nunique()
    if len(probes) < before:
        text = (
            f"{len(probes)} cone stations after the work against {before} before: loosened soil "
            "varies more, so as many or more are needed to see a change."
        )
        yield Notice("note", "check-few-probes", text)


def _allowance(inputs: FieldInputs, planned: PlannedGround) -> Iterator[Notice]:
    now, speed = allowance_cm(inputs), inputs.settings.machine.speed_km_h
    if abs(now - planned.ridge_allowance_cm) < constant("machine_rules", "ridge_same_cm"):
        return
    text = (
        f"The next plan, at {speed:g} km/h, adds {now:g} cm for the ridge between legs, from "
        f"{checks.ridge_curve(inputs.trials).runs_about(speed)}; the plan checked here held "
        f"{planned.ridge_allowance_cm:g} cm. It is added once, by the plan: not at the machine."
    )
    if words := checks.slower_than_tried(checks.ridge_curve(inputs.trials), speed):
        text += f" {words}: before you plan again set speed_km_h to the speed that you go on at."
    yield Notice("note", "check-ridge-allowance", text)


def _outdone(inputs: FieldInputs, pits: pd.DataFrame) -> Iterator[Notice]:
    """Yield that pits at the speed of the plan leave clearly less of a ridge than trial runs."""
    held_cm, speed = allowance_cm(inputs), inputs.settings.machine.speed_km_h
    apart, clear_cm, least = (
        constant("check_rules", name)
        for name in ("speed_apart_km_h", "ridge_clear_cm", "ridge_outdone_least")
    )
    ran = checks.charted(pits[pits["of_work"].astype(bool) & pits["verdict"].isin(JUDGED)])
    own = ran.loc[(ran["speed_km_h"] - speed).abs() < apart, "ridge_cm"].dropna()
    if len(own) < least or held_cm - float(own.mean()) < clear_cm:
        return
    text = (
        f"The trial runs leave a ridge of {held_cm:g} cm at {speed:g} km/h, {len(own)} pits behind "
        f"the machine {tenths(float(own.mean()))} cm. If points, wings or spacing were changed "
        "since the runs, the next plan would go too deep: take those runs out of the file and "
        "write these pits as runs first (docs/howto/check.rst, Plan again)."
    )
    yield Notice("caution", "check-ridge-outdone", text)
