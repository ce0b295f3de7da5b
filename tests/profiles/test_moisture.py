"""Cautions and notes about moisture and dates.

No work where soil is plastic at working depth: AHDB, and Tasmania NRE's hand-roll test.
"""

from __future__ import annotations

import pandas as pd

from zoning.profiles import moisture_notices

DEPTH, SOFT = [5.0, 10.0], [1.0, 1.0]


def codes(pits: pd.DataFrame, cone: pd.DataFrame) -> dict[str, str]:
    return {notice.code: notice.level for notice in moisture_notices(pits, cone)}


def test_moist_friable_soil_of_one_day_needs_no_notice(insertion, pit) -> None:
    assert codes(pit(), insertion("A/1", DEPTH, SOFT)) == {}


def test_plastic_soil_in_a_pit_is_a_caution_that_names_it(insertion, pit) -> None:
    found = moisture_notices(pit(pit="P7", moisture="plastic"), insertion("A/1", DEPTH, SOFT))
    assert [(n.level, n.code) for n in found] == [("caution", "soil-plastic")]
    assert "P7" in found[0].text
    assert "do not work it now" in found[0].text


def test_a_pit_dug_after_the_work_says_nothing_about_working_now(insertion, pit) -> None:
    cone = insertion("A/1", DEPTH, SOFT)
    assert codes(pit(phase="after", moisture="plastic"), cone) == {}


def probed(insertion, *moisture: str) -> pd.DataFrame:
    return pd.concat(
        [insertion(f"S{i}/1", DEPTH, SOFT, moisture=word) for i, word in enumerate(moisture)]
    )


def test_dry_soil_is_noted_from_pit_or_probe(insertion, pit) -> None:
    cone = probed(insertion, "Dry", "friable", "friable", "")
    assert codes(pit(), cone) == {"soil-dry": "note"}
    assert codes(pit(moisture="dry"), insertion("A/1", DEPTH, SOFT)) == {"soil-dry": "note"}


def test_where_many_stations_are_dry_the_rating_is_cautioned_against(insertion, pit) -> None:
    (found,) = moisture_notices(pit(), probed(insertion, "dry", "friable", "friable", "dry"))
    assert (found.level, found.code) == ("caution", "readings-dry")
    assert "dry at 2 of 4 stations (S0, S3)" in found.text
    (one,) = moisture_notices(pit(), probed(insertion, "dry"))
    assert "dry at the one station (S0)" in one.text
    assert "wait and probe again near field capacity" in found.text


def test_wet_readings_are_a_caution(insertion, pit) -> None:
    assert codes(pit(), insertion("A/1", DEPTH, SOFT, moisture="plastic")) == {
        "readings-wet": "caution"
    }


def test_several_dates_and_missing_dates_are_noted(insertion, pit) -> None:
    cone = pd.concat(
        [
            insertion("A/1", DEPTH, SOFT, date="2026-09-01"),
            insertion("B/1", DEPTH, SOFT, date="2026-09-08"),
            insertion("C/1", DEPTH, SOFT, date=""),
        ]
    )
    found = {n.code: n.text for n in moisture_notices(pit(), cone)}
    assert set(found) == {"several-dates", "dates-missing"}
    assert "2 dates, 2026-09-01 to 2026-09-08" in found["several-dates"]
    assert found["dates-missing"].startswith("1 of 3 insertions has no date (station C).")
    assert "add a column 'date'" in found["dates-missing"]


def test_rows_of_a_form_left_blank_need_no_date(insertion, pit) -> None:
    blank = insertion("C/1", DEPTH, SOFT, date="").assign(cone_index_mpa=float("nan"))
    cone = pd.concat([insertion("A/1", DEPTH, SOFT, date="2026-09-01"), blank])
    assert codes(pit(), cone) == {}


def test_no_readings_no_notice(insertion, pit) -> None:
    assert codes(pit().iloc[:0], insertion("A/1", DEPTH, SOFT).iloc[:0]) == {}


def test_cautions_come_first_and_many_names_are_cut_short(insertion, pit) -> None:
    pits = pd.concat([pit(pit=f"P{i}", moisture="plastic") for i in range(8)])
    cone = probed(insertion, "dry", "friable", "friable", "friable")
    found = moisture_notices(pits, cone)
    assert [n.level for n in found] == ["caution", "note"]
    assert "P0, P1, P2, P3, P4 and 3 more" in found[0].text
