"""A plan held against itself, against the rules of a plan, and against its field as it is now."""

from __future__ import annotations

import dataclasses
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import pytest
from invariants.fields import plan_folders
from shapely.affinity import translate

import zoning
from zoning.errors import Fault, InputRefused
from zoning.model import Notice, Plan
from zoning.outputs import ReadBack, read_back
from zoning.outputs.bars import STANDING
from zoning.workflow import verify_plan, verify_plans
from zoning.workflow.records import record_plan
from zoning.workflow.verify import _not_cleared, _rule_faults, each_once

SAMPLE = Path(__file__).parents[2] / "sample_data" / "teasel_piece"


@pytest.fixture(scope="module")
def plan_folder(sample_plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("verified") / "plan"
    zoning.write_plan(sample_plan, folder)
    return folder


@pytest.fixture(scope="module")
def read(plan_folder: Path) -> ReadBack:
    return read_back(plan_folder)[0]


def replaced(old: str, new: str) -> Callable[[str], str]:
    def change(text: str) -> str:
        assert old in text
        return text.replace(old, new, 1)

    return change


def edit(folder: Path, name: str, change: Callable[[str], str]) -> None:
    path = folder / name
    path.write_text(change(path.read_text()))


def with_zones(read: ReadBack, change: Callable[[gpd.GeoDataFrame], gpd.GeoDataFrame]) -> ReadBack:
    return dataclasses.replace(read, layers={**read.layers, "zones": change(read.layers["zones"])})


def test_the_plan_of_the_sample_field_is_whole_and_of_that_field(
    plan_folder: Path, sample_plan: Plan
) -> None:
    verified = verify_plan(plan_folder, SAMPLE)
    assert verified.faults == ()
    assert verified.notes == ()
    assert verified.plan_id == sample_plan.plan_id
    assert verified.zones == len(sample_plan.zones)


def test_without_a_field_folder_that_is_said(plan_folder: Path) -> None:
    assert "--field" in verify_plan(plan_folder).notes[0]


def test_no_plan_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="no plan here"):
        verify_plan(tmp_path)


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("cone.csv", lambda text: text.rsplit("\n", 2)[0] + "\n", "cone readings"),
        ("field.toml", replaced("assurance = 0.8", "assurance = 0.9"), "settings"),
        ("field.toml", replaced("depth_max_cm = 50", "depth_max_cm = 45"), "settings"),
        ("hazards.geojson", replaced('"clear_m"', '"clear_m_"'), "drains"),
        ("wheelings.geojson", replaced("0.80", "0.81"), "wheelings"),
    ],
)
def test_a_change_of_the_field_since_is_named(
    plan_folder: Path, copied: Path, name: str, change: Callable[[str], str], words: str
) -> None:
    edit(copied, name, change)
    try:
        faults = verify_plan(plan_folder, copied).faults
    except InputRefused as refused:  # a change that the reader itself refuses is named too
        faults = refused.faults
    assert any(words in str(each).lower() or name in each.file for each in faults)
    assert any(name in str(each) for each in faults)


def test_prices_alone_change_no_depth_and_the_keys_are_named(
    plan_folder: Path, copied: Path, tmp_path: Path
) -> None:
    edit(copied, "field.toml", replaced("fuel_per_l = 1.1", "fuel_per_l = 1.4"))
    (told,) = verify_plan(plan_folder, copied).faults
    assert "[costs] fuel_per_l 1.1, now 1.4." in told.what
    assert told.remedy.startswith("Prices only: no depth changes")
    zoning.write_plan(zoning.make_plan(zoning.read_field(copied)), tmp_path / "dearer")
    for name in ("depth_grid.csv", "depth_passes.csv"):
        assert (tmp_path / "dearer" / name).read_bytes() == (plan_folder / name).read_bytes()
    edit(copied, "field.toml", replaced("assurance = 0.8", "assurance = 0.9"))
    (told,) = verify_plan(plan_folder, copied).faults
    assert "[costs] fuel_per_l 1.1, now 1.4; [depth] assurance 0.8, now 0.9." in told.what
    assert "Prices only" not in told.remedy


def test_a_sent_file_is_told_beside_the_plan(plan_folder: Path, tmp_path: Path) -> None:
    sent = Path(shutil.copy(plan_folder / "depth_grid.csv", tmp_path / "from_us.csv"))
    verified = verify_plan(plan_folder, sent=[sent])
    assert verified.faults == ()
    assert verified.notes[0].startswith(f"{sent}: depth_grid.csv of plan ")
    edit(tmp_path, sent.name, lambda text: f"{text.rstrip().rpartition(',')[0]},99.00")
    (told,) = verify_plan(plan_folder, sent=[sent]).faults
    assert told.file == str(sent)
    assert ", 99 where " in told.what


def test_a_note_changed_or_a_file_renamed_is_no_fault(plan_folder: Path, copied: Path) -> None:
    edit(copied, "pits.csv", lambda text: text.rstrip("\n") + " again\n")
    (copied / "cone.csv").rename(copied / "log.csv")
    edit(copied, "field.toml", replaced('"cone.csv"', '"log.csv"'))
    verified = verify_plan(plan_folder, copied)
    assert verified.faults == ()
    assert "pits.csv" in verified.notes[0]


def test_a_file_of_two_roles_is_named_once() -> None:
    assert each_once({"cone": "log.xlsx", "pits": "log.xlsx", "hazards": "a.csv"}) == (
        "a.csv, log.xlsx"
    )


def test_a_list_of_files_that_grew_names_the_one_that_is_new(
    plan_folder: Path, copied: Path
) -> None:
    pits = (copied / "pits.csv").read_text()
    header, row = pits.splitlines()[:2]
    after = row.replace(",before,", ",after,")
    (copied / "dug_after.csv").write_text(f"{header}\n{after}\n")
    edit(
        copied, "field.toml", replaced('pits = "pits.csv"', 'pits = ["pits.csv", "dug_after.csv"]')
    )
    verified = verify_plan(plan_folder, copied)
    assert verified.faults == ()
    assert "dug_after.csv (new in field.toml)" in verified.notes[0]
    assert " pits.csv" not in verified.notes[0]


def test_the_plan_of_another_field_is_refused(plan_folder: Path, copied: Path) -> None:
    edit(copied, "field.toml", replaced('name = "Teasel', 'name = "Linnet'))
    assert any("settings" in each.what for each in verify_plan(plan_folder, copied).faults)


@pytest.mark.parametrize("depth_cm", [12.5, 33.0, 52.5, -2.5, float("nan")])
def test_a_depth_that_the_machine_cannot_hold_is_found(read: ReadBack, depth_cm: float) -> None:
    changed = with_zones(read, lambda zones: zones.assign(depth_cm=depth_cm))
    assert any("no setting" in each.what for each in _rule_faults(changed))


def test_work_near_a_service_and_below_the_cap_of_a_drain_is_found(read: ReadBack) -> None:
    changed = with_zones(read, lambda zones: zones.assign(depth_cm=50.0))
    told = " ".join(each.what for each in _rule_faults(changed))
    assert "allowed at a drain" in told
    assert "0 cm allowed at a service" in told


def test_a_drain_beside_its_place_is_found(read: ReadBack) -> None:
    hazards = read.layers["hazards"]
    moved = hazards.set_geometry([translate(g, 60, 40) for g in hazards.geometry])
    changed = dataclasses.replace(read, layers={**read.layers, "hazards": moved})
    assert any("allowed at a" in each.what for each in _rule_faults(changed))


def test_a_word_on_services_that_does_not_fit_is_found(read: ReadBack) -> None:
    changed = with_zones(read, lambda zones: zones.assign(cleared="located"))
    assert any("not the word on services" in each.what for each in _rule_faults(changed))


def test_verifying_writes_nothing(plan_folder: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(plan_folder, tmp_path / "plan"))
    before = {path.name: path.stat().st_mtime_ns for path in folder.iterdir()}
    verify_plan(folder)
    assert {path.name: path.stat().st_mtime_ns for path in folder.iterdir()} == before


def test_that_the_record_of_the_field_holds_a_newer_plan_is_noted(
    plan_folder: Path, copied: Path, sample_plan: Plan
) -> None:
    record_plan(copied, sample_plan)
    assert verify_plan(plan_folder, copied).notes == ()
    record_plan(copied, dataclasses.replace(sample_plan, plan_id="ab" * 32))
    verified = verify_plan(plan_folder, copied)
    assert verified.faults == ()
    assert verified.notes[0].startswith(
        "Not the newest plan of the field: by its record that is ab"
    )
    record_plan(copied, sample_plan)  # given out again
    assert verify_plan(plan_folder, copied).notes == ()


@pytest.mark.parametrize("name", ["operator_sheet.pdf", "depth_zones.geojson", "depth_grid.csv"])
def test_a_file_of_a_plan_that_was_replaced_is_known_by_the_record_below_a_farm(
    plan_folder: Path, copied: Path, sample_plan: Plan, tmp_path: Path, name: str
) -> None:
    """A sheet of the cab, held against the farm by a clerk who does not know the field."""
    sent = shutil.copy(plan_folder / name, tmp_path / f"{sample_plan.plan_id[:8]}_{name}")
    newer = dataclasses.replace(sample_plan, plan_id="ab" * 32)
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "records.gpkg").write_bytes(b"SQLite format 3\x00")
    record_plan(copied, newer)
    document = json.loads((plan_folder / "plan.json").read_text())
    (copied / "plan").mkdir()
    (copied / "plan" / "plan.json").write_text(
        json.dumps(document | {"plan_id": newer.plan_id, "outputs": []})
    )
    assert "of none of the 1 plans below" in lost(tmp_path, sent).what
    record_plan(copied, sample_plan)
    assert "of none of the 1 plans below" in lost(tmp_path, sent).what  # the last that was issued
    record_plan(copied, newer)
    fault = lost(tmp_path, sent)
    assert fault.what.startswith(f"Of plan {sample_plan.plan_id[:8]} (")
    assert f"of {sample_plan.settings.field.name}, replaced by abababab (" in fault.what
    assert fault.remedy.startswith("Take it out of the cab")
    gone = tmp_path / f"gone_{name}_{sample_plan.plan_id[:8]}.csv"
    assert lost(tmp_path, gone).what == "There is no such file."


@pytest.mark.parametrize("kept", ["plan_of_monday", "field/plan_of_monday"])
def test_a_copy_of_the_replaced_plan_below_the_farm_does_not_pass_its_files(
    plan_folder: Path, copied: Path, sample_plan: Plan, tmp_path: Path, kept: str
) -> None:
    farm = tmp_path / "farm"
    shutil.copytree(copied, farm / "field")
    shutil.copytree(plan_folder, farm / kept)
    sent = shutil.copy(plan_folder / "depth_grid.csv", tmp_path / "grid.csv")
    record_plan(farm / "field", sample_plan)
    plans, none = verify_plans(farm, sent=[sent])
    assert ([each.plan_id for each in plans], none) == ([sample_plan.plan_id], ())
    record_plan(farm / "field", dataclasses.replace(sample_plan, plan_id="ab" * 32))
    assert "replaced by abababab (" in lost(farm, sent).what
    # The copy itself, named on purpose, is still what the file is held against.
    assert verify_plans(farm / kept, sent=[sent])[0][0].faults == ()


def lost(farm: Path, sent: str | Path) -> Fault:
    """Return why a sent file is of no plan below a farm."""
    plans, (told,) = verify_plans(farm, sent=[sent])
    assert plans == ()
    return told


def test_each_sent_file_is_held_against_the_plan_that_it_is_of(tmp_path: Path) -> None:
    """Files of two fields and one of neither, mixed: each has the answer that it has alone."""
    (one, _), (two, _) = plan_folders(1, 2, tmp_path / "farm")
    of = [(two, "depth_grid.csv"), (one, "depth_passes.csv"), (two, "operator_sheet.pdf")]
    sent = [Path(shutil.copy(at / name, tmp_path / f"{at.name}_{name}")) for at, name in of]
    strange = tmp_path / "strange.csv"
    strange.write_text("lon,lat,depth_cm\r\n")
    (second, first), told = verify_plans(tmp_path / "farm", sent=[strange, *sent])
    assert [each.file for each in told] == [str(strange)]
    assert second == verify_plan(two, sent=[sent[0], sent[2]])
    assert first == verify_plan(one, sent=[sent[1]])
    assert first.faults == second.faults == ()


def test_a_plan_that_is_not_cleared_says_so_and_which_files_do_not(
    plan_folder: Path, read: ReadBack, tmp_path: Path
) -> None:
    held = sum(zone["cleared"] == "NOT CLEARED" for zone in read.document["zones"])
    assert held
    words = f"NOT CLEARED: {held} of {len(read.document['zones'])} zones, "
    sent = shutil.copy(plan_folder / "depth_grid.csv", tmp_path / "for_cab.csv")
    verified = verify_plan(plan_folder, sent=[sent])
    assert verified.faults == ()
    assert verified.not_cleared.startswith(words)
    assert "keep back depth_grid.csv" in verified.not_cleared
    assert _not_cleared(with_zones(read, lambda zones: zones.assign(cleared="located"))) == ""
    assert _not_cleared(with_zones(read, lambda zones: zones.drop(columns="area_ha"))) == ""


def test_a_stop_that_leads_the_plan_is_told_with_what_was_given_out_before(
    plan_folder: Path, sample_plan: Plan, tmp_path: Path
) -> None:
    words = "STOP, by the check of 2026-09-10 against plan 13ba47c3: pit B was loosened 40 cm deep."
    stop = Notice("caution", STANDING, words, ("B",))
    stopped = dataclasses.replace(sample_plan, notices=(stop, *sample_plan.notices))
    zoning.write_plan(stopped, tmp_path / "plan")
    told = verify_plan(tmp_path / "plan", sent=(plan_folder / "operator_sheet.pdf",))
    assert told.plan_id == sample_plan.plan_id, "the number is that of the old sheet"
    assert len(told.faults) == 1
    assert told.notes[:2] == (
        words,
        "Files given out before that bear the same number and lack it: take them back.",
    )
    assert not any("STOP" in note for note in verify_plan(plan_folder).notes)


def test_a_record_that_cannot_be_read_keeps_no_plan_from_being_verified(
    plan_folder: Path, copied: Path
) -> None:
    (copied / "records.gpkg").write_bytes(b"SQLite format 3\x00")
    verified = verify_plan(plan_folder, copied)
    assert verified.faults == ()
    assert "season record cannot be read" in verified.notes[0]
