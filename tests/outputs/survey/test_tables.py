from __future__ import annotations

import csv
import io

import pytest
from survey_drawn import MACHINE, drawn_survey

from zoning.model.settings import MachineSection
from zoning.outputs.survey.tables import (
    form_depths_cm,
    lonlat_of,
    pit_form_csv,
    placed_rows,
    stations_csv,
)
from zoning.readings.cone import read_cone
from zoning.readings.files import Blob
from zoning.readings.pits import read_pits


def rows_of(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))


def test_four_rows_a_station_in_walking_order_with_a_column_a_depth() -> None:
    rows = rows_of(stations_csv(drawn_survey()))
    assert [row["station"] for row in rows] == ["S01"] * 4 + ["S02"] * 4 + ["S03"] * 4
    assert [row["insertion"] for row in rows[:4]] == ["1", "2", "3", "4"]
    depths = [name for name in rows[0] if name.endswith(" cm")]
    assert depths == [f"{depth:g} cm" for depth in form_depths_cm(MACHINE, 5.0)]
    assert float(rows[0]["lat"]) == pytest.approx(52.2, abs=0.05)


def test_depths_reach_below_the_machine() -> None:
    assert form_depths_cm(MACHINE, 5.0)[-1] == 55.0
    assert form_depths_cm(MachineSection(depth_max_cm=120), 5.0)[-1] == 80.0
    assert form_depths_cm(MachineSection(depth_max_cm=42.5), 5.0)[-1] == 55.0


def test_a_finer_step_is_taken_where_its_columns_have_room() -> None:
    fine = form_depths_cm(MACHINE, 2.5)
    assert (fine[0], fine[1], fine[-1], len(fine)) == (2.5, 5.0, 55.0, 22)
    deep = form_depths_cm(MachineSection(depth_max_cm=70), 2.5)
    assert (deep[0], deep[-1]) == (5.0, 80.0)
    rows = rows_of(stations_csv(drawn_survey(form_step_cm=2.5)))
    assert "2.5 cm" in rows[0]


def test_pits_have_the_contract_columns_and_phase_before() -> None:
    rows = rows_of(pit_form_csv(drawn_survey()))
    assert [(row["pit"], row["phase"], row["part"]) for row in rows] == [("P01", "before", "body")]


@pytest.mark.parametrize("step_cm", [2.5, 5.0])
def test_both_forms_are_read_without_a_fault_blank_as_they_are(step_cm: float) -> None:
    survey = drawn_survey(form_step_cm=step_cm)
    cone = read_cone(
        Blob("cone", "stations.csv", stations_csv(survey)),
        cone_unit="MPa",
        crs_given=False,
        areas=(),
    )
    pits = read_pits(Blob("pits", "pit_form.csv", pit_form_csv(survey)), crs_given=False, areas=())
    assert cone.faults == ()
    assert pits.faults == ()
    assert cone.frame["cone_index_mpa"].isna().all()


def test_a_name_that_a_spreadsheet_would_run_is_left_blank() -> None:
    rows = rows_of(stations_csv(drawn_survey(part='=HYPERLINK("x")')))
    assert rows[0]["part"] == ""
    assert rows[4]["part"] == "body"


def test_places_are_those_proposed() -> None:
    survey = drawn_survey()
    lonlat = lonlat_of(survey.proposed, survey.working_crs)
    placed = [(float(row.lon), float(row.lat)) for row in placed_rows(survey)]
    assert placed == lonlat
