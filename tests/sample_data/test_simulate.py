from __future__ import annotations

import json
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely
from simulate import Simulated, simulate


def test_the_same_seed_gives_the_same_folder(tmp_path: Path) -> None:
    one, two = (simulate(3).write(tmp_path / name) for name in ("one", "two"))
    names = sorted(p.name for p in one.iterdir())
    assert names == sorted(p.name for p in two.iterdir())
    assert all((one / n).read_bytes() == (two / n).read_bytes() for n in names)


def test_another_seed_gives_another_field() -> None:
    assert simulate(3).boundary != simulate(4).boundary


def test_other_readings_leave_the_ground_as_it_was(fields: list[Simulated]) -> None:
    more = simulate(2, stations=35, pits=4)
    xy = more.grid_m(20.0)
    assert more.boundary == fields[2].boundary
    np.testing.assert_array_equal(more.true_base_cm(xy), fields[2].true_base_cm(xy))
    assert more.cone["station"].nunique() == 35
    assert len(more.pits) == 4


def test_sizes_lie_in_the_stated_ranges(fields: list[Simulated]) -> None:
    for sim in fields:
        assert 4 * 0.97 <= sim.boundary.area / 1e4 <= 20.0001  # a pond takes its own area away
        assert sim.boundary.is_valid
        assert 5 <= len(sim.boundary.exterior.coords) - 1 <= 9
        assert 30 <= sim.cone["station"].nunique() <= 80
        assert 4 <= len(sim.pits) <= 10
        per_station = sim.insertions.groupby("station").size()
        assert per_station.between(1, 4).all()


def test_every_usual_part_is_there_and_probed(fields: list[Simulated]) -> None:
    usual = {"body", "headland", "wheeling", "gateway"}
    for sim in fields:
        assert set(sim.part(sim.grid_m(3.0))) == usual
        stood = sim.part(sim.insertions[["x_m", "y_m"]].to_numpy())
        share = pd.Series(stood).value_counts(normalize=True)
        assert set(share.index) == usual
        assert share.idxmax() == "body"


def test_need_is_base_and_clearance_or_nothing(fields: list[Simulated]) -> None:
    sim = fields[0]
    xy = sim.grid_m(15.0)
    need, pan = sim.need_cm(xy, 3.0), sim.true_pan(xy)
    np.testing.assert_allclose(need[pan], sim.true_base_cm(xy)[pan] + 3.0)
    assert (need[~pan] == 0).all()
    assert 0 < pan.mean() < 1


def test_recorded_places_lie_near_the_true_ones(fields: list[Simulated]) -> None:
    for sim in fields:
        recorded = sim.cone.groupby("station")[["x_m", "y_m"]].first()
        true = sim.insertions.groupby("station")[["x_m", "y_m"]].mean()
        error = (recorded - true).to_numpy()
        sd = sim.scenario.position_sd_m
        assert 0.6 * sd < error.std() < 1.5 * sd  # the mean of insertions adds a little


def test_pits_see_the_truth_to_about_a_centimetre(fields: list[Simulated]) -> None:
    dug = pd.concat([sim.pits.assign(field=i) for i, sim in enumerate(fields)])
    errors = []
    for i, sim in enumerate(fields):
        pits = dug[(dug["field"] == i) & (dug["pan"] == "yes")]
        near = sim.true_base_cm(pits[["x_m", "y_m"]].to_numpy())
        same_part = sim.part(pits[["x_m", "y_m"]].to_numpy()) == pits["part"]
        errors.append((pits["pan_base_cm"] - near)[same_part.to_numpy()])
    error = pd.concat(errors)
    assert abs(error.median()) < 1.0
    assert error.abs().quantile(0.9) < 4.0  # place and small-scale ground add to the reading


def test_folder_is_what_the_contract_names(fields: list[Simulated], tmp_path: Path) -> None:
    folder = fields[1].write(tmp_path / "field")
    settings = tomllib.loads((folder / "field.toml").read_text(encoding="utf-8"))
    assert set(settings) == {"field", "readings", "areas", "machine", "depth"}
    for name in (settings["field"]["boundary"], *settings["areas"]["wheelings"].values()):
        assert isinstance(name, float) or (folder / name).is_file()
    cone = pd.read_csv(folder / settings["readings"]["cone"], keep_default_na=False)
    assert {"station", "insertion", "lon", "lat", "depth_cm", "cone_index_mpa"} <= set(cone)
    assert len(cone) == len(fields[1].cone)
    assert set(cone["refused"]) <= {"yes", "no", ""}


def test_layers_follow_rfc_7946(fields: list[Simulated], tmp_path: Path) -> None:
    folder = fields[1].write(tmp_path / "field")
    layer = json.loads((folder / "boundary.geojson").read_text(encoding="utf-8"))
    shape = shapely.from_geojson(json.dumps(layer["features"][0]["geometry"]))
    assert layer["type"] == "FeatureCollection"
    assert "crs" not in layer
    assert shape.exterior.is_ccw
    assert all(not ring.is_ccw for ring in shape.interiors)
    assert -180 <= shape.bounds[0] <= 180
    assert -90 <= shape.bounds[1] <= 90


@pytest.mark.parametrize("area_ha", [5.0, 18.0])
def test_a_wanted_area_is_met(area_ha: float) -> None:
    sim = simulate(1, area_ha=area_ha)
    holes = sum(shapely.Polygon(ring).area for ring in sim.boundary.interiors)
    assert (sim.boundary.area + holes) / 1e4 == pytest.approx(area_ha, rel=1e-9)
