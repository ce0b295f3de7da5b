from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
import shapely
from make_teasel_piece import SCENARIO


def test_the_script_writes_the_folder_again_byte_for_byte(samples: Path, tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, str(samples / "make_teasel_piece.py"), str(tmp_path)],
        check=True,
        capture_output=True,
    )
    kept = samples / "teasel_piece"
    names = sorted(p.relative_to(tmp_path) for p in tmp_path.rglob("*") if p.is_file())
    assert names
    assert all((kept / n).read_bytes() == (tmp_path / n).read_bytes() for n in names)


def test_it_has_what_a_first_field_should_show(samples: Path) -> None:
    folder = samples / "teasel_piece"
    cone = pd.read_csv(folder / "cone.csv", keep_default_na=False)
    pits = pd.read_csv(folder / "pits.csv", keep_default_na=False)
    truth = pd.read_csv(folder / "truth" / "truth.csv")
    assert 40 <= cone["station"].nunique() <= 60
    assert {"body", "headland", "wheeling", "gateway", "old clamp pad"} <= set(cone["part"])
    assert {"yes"} < set(cone["refused"])  # some stopped pushes are marked, the others blank
    assert cone["cone_index_mpa"].max() > 5  # stones
    assert set(pits["pan"]) == {"yes", "no"}
    assert 0.05 < (truth["pan"] == "no").mean() < 0.3


def test_area_is_about_ten_hectares_by_its_own_grid(samples: Path) -> None:
    truth = pd.read_csv(samples / "teasel_piece" / "truth" / "truth.csv")
    assert len(truth) * 25 / 1e4 == pytest.approx(SCENARIO.area_ha, abs=0.1)


def test_hazards_cross_the_field(samples: Path) -> None:
    folder = samples / "teasel_piece"
    layers = {
        name: json.loads((folder / f"{name}.geojson").read_text(encoding="utf-8"))["features"]
        for name in ("boundary", "hazards")
    }
    field = shapely.from_geojson(json.dumps(layers["boundary"][0]["geometry"]))
    kinds = set()
    for feature in layers["hazards"]:
        line = shapely.from_geojson(json.dumps(feature["geometry"]))
        assert field.intersection(line).length > 0.9 * line.length
        assert feature["properties"]["depth_cm"] > 0
        assert feature["properties"]["clear_m"] > 0
        kinds.add(feature["properties"]["kind"])
    assert kinds == {"drain", "service"}
