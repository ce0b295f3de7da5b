from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

import zoning
from zoning import workflow
from zoning.contracts import constant
from zoning.errors import OutputFailed, PlanRefused
from zoning.model import FieldInputs, Survey
from zoning.workflow import Wish


@pytest.fixture(scope="module")
def next_survey(sample_inputs: FieldInputs) -> Survey:
    return workflow.propose_stations(sample_inputs, Wish(stations=6))


@pytest.fixture
def bare(copied: Path) -> Path:
    """Return the sample field without a reading."""
    toml = copied / "field.toml"
    lines = toml.read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in lines if not line.startswith(("cone =", "pits ="))]
    toml.write_text("".join(kept), encoding="utf-8")
    return copied


def test_next_stations_stand_where_they_may(next_survey: Survey) -> None:
    proposed = next_survey.proposed
    assert len(proposed) == 6
    assert not next_survey.first
    assert not shapely.intersects(
        next_survey.keep_off.union_all(), proposed.geometry.to_numpy()
    ).any()
    for part, place in zip(proposed["part"], proposed.geometry, strict=True):
        ground = next_survey.parts.geometry[next_survey.parts["part"] == part].iloc[0]
        assert ground.covers(place)


def test_next_stations_spread_out(next_survey: Survey) -> None:
    xy = shapely.get_coordinates(next_survey.proposed.geometry.to_numpy())
    taken = shapely.get_coordinates(next_survey.taken.geometry.to_numpy())
    area_m2, share = next_survey.boundary.area, constant("survey_rules", "next_apart_share")
    for count, others in ((6, xy), (6 + len(taken), taken)):
        gap = np.hypot(*(xy[:, None] - others[None]).transpose(2, 0, 1))
        assert gap[gap > 0].min() >= share * np.sqrt(area_m2 / count)


def test_the_form_is_as_fine_as_the_field_s_own_log(
    sample_inputs: FieldInputs, next_survey: Survey
) -> None:
    cone = sample_inputs.cone
    steps = cone.sort_values("depth_cm").groupby("insertion_id")["depth_cm"].diff().median()
    assert steps == 2.5
    assert next_survey.facts["form_step_cm"] == 2.5
    coarse = replace(sample_inputs, cone=cone[cone["depth_cm"] % 5 == 0])
    assert workflow.propose_stations(coarse, Wish(stations=1)).facts["form_step_cm"] == 5.0


def test_names_go_on_from_those_of_the_field(next_survey: Survey) -> None:
    taken = set(next_survey.taken["station"])
    assert not taken & {*next_survey.proposed["station"], *next_survey.proposed["pit"]}
    assert next_survey.proposed["station"].is_unique


def test_the_gain_is_told_in_the_terms_of_the_plan(next_survey: Survey) -> None:
    facts = next_survey.facts
    gains = next_survey.proposed.sort_values("rank")["gain_cm_ha"]
    assert float(facts["gain_cm_ha"]) == pytest.approx(gains.sum())
    assert 0 < float(facts["gain_cm_ha"]) < float(facts["loss_now_cm_ha"])
    assert 0 < float(facts["change_area_ha"]) < next_survey.boundary.area / 1e4
    assert float(facts["change_fuel_moved_l"]) >= abs(float(facts["change_fuel_l"]))
    assert facts["currency"] == "EUR"


def test_a_costly_station_is_left_out(sample_inputs: FieldInputs, next_survey: Survey) -> None:
    price = float(next_survey.facts["gain_money"]) / float(next_survey.facts["gain_cm_ha"])
    cost = price * float(next_survey.proposed["gain_cm_ha"].median())
    held = workflow.propose_stations(sample_inputs, Wish(stations=6, station_cost=cost))
    assert 0 < len(held.proposed) < 6
    with pytest.raises(PlanRefused, match="worth its cost"):
        workflow.propose_stations(sample_inputs, Wish(stations=6, station_cost=1e6))


def test_a_cost_without_a_price_of_fuel_is_refused(copied: Path) -> None:
    toml = copied / "field.toml"
    text = toml.read_text(encoding="utf-8")
    toml.write_text(text.replace("fuel_per_l", "# fuel_per_l"), encoding="utf-8")
    inputs = workflow.read_for_survey(copied)
    with pytest.raises(PlanRefused, match="fuel_per_l"):
        workflow.propose_stations(inputs, Wish(stations=2, station_cost=5.0))


def test_first_survey_covers_every_part(bare: Path) -> None:
    survey = workflow.propose_stations(workflow.read_for_survey(bare), Wish(stations=30))
    assert survey.first
    floor = int(constant("survey_rules", "part_floor"))
    counts = survey.proposed["part"].value_counts()
    assert set(counts.index) == set(survey.parts["part"])
    assert counts.min() >= floor
    pits = survey.proposed[survey.proposed["pit"] != ""]
    assert set(pits["part"]) == set(survey.parts["part"])
    assert (np.diff(survey.proposed["walk_m"]) > 0).all()


def test_precision_asks_for_the_formula(bare: Path) -> None:
    inputs = workflow.read_for_survey(bare)
    survey = workflow.propose_stations(inputs, Wish(precision_cm=2.5))
    cv = float(survey.facts["coefficient_of_variation"])
    spread = float(survey.facts["spread_cm"])
    assert spread == pytest.approx(cv * constant("surface_rules", "base_level_cm"))
    # t on n - 1 degrees of freedom at 97.5 % from a printed table: 2.093 for 19, 2.101 for 18.
    n = len(survey.proposed)
    assert n == 20
    assert 2.093 * spread / n**0.5 <= 2.5 < 2.101 * spread / (n - 1) ** 0.5


def test_a_precision_already_reached_is_told(sample_inputs: FieldInputs) -> None:
    with pytest.raises(PlanRefused, match="Ask for stations by number"):
        workflow.propose_stations(sample_inputs, Wish(precision_cm=10.0))


def test_a_wish_for_nothing_is_refused(sample_inputs: FieldInputs) -> None:
    with pytest.raises(PlanRefused, match="how many stations"):
        workflow.propose_stations(sample_inputs, Wish())


def test_the_same_wish_gives_the_same_survey(bare: Path) -> None:
    inputs = workflow.read_for_survey(bare)
    one, two, other = (
        workflow.propose_stations(inputs, Wish(stations=15, seed=seed)) for seed in (1, 1, 2)
    )
    assert one.proposed.equals(two.proposed)
    assert not one.proposed.geometry.equals(other.proposed.geometry)


def filled_in(form: Path, into: Path) -> None:
    """Fill in the readings of a form, a pan from 20 to 35 cm, and change nothing else."""
    with form.open(encoding="utf-8", newline="") as stream:
        header, *rows = csv.reader(stream)
    for row in rows[:-4]:  # the last station was not reached
        row[header.index("date")] = "2026-09-02"
        for place, name in enumerate(header):
            if name.endswith(" cm"):
                row[place] = "3.1" if 20 <= float(name.split()[0]) <= 35 else "0.8"
    with into.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([header, *rows])


def test_the_filled_in_form_is_planned_from(bare: Path) -> None:
    survey = workflow.propose_stations(workflow.read_for_survey(bare), Wish(stations=14))
    workflow.write_survey(survey, bare / "survey")
    filled_in(bare / "survey" / "stations.csv", bare / "stations.csv")
    (bare / "pit_form.csv").write_bytes((bare / "survey" / "pit_form.csv").read_bytes())
    toml = bare / "field.toml"
    text = toml.read_text(encoding="utf-8")
    readings = '[readings]\ncone = "stations.csv"\npits = "pit_form.csv"\ncone_unit = "MPa"\n'
    toml.write_text(text.replace("[readings]\n", readings), encoding="utf-8")
    plan = zoning.make_plan(zoning.read_field(bare))
    cone = plan.stations[plan.stations["kind"] == "cone"]
    assert set(cone["station"]) == set(survey.proposed["station"])
    assert cone["used"].sum() == 13
    assert set(cone.loc[cone["used"], "verdict"]) == {"pan"}
    assert cone.loc[cone["used"], "pan_base_cm"].between(32, 40).all()
    assert set(cone["part_used"]) == set(survey.proposed["part"])


def test_a_filled_in_form_stops_the_next_survey(bare: Path) -> None:
    survey = workflow.propose_stations(workflow.read_for_survey(bare), Wish(stations=8))
    workflow.write_survey(survey, bare / "survey")
    filled_in(bare / "survey" / "stations.csv", bare / "survey" / "stations.csv")
    with pytest.raises(OutputFailed, match="filled in"):
        workflow.check_survey_target(bare / "survey")
