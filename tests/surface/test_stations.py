"""Station tables become arrays in an order of their own."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.errors import PlanRefused
from zoning.surface.priors import rule
from zoning.surface.stations import place_codes, read_stations


def test_only_used_rows_and_read_bases_count(make_stations):
    table = make_stations(
        4,
        [30.0, np.nan, 33.0, 34.0],
        used=[True, True, True, False],
        n_pan=[1, 0, 1, 1],
        censored=[False, False, True, False],
    )
    read = read_stations(table)
    assert sorted(read.names) == ["S000", "S001", "S002"]
    assert sorted(read.base.value.tolist()) == [30.0, 33.0]
    assert read.base.value[read.censored].tolist() == [33.0]
    names = [read.names[row] for row in read.base_row]
    assert dict(zip(names, read.base.value, strict=True)) == {"S000": 30.0, "S002": 33.0}


def test_errors_have_a_floor_and_a_default(make_stations):
    read = read_stations(make_stations(2, error_sd_cm=[np.nan, 0.0], x_m=[0.0, 1.0]))
    expected = [rule("unknown_error_sd_cm") ** 2, rule("least_error_sd_cm") ** 2]
    np.testing.assert_allclose(read.base.noise_var, expected)


def test_days_are_coded_and_blank_has_none(make_stations):
    read = read_stations(make_stations(3, x_m=[0, 1, 2], date=["2026-09-02", "", "2026-08-01"]))
    assert read.days == ("2026-08-01", "2026-09-02")
    assert read.base.day.tolist() == [1, -1, 0]


def test_a_pit_has_no_day(make_stations):
    table = make_stations(3, x_m=[0, 1, 2], date="2026-09-02", kind=["pit", "cone", "cone"])
    other = table.assign(date=["2026-09-03", "2026-09-02", "2026-09-02"])
    assert read_stations(table).base.day.tolist() == [-1, 0, 0]
    assert read_stations(other).days == read_stations(table).days == ("2026-09-02",)


def test_places_of_one_part_share_a_code():
    code = place_codes(np.array([[0, 0], [0, 0], [0, 0], [1, 0]], float), np.array([0, 0, 1, 0]))
    assert code[0] == code[1]
    assert len(set(code.tolist())) == 3


def test_nothing_known_is_refused(make_stations):
    with pytest.raises(PlanRefused, match="dig a pit"):
        read_stations(make_stations(2, np.nan, n_pan=0, n_known=0))
