"""Before and after side by side: pits at one place, zones, cone stations."""

from __future__ import annotations

import re
from dataclasses import replace

import pandas as pd
import pytest
from outputs.small_check import pits, probes, small_check

from zoning import checks
from zoning.model.check import Check
from zoning.outputs.check.tables import area_words, compared_tables
from zoning.outputs.check.words import shown_changes, why_words
from zoning.units import least_to_most, tenths


def compared() -> Check:
    """Return a check with one pair of pits at one place, one by zone, and one cone pair."""
    check = small_check()
    after = pits().iloc[[0, 4]].assign(pit=["A1", "A5"], pan=["no", "yes"], structure_score=2.0)
    before = after.assign(
        pit=["P1", "P5"], phase="before", date="2026-08-19", pan="yes", structure_score=4.0,
        pan_top_cm=20.0, pan_base_cm=31.0, x_m=after["x_m"] + [3.0, 40.0],
    )  # fmt: skip
    both = checks.pit_measures(pd.concat([before, after])).assign(zone=[1, 2, 1, 2], depth_cm=35.0)
    dug = checks.paired(both.iloc[:2], both.iloc[2:], checks.PIT_MEASURES)
    cone = probes().assign(name="<C1>")
    then = cone.assign(name="C0", resistance_mpa=1.9, date="2026-08-19")
    probed = checks.paired(then, cone, (checks.RESISTANCE,))
    both_kinds = pd.concat([dug, probed], ignore_index=True)
    return replace(check, pairs=both_kinds, changes=checks.changed(both_kinds))


def cells(html: str, title: str) -> list[list[str]]:
    """Return the cells of the rows of the table under a heading."""
    own = html.partition(f"<h3>{title}</h3>")[2].partition("</tbody>")[0]
    rows = own.partition("<tbody>")[2].split("</tr>")
    return [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in rows if row]


def test_pits_at_one_place_stand_side_by_side_with_both_days() -> None:
    (row,) = cells(compared_tables(compared()), "At one place")
    assert row == [
        "1", "P1: pan, 11 cm thick, score 4", "A1: no pan, score 2", "3 m",
        "2026-08-19 and 2026-09-10",
    ]  # fmt: skip


def test_zones_without_two_at_one_place_are_told_by_zone() -> None:
    rows = cells(compared_tables(compared()), "Where no two were at one place: by zone")
    assert [row[0] for row in rows] == ["2"]
    assert rows[0][1:] == ["P5: pan, score 4", "A5: pan, score 2"]


def test_cone_stations_stand_with_the_station_before_at_their_place() -> None:
    (row,) = cells(compared_tables(compared()), "Cone stations after the work")
    assert row == ["&lt;C1&gt;", "pan", "C0: 1.90 MPa", "1.20 MPa", "33 cm", "1", "35 cm", ""]


def test_a_check_without_pairs_or_stations_has_no_tables() -> None:
    check = small_check()
    assert compared_tables(replace(check, probes=check.probes.iloc[:0])) == ""


def test_what_too_few_pairs_leave_open_is_one_sentence_without_figures() -> None:
    told = shown_changes(compared())
    assert len(told) == 1
    assert told[0].startswith("Too few pairs to prove anything: ")
    assert "share of pits with a pan" in told[0]
    assert "before" not in told[0]


def test_the_depths_of_the_columns_are_not_told_again() -> None:
    seen = "Pan still seen. Loosened 2 cm less."
    for depths in ("42 cm at the leg, 26.5 cm between legs", "0 cm at the leg"):
        assert why_words(f"Loosened {depths}. {seen}") == seen
    assert why_words("Loosened although the plan lifts the legs out here.").startswith("Loosened")


def test_ground_that_there_is_never_shows_as_none() -> None:
    assert [area_words(ha) for ha in (0.0, 0.004, 0.006, 1.234)] == [
        "0.00", "< 0.01", "0.01", "1.23",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("value", "words"),
    [(2.5, "2.5"), (3.5, "3.5"), (10.0, "10"), (2.25, "2.3"), (-2.25, "-2.3"), (0.04, "0")],
)
def test_lengths_are_told_to_a_tenth_half_away_from_zero(value: float, words: str) -> None:
    assert tenths(value) == words


def test_the_least_and_the_most_stand_once_where_they_read_alike() -> None:
    assert least_to_most([26.0, float("nan"), 23.04]) == "23 to 26"
    assert least_to_most([26.01, 26.0]) == "26"
