"""Readings joined into insertions."""

from __future__ import annotations

import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from zoning.readings.insertions import number_insertions, one_spelling, spread_faults
from zoning.readings.text_table import limited


def rows(*readings: tuple[str, int, float], file: str = "a.csv", **more: object) -> pd.DataFrame:
    frame = pd.DataFrame(readings, columns=["station", "insertion", "depth_cm"])
    return frame.assign(
        file=file, row=range(2, 2 + len(frame)), date="", part="", moisture=""
    ).assign(given_x=1.0, given_y=52.0, cone_index_mpa=1.5, **more)


def test_without_numbers_a_depth_that_starts_over_opens_the_next_insertion() -> None:
    frame, faults, notices = number_insertions(
        rows(*[("A", -1, d) for d in (0, 5, 10, 0, 5, 2.5, 5)], ("B", -1, 0))
    )
    assert faults == []
    assert frame["insertion_id"].tolist() == ["A/1"] * 3 + ["A/2"] * 2 + ["A/3"] * 2 + ["B/1"]
    assert [n.code for n in notices] == ["insertions-numbered"]
    assert "1 stations hold 3 insertions" in notices[0].text


def test_stations_may_take_turns() -> None:
    frame, faults, _ = number_insertions(
        rows(("A", -1, 0), ("B", -1, 0), ("A", -1, 5), ("B", -1, 5))
    )
    assert faults == []
    assert frame["insertion_id"].tolist() == ["A/1", "B/1", "A/1", "B/1"]


def test_a_step_back_or_a_repeat_is_refused_with_its_row() -> None:
    back = number_insertions(rows(*[("A", -1, d) for d in (0, 10, 20, 15, 30)]))[1]
    assert [(f.row, "back by 5 cm" in f.what) for f in back] == [(5, True)]
    again = number_insertions(rows(*[("A", -1, d) for d in (0, 10, 10, 20)]))[1]
    assert [(f.row, "same depth again" in f.what) for f in again] == [(4, True)]


def test_faults_of_one_station_are_told_at_once_with_their_rows() -> None:
    depths = (0, 10, 20, 15, 30, 25, 40)
    (told,) = limited(number_insertions(rows(*[("A", -1, d) for d in depths]))[1])
    assert (told.what, told.rows) == ("Station A goes back in depth.", "rows 5, 7")


def test_insertions_that_contradict_themselves_alike_are_told_at_once() -> None:
    said = rows(*[(s, 1, d) for s in "ABC" for d in (0, 5)]).assign(part=["body", "headland"] * 3)
    (told,) = limited(number_insertions(said)[1])
    assert told.what == "Insertions A/1, B/1, C/1 say 'body', then 'headland'."
    assert told.rows == "rows 3, 5, 7"


def test_insertions_spread_too_far_are_told_at_once() -> None:
    frame = number_insertions(rows(*[(s, 1, d) for s in "AB" for d in (5, 10)]))[0]
    far = frame.assign(x_m=[0.0, 15.0, 0.0, 20.0], y_m=0.0)
    (told,) = limited(spread_faults(far))
    assert told.what == "The readings of insertions A/1, B/1 lie up to 20 m apart."
    assert told.rows == "rows 2, 4"


def test_numbered_insertions_may_not_read_one_depth_twice() -> None:
    faults = number_insertions(rows(("A", 1, 0), ("A", 1, 5), ("A", 2, 0), ("A", 1, 5)))[1]
    assert [f.row for f in faults] == [5]


@given(st.permutations([("A", i, d) for i in (1, 2) for d in (0.0, 5.0, 10.0)]))
def test_numbered_insertions_do_not_depend_on_the_order_of_rows(
    order: list[tuple[str, int, float]],
) -> None:
    frame, faults, _ = number_insertions(rows(*order))
    assert faults == []
    found = frame.groupby("insertion_id")["depth_cm"].apply(sorted).to_dict()
    assert found == {"A/1": [0, 5, 10], "A/2": [0, 5, 10]}


def test_a_wide_file_without_numbers_counts_its_rows() -> None:
    readings = [("A", -1, d) for _ in range(2) for d in (5.0, 10.0)]
    frame, faults, _ = number_insertions(rows(*readings, wide_row=[0, 0, 1, 1]))
    assert faults == []
    assert frame["insertion"].tolist() == [1, 1, 2, 2]


def test_files_carry_on_counting_at_a_station() -> None:
    both = pd.concat(
        [rows(("A", -1, 0), ("A", -1, 5)), rows(("A", -1, 0), ("A", -1, 5), file="b.csv")]
    )
    frame, faults, _ = number_insertions(both)
    assert faults == []
    assert frame["insertion_id"].tolist() == ["A/1", "A/1", "A/2", "A/2"]


def test_unnumbered_insertions_follow_the_numbered_ones() -> None:
    both = pd.concat([rows(("A", 4, 0), ("A", 4, 5)), rows(("A", -1, 0), file="b.csv")])
    assert number_insertions(both)[0]["insertion"].tolist() == [4, 4, 5]


def test_one_number_in_two_files_is_refused() -> None:
    both = pd.concat([rows(("A", 1, 0)), rows(("A", 1, 5), file="b.csv")])
    faults = number_insertions(both)[1]
    assert [(f.file, f.row) for f in faults] == [("b.csv", 2)]
    assert "stands here and in a.csv." in faults[0].what
    assert faults[0].remedy.endswith("If one is a copy of the other, name one.")


def test_a_row_that_stands_twice_in_one_file_names_the_other_row() -> None:
    wide = rows(("A", 1, 5), ("A", 1, 10), ("A", 1, 5), ("A", 1, 10), wide_row=[0, 0, 1, 1])
    (fault,) = number_insertions(wide)[1]
    assert (fault.row, fault.what) == (4, "Insertion A/1 stands here and in row 2.")
    assert fault.remedy.endswith("If one is a copy of the other, delete it.")
    again = number_insertions(rows(("A", 1, 0), ("A", 1, 5), ("A", 1, 5)))[1]
    assert again[0].remedy.startswith("If the row is a copy, delete it. ")


def test_the_same_readings_in_another_file_are_refused_whatever_their_numbers() -> None:
    log = [(s, 1, d) for s in "AB" for d in (5.0, 10.0, 15.0)]
    other = [(s, 7, d) for s, _, d in log]
    for copy in (other, [(s, -1, d) for s, _, d in log]):
        both = pd.concat([rows(*log), rows(*copy, file="b.xlsx, sheet b")])
        (told,) = limited(number_insertions(both)[1])
        assert (told.file, told.rows) == ("b.xlsx, sheet b", "rows 2, 5")
        assert "hold the same readings as a.csv." in told.what
        assert "delete the sheet or rename its heading 'station'" in told.remedy


def test_readings_that_differ_in_one_number_or_in_place_are_no_copy() -> None:
    log = [("A", 1, d) for d in (5.0, 10.0, 15.0)]
    for change in ({"cone_index_mpa": [1.5, 1.5, 1.6]}, {"given_x": 1.1}):
        again = rows(*[(s, 2, d) for s, _, d in log], file="b.csv").assign(**change)
        assert number_insertions(pd.concat([rows(*log), again]))[1] == []


def test_a_few_blank_readings_alike_are_no_copy() -> None:
    blank = rows(("A", 1, 5.0), ("A", 1, 10.0), ("A", 1, 15.0)).assign(cone_index_mpa=float("nan"))
    again = blank.assign(file="b.csv", insertion=2)
    assert number_insertions(pd.concat([blank, again]))[1] == []


def test_one_number_on_two_rows_of_a_wide_file_is_refused() -> None:
    faults = number_insertions(rows(("A", 1, 5.0), ("A", 1, 10.0), wide_row=[0, 1]))[1]
    assert [f.row for f in faults] == [3]


def test_an_insertion_has_one_date_and_one_part() -> None:
    faults = number_insertions(rows(("A", 1, 0), ("A", 1, 5), part=["body", "headland"]))[1]
    assert [(f.row, f.column) for f in faults] == [(3, "part")]
    assert number_insertions(rows(("A", 1, 0), ("A", 1, 5), part=["body", ""]))[1] == []


def test_stations_that_differ_in_capitals_are_one_in_any_order_of_rows() -> None:
    frame = pd.DataFrame({"station": ["k1", "K1", "K 2", "K  2", "K3"]})
    for rows in (frame, frame[::-1]):
        read, (told,) = one_spelling(rows)
        assert read.sort_index()["station"].tolist() == ["K1", "K1", "K  2", "K  2", "K3"]
        assert "'k1' as 'K1'" in told.text
    same, nothing = one_spelling(read)
    assert nothing == []
    assert same.equals(read)


def test_a_station_probed_again_under_its_name_is_told_to_take_another_for_the_day() -> None:
    log = [("A", 1, 5.0), ("A", 1, 10.0)]
    first = rows(*log, date="2026-09-01")
    for file, indices in (("b.csv", [1.1, 1.2]), ("a.csv", [1.1, 1.2])):
        again = rows(*log, file=file).assign(date="2026-09-09", cone_index_mpa=indices)
        told = number_insertions(pd.concat([first, again]))[1]
        assert {("such as Ab" in f.remedy, "copy" in f.remedy) for f in told} == {(True, False)}
        assert len({f.what for f in told}) == 1
