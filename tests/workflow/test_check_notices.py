"""What a check warns of: a plan no longer current, wet soil, hazards, a cone that disagrees."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import shape
from workflow.paged import corrected
from workflow.worked import worked_folder

from zoning.errors import InputRefused
from zoning.outputs.check.words import ABOVE, RUNS, chance_words, stops, told_advice
from zoning.records import open_record
from zoning.workflow import check_work, read_field
from zoning.workflow.records import record_inputs


@pytest.fixture(scope="module")
def slow(plan_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return worked_folder(plan_folder, tmp_path_factory.mktemp("notices") / "slow", "slow")


@pytest.fixture
def folder(slow: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(slow, tmp_path / "field"))


def edit_pits(folder: Path, which: str, **values: str) -> None:
    rows = pd.read_csv(folder / "pits.csv", dtype=str, keep_default_na=False)
    for column, value in values.items():
        rows.loc[rows["pit"].str.match(which), column] = value
    rows.to_csv(folder / "pits.csv", index=False)


def told(folder: Path) -> dict[str, str]:
    return {notice.code: notice.text for notice in check_work(folder).notices}


def test_changed_settings_are_named(folder: Path) -> None:
    path = folder / "field.toml"
    path.write_text(path.read_text().replace("assurance = 0.8", "assurance = 0.9"))
    assert "settings" in told(folder)["check-plan-stale"]


def test_changed_readings_are_named_and_new_after_pits_are_not_changes(folder: Path) -> None:
    edit_pits(folder, "A01", pit="ZZ9", loosened_between_cm="10")
    assert "check-plan-stale" not in told(folder)
    edit_pits(folder, "P2", pan_base_cm="33")
    assert "readings" in told(folder)["check-plan-stale"]


def test_pits_of_before_that_the_page_changed_are_named_among_what_changed(folder: Path) -> None:
    record_inputs(open_record(folder), folder, read_field(folder))
    corrected(folder, "P2", "before", pan="yes", pan_base_cm=33.0)
    assert "readings (pit P2, by the review page)" in told(folder)["check-plan-stale"]
    corrected(folder, "P4", "before", withdrawn="yes")
    assert "readings (pits P2 and P4, by the review page)" in told(folder)["check-plan-stale"]


def test_pits_without_a_date_are_named(folder: Path) -> None:
    assert "check-pits-undated" not in told(folder)
    edit_pits(folder, "A0[12]$", date="")
    words = "No date at pits A01 and A02: taken as dug after the work of this plan."
    assert told(folder)["check-pits-undated"] == words


def test_changed_layers_are_named(folder: Path) -> None:
    text = (folder / "gateways.geojson").read_text()
    (folder / "gateways.geojson").write_text(text + "\n")
    assert "gateways" in told(folder)["check-plan-stale"]


def test_plastic_soil_comes_as_a_caution(folder: Path) -> None:
    edit_pits(folder, "A0[12]", moisture="plastic")
    found = {n.code: n for n in check_work(folder).notices}
    assert found["check-soil-plastic"].level == "caution"
    assert "plastic in pits A01 and A02." in found["check-soil-plastic"].text
    assert found["check-soil-plastic"].pits == ("A01", "A02")


def test_plastic_soil_stands_before_every_other_caution(folder: Path) -> None:
    edit_pits(folder, "A03", moisture="plastic")
    check = check_work(folder)
    assert check.notices[0].code == "check-soil-plastic"
    assert check.advice.iloc[0]["step"] == "stop"
    assert "A03" in check.advice.iloc[0]["text"]


def over_the_drain(folder: Path, leg_cm: str, between_cm: str, base_cm: str = "") -> None:
    """Put pit A01 into the run along the drain."""
    layer = json.loads((folder / "hazards.geojson").read_text())
    (drain,) = [f for f in layer["features"] if f["properties"]["kind"] == "drain"]
    ends = drain["geometry"]["coordinates"]
    lon, lat = ((a + b) / 2 for a, b in zip(*ends, strict=True))
    pan = "yes" if base_cm else ""
    edit_pits(
        folder, "A01", lon=f"{lon}", lat=f"{lat}", loosened_at_leg_cm=leg_cm, pan=pan,
        loosened_between_cm=between_cm, pan_base_cm=base_cm,
    )  # fmt: skip


def test_a_leg_past_the_cap_of_a_drain_is_told_first(folder: Path) -> None:
    over_the_drain(folder, "43", "30")
    check = check_work(folder)
    first = check.notices[0]
    assert first.code == "check-past-cap"
    # The words outlive the plan that the zones are of: they say the place and the hazard by name.
    lon, lat = check.inputs.pits.set_index("pit").loc["A01", ["lon", "lat"]]
    assert first.text.startswith(
        f"Stop: pit A01 at lon {lon:.6f}, lat {lat:.6f} was loosened 43 cm deep, where the drain "
        "(stone drain) holds the work at 30 cm. Find out whether it was touched"
    )
    stops = check.advice.loc[check.advice["step"] == "stop", "text"]
    assert not stops.str.contains(r"\bzone", regex=True).any()
    assert check.advice.iloc[0][["where", "step"]].tolist() == ["whole field", "stop"]


def test_a_pan_left_beside_the_drain_is_as_planned_and_nobody_is_sent_deeper(
    folder: Path,
) -> None:
    over_the_drain(folder, "30", "28", base_cm="38")
    check = check_work(folder)
    pit = check.pits.set_index("pit").loc["A01"]
    assert pit["verdict"] == "held"
    zone = check.zones.set_index("zone").loc[pit["zone"]]
    assert zone[["verdict", "cap_cm"]].tolist() == ["held", 30.0]
    assert zone["assurance"] < 0.5
    own = check.advice[check.advice["where"] == "30 cm, held by a drain"]
    assert own["step"].tolist() == ["hold"]
    assert "Do not go deeper" in own["text"].iloc[0]
    held = check.zones.loc[check.zones["verdict"] == "held", "zone"]
    assert not set(check.dig_next["zone"]) & set(held)
    # Services were not located, and the notice depth is 30 cm: no depth may be named below it.
    assert not check.advice["text"].str.contains(r"Set \d", regex=True).any()


def test_no_advice_goes_below_a_drain_drawn_across_the_field(folder: Path) -> None:
    path = folder / "field.toml"
    text = path.read_text().replace('services = "records"', 'services = "located"')
    # A foot so wide that it bounds no depth.
    path.write_text(re.sub(r"foot_width_cm = .*", "foot_width_cm = 12", text))
    layer = json.loads((folder / "hazards.geojson").read_text())
    (drain,) = [f for f in layer["features"] if f["properties"]["kind"] == "drain"]
    outline = shape(
        json.loads((folder / "boundary.geojson").read_text())["features"][0]["geometry"]
    )
    west, south, east, north = outline.bounds
    across = {"type": "LineString", "coordinates": [[west, south], [east, north]]}
    facts = drain["properties"] | {"name": "new tile", "depth_cm": 55, "clear_m": 2}
    layer["features"].append(drain | {"properties": facts, "geometry": across})
    (folder / "hazards.geojson").write_text(json.dumps(layer))
    edit_pits(folder, "A", pan="yes", pan_base_cm="58", speed_km_h="10")
    check = check_work(folder)
    near = gpd.GeoSeries([shape(across)], crs=4326).to_crs(check.working_crs).iloc[0].buffer(2)
    crossed = check.zones[check.zones.intersects(near) & (check.zones["depth_cm"] > 0)]
    assert len(crossed)
    # 15 cm above the drain stay untouched: shared/tables/part_rules.csv.
    assert (crossed["cap_cm"] <= 40.0).all()
    bound = crossed.groupby(crossed["depth_cm"].map("{:g} cm".format))["cap_cm"].min()
    told = check.advice["text"].str.extract(r"Set ([\d.]+) cm", expand=False).astype(float)
    advised = check.advice.assign(to=told).dropna(subset="to")
    for row in advised.itertuples():
        assert row.to <= bound.get(row.where, 50.0)
    assert check.advice["text"].str.contains("a drain allows no more than 40 cm beside it").any()


def test_pits_deeper_than_the_notice_depth_are_named_until_services_are_located(
    folder: Path,
) -> None:
    edit_pits(folder, "A01", loosened_at_leg_cm="30", loosened_between_cm="20")
    edit_pits(folder, "A02", loosened_at_leg_cm="30.5", loosened_between_cm="20")
    found = told(folder)["check-not-cleared"]
    assert "A02" in found
    assert "A01" not in found
    assert "NOT CLEARED: pits A02, " in found
    assert " show work deeper than 30 cm" in found
    assert "mistyped" not in found
    edit_pits(folder, "A02", loosened_at_leg_cm="90", loosened_between_cm="85")
    assert told(folder)["check-not-cleared"].endswith("At pit A02 the depth may be mistyped.")
    path = folder / "field.toml"
    path.write_text(path.read_text().replace('services = "records"', 'services = "located"'))
    assert "check-not-cleared" not in told(folder)


def test_pits_dug_before_the_readings_are_listed_not_lost(folder: Path) -> None:
    edit_pits(folder, "A", date="2026-01-05")
    check = check_work(folder)
    assert set(check.pits["verdict"]) == {"not_judged"}
    assert check.groups.iloc[0]["verdict"] == "cannot_tell"
    notes = {n.code: n.text for n in check.notices}
    assert notes["check-pits-of-earlier-work"].startswith(f"{len(check.pits)} pits of 2026 not ")
    assert "check-pits-not-judged" not in notes
    assert not any(n.text.startswith("Stop") for n in check.notices)


def test_a_pit_far_outside_is_listed_by_the_reader(folder: Path) -> None:
    edit_pits(folder, "A01", lon="0.83")
    check = check_work(folder)
    assert "A01" not in set(check.pits["pit"])
    assert check.inputs.left_out["what"].str.contains("A01").any()


def test_the_cautions_that_always_stand_come_first(slow: Path) -> None:
    notices = check_work(slow).notices
    assert [n.code for n in notices[:3]] == ["check-digging", "check-driving", "check-words"]
    assert all(n.level == "caution" for n in notices[:3])
    levels = [n.level for n in notices]
    assert levels == sorted(levels)


def test_fewer_cone_stations_than_before_are_too_few_to_see_a_change(slow: Path) -> None:
    assert "16 cone stations" in told(slow)["check-few-probes"]


def test_a_dry_day_after_the_work_is_warned_of(folder: Path) -> None:
    rows = pd.read_csv(folder / "cone_after.csv", dtype=str, keep_default_na=False)
    rows.assign(moisture="dry").to_csv(folder / "cone_after.csv", index=False)
    assert "friable before and dry after" in told(folder)["check-moisture-differs"]


def test_work_inside_a_keep_off_is_told_first_with_the_name_of_what_lies_there(
    folder: Path,
) -> None:
    layer = json.loads((folder / "hazards.geojson").read_text())
    (pipe,) = [f for f in layer["features"] if f["properties"]["kind"] == "service"]
    lon, lat = pipe["geometry"]["coordinates"][0]
    edit_pits(folder, "A01", lon=f"{lon}", lat=f"{lat}", loosened_at_leg_cm="35")
    check = check_work(folder)
    first = check.notices[0]
    assert first.code == "check-worked-in-keep-off"
    at = f"lon {lon:.6f}, lat {lat:.6f}"
    assert f"Stop: pit A01 at {at} was loosened 0.0 m from the service (water pipe)" in first.text
    assert "keep-off of 3 m" in first.text
    # The advice says the same, in the same words, and sends nobody to dig for it.
    stops = check.advice[check.advice["step"] == "stop"]
    assert set(stops["text"]) == {first.text}
    assert "Find out whether it was touched, and tell its owner" in first.text
    zone = check.pits.set_index("pit").loc["A01", "zone"]
    assert stops["zones"].map(lambda zones: zones == (zone,)).all()


def test_what_before_and_after_leaves_out_is_told(folder: Path) -> None:
    edit_pits(folder, "A01", pan="yes", pan_base_cm="30", loosened_at_leg_cm="0",
              loosened_between_cm="0")  # fmt: skip
    check = check_work(folder)
    notices = {notice.code: notice.text for notice in check.notices}
    assert notices["check-missed-not-compared"] == (
        "Left out of before and after, missed strips: pit A01."
    )
    assert not check.pairs["name_after"].str.contains("A01").any()
    bare = notices.get("check-thickness-without-top", "")
    assert "A01" not in bare


def test_a_pit_without_a_loosened_depth_is_named_since_its_ridge_is_not_told(folder: Path) -> None:
    edit_pits(folder, "A0[67]", loosened_between_cm="")
    edit_pits(folder, "A08", loosened_at_leg_cm="", loosened_between_cm="", pan="no")
    text = told(folder)["check-ridge-not-told"]
    assert text.startswith("The ridge is not told by pits A06, A07 and A08: measure loosened_at")


def test_where_no_pit_shows_a_ridge_it_is_that_of_the_trial_runs_else_of_geometry(
    folder: Path,
) -> None:
    edit_pits(folder, "A", loosened_between_cm="")
    rows = pd.read_csv(folder / "pits.csv", dtype=str, keep_default_na=False)
    rows[~rows["pit"].str.match("A(0[789]|[12])")].to_csv(folder / "pits.csv", index=False)
    by_runs = check_work(folder)
    placed = by_runs.dig_next[by_runs.dig_next["ridge_from"] != ""]
    assert set(placed["ridge_from"]) == {"trial_runs"}
    assert placed["ridge_cm"].unique().tolist() == [pytest.approx(by_runs.ridge_allowance_cm)]
    path = folder / "field.toml"
    path.write_text(path.read_text().replace('trials = "trials.csv"\n', ""))
    check = check_work(folder)
    placed = check.dig_next[check.dig_next["ridge_from"] != ""]
    assert set(placed["ridge_from"]) == {"leg_spacing"}
    # Soil breaks at 45 degrees from the edge of the foot: half the gap between two feet stays.
    machine = check.settings.machine
    half_gap_cm = (machine.leg_spacing_cm - machine.foot_width_cm) / 2.0
    assert placed["ridge_cm"].unique().tolist() == [pytest.approx(half_gap_cm)]
    assert placed["chance_between"].max() < by_runs.dig_next["chance_between"].max()
    assert "no pit that counts has shown a ridge" in chance_words(check)


def test_pits_with_clearly_less_of_a_ridge_doubt_the_trial_runs(folder: Path) -> None:
    edit_pits(folder, "A", loosened_at_leg_cm="40", loosened_between_cm="37", speed_km_h="8")
    runs = pd.read_csv(folder / "trials.csv")
    for ridge_cm, doubted in ((4.5, False), (5.5, True)):  # 2 cm is clearly less
        ridged = runs.assign(loosened_between_cm=runs["loosened_at_leg_cm"] - ridge_cm)
        ridged.to_csv(folder / "trials.csv", index=False)
        notices = told(folder)
        assert ("check-ridge-outdone" in notices) == doubted
    text = notices["check-ridge-outdone"]
    assert text.startswith("The trial runs leave a ridge of 5.5 cm at 8 km/h, ")
    assert "pits behind the machine 3 cm. If points, wings or spacing were changed since" in text
    edit_pits(folder, "A", speed_km_h="5")
    assert "check-ridge-outdone" not in told(folder)


def test_the_next_plans_ridge_names_the_trial_runs_that_it_is_taken_from(folder: Path) -> None:
    path = folder / "field.toml"  # runs at 4, 6, 8 and 10 km/h
    path.write_text(path.read_text().replace("speed_km_h = 8", "speed_km_h = 7"))
    text = told(folder)["check-ridge-allowance"]
    assert text.startswith("The next plan, at 7 km/h, adds ")
    assert "from the trial runs at 6 and 8 km/h; the plan checked here held 0 cm" in text
    assert text.endswith("not at the machine.")
    path.write_text(path.read_text().replace("speed_km_h = 7", "speed_km_h = 3"))
    text = told(folder)["check-ridge-allowance"]
    assert text.endswith("before you plan again set speed_km_h to the speed that you go on at.")


def test_every_stop_of_the_advice_stands_at_the_head_and_is_pointed_to_once(folder: Path) -> None:
    over_the_drain(folder, "38", "37")
    edit_pits(folder, "A0[69]", moisture="plastic")
    check = check_work(folder)
    asked = check.advice[check.advice["step"] == "stop"]
    assert len(asked) > 1
    head = " ".join(stops(check)).casefold()
    for text in asked["text"]:
        assert text.removeprefix("Stop: ").casefold() in head
    listed = told_advice(check)
    assert listed.loc[listed["step"] == "stop", "text"].tolist() == [ABOVE.format(RUNS)]


def test_a_pit_of_before_that_makes_all_others_earlier_work_is_named(folder: Path) -> None:
    edit_pits(folder, "P2", date="2026-10-30")
    notice = next(n for n in check_work(folder).notices if n.code == "check-pits-of-earlier-work")
    assert notice.level == "caution"
    assert "pit P2 in pits.csv, row " in notice.text
    assert "(2026-10-30). Is that date mistyped, or are theirs, or were two dates" in notice.text
    assert "out of pits.csv" not in notice.text
    assert "no row need be taken out" in notice.text


def test_the_only_pit_of_after_lies_outside_and_is_named_with_the_reason(folder: Path) -> None:
    rows = pd.read_csv(folder / "pits.csv", dtype=str, keep_default_na=False)
    after = rows.index[rows["phase"] == "after"]
    rows = rows.drop(after[1:])
    path = folder / "field.toml"
    path.write_text(re.sub(r"(?m)^cone_after.*\n", "", path.read_text()))
    rows.loc[after[0], "lat"] = str(float(rows["lat"].astype(float).max()) + 0.01)
    rows.to_csv(folder / "pits.csv", index=False)
    with pytest.raises(InputRefused, match=rf"pit {rows.loc[after[0], 'pit']} \(after\), row"):
        check_work(folder)


def test_cone_readings_after_without_a_pit_are_judged_as_they_are(folder: Path) -> None:
    rows = pd.read_csv(folder / "pits.csv", dtype=str, keep_default_na=False)
    rows[rows["phase"] != "after"].to_csv(folder / "pits.csv", index=False)
    check = check_work(folder)
    assert check.pits.empty
    assert len(check.probes)
