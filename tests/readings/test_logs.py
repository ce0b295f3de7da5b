"""Several files of one role."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from readings.small_field import CONE, FIELD, STATIONS, Folder, long_log, lonlat

from zoning.readings import read_field

Refusal = Callable[[Path], list[str]]


def pits(*names: str, phase: str = "before", x: float = 100.0) -> str:
    lon, lat = lonlat(x, 100.0)
    return "pit,phase,lon,lat\n" + "".join(f"{name},{phase},{lon},{lat}\n" for name in names)


def test_pits_of_two_files_are_joined(folder: Folder) -> None:
    toml = FIELD + 'pits = ["b.csv", "a.csv"]\n'
    frame = read_field(folder(toml, a__csv=pits("P1", "P2"), b__csv=pits("P1", phase="after"))).pits
    assert frame[["pit", "phase", "file", "row"]].to_numpy().tolist() == [
        ["P1", "after", "b.csv", 2],
        ["P1", "before", "a.csv", 2],
        ["P2", "before", "a.csv", 3],
    ]


def test_one_pit_in_two_files_is_refused(folder: Folder, refusal: Refusal) -> None:
    toml = FIELD + 'pits = ["a.csv", "b.csv"]\n'
    faults = refusal(folder(toml, a__csv=pits("P1"), b__csv=pits("P2", "P1")))
    assert len(faults) == 1
    assert faults[0].startswith("b.csv:3: pit: The same pits stand in 'a.csv' too")


def test_a_file_taken_along_beside_the_old_ones_is_one_message(
    folder: Folder, refusal: Refusal
) -> None:
    toml = FIELD + 'pits = ["a.csv", "b.csv"]\n'
    names = [f"P{i}" for i in range(12)]
    (fault,) = refusal(folder(toml, a__csv=pits(*names), b__csv=pits(*names, x=101.0)))
    assert "Take 'a.csv' or 'b.csv' out of pits in field.toml" in fault


def test_a_pit_outside_is_left_out_with_its_reason(folder: Folder) -> None:
    inside = pits("P1", "P2")
    away = pits("P3", x=340.0).splitlines()[1]
    inputs = read_field(folder(FIELD + 'pits = "p.csv"\n', p__csv=inside + away + "\n"))
    assert inputs.pits["pit"].tolist() == ["P1", "P2"]
    assert inputs.left_out[["file", "row", "what", "reason"]].to_numpy().tolist() == [
        ["p.csv", 4, "pit P3 (before)", "40 m outside the boundary"]
    ]


def test_insertions_go_on_counting_in_the_next_file(folder: Folder) -> None:
    toml = FIELD.replace('"cone.csv"', '["cone.csv", "more.csv"]')
    more = long_log(STATIONS[:1], index=2.0)
    inputs = read_field(folder(toml, more__csv=more))
    first = inputs.cone[inputs.cone["station"] == "S1"]
    assert first.groupby("insertion_id")["file"].unique().map(list).to_dict() == {
        "S1/1": ["cone.csv"],
        "S1/2": ["more.csv"],
    }


def test_a_fault_in_one_file_does_not_hide_those_of_another(
    folder: Folder, refusal: Refusal
) -> None:
    toml = FIELD.replace('"cone.csv"', '["cone.csv", "more.csv", "none.csv"]')
    faults = refusal(folder(toml, cone__csv="station,lon\nA,1\n", more__csv="x\n"))
    assert {f.split(":")[0] for f in faults} == {"cone.csv", "more.csv", "none.csv"}


def test_a_reading_far_off_its_station_is_refused_by_its_row(
    folder: Folder, refusal: Refusal
) -> None:
    rows = CONE.splitlines()
    cells = rows[5].split(",")
    rows[5] = ",".join([cells[0], "1.5", *cells[2:]])
    (fault,) = refusal(folder(cone__csv="\n".join(rows) + "\n"))
    assert fault.startswith("cone.csv:2: station: Rows 2-5, 7-10 and row 6 are both S1, ")


def test_a_station_typed_twice_is_one_message_however_insertions_are_numbered(
    folder: Folder, refusal: Refusal
) -> None:
    log = long_log([*STATIONS, ("S2", 185.0, 100.0)])
    said = "cone.csv:11: station: Rows 11-19 and rows 29-37 are both S2, 35 m apart."
    for numbers in (None, [1] * 36, [1] * 27 + [2] * 9):
        head, *rows = log.splitlines()
        if numbers:
            head = f"{head},insertion"
            rows = [f"{row},{n}" for row, n in zip(rows, numbers, strict=True)]
        (fault,) = refusal(folder(cone__csv="\n".join([head, *rows]) + "\n"))
        assert fault.startswith(said)
        assert "Is one of them another station" in fault


def test_a_log_in_the_wrong_place_is_not_called_stations_apart(
    folder: Folder, refusal: Refusal
) -> None:
    away = long_log([(name, x + shift, 5000.0) for name, x, _ in STATIONS for shift in (0, 90)])
    (fault,) = refusal(folder(cone__csv=away))
    assert "from the boundary" in fault
