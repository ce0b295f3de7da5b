"""Broken cone logs, pit notes and trial runs."""

from __future__ import annotations

from collections.abc import Iterator

from corpus.base import (
    CONE,
    FIELD,
    PITS,
    TRIALS,
    Case,
    line_of,
    renamed,
    with_cell,
    with_column,
    without_column,
)
from readings.small_field import long_log

NO_NUMBERS = {
    "word": "deep",
    "huge": "1e400",
    "nan": "nan",
    "infinite": "inf",
    "minus infinite": "-inf",
    "underscore": "1_0",
    "arabic digits": "٣٥",
    "full width digits": "３５",
    "hexadecimal": "0x1F",
    "decimal comma": "1,5",
    "two signs": "--1",
    "two points": "1.2.3",
    "plus alone": "+",
    "not available": "#N/A",
    "formula": "=1+1",
    "unicode minus": "−5",
    "with its unit": "5 cm",
    "thousands mark": "1'000",
    "none": "None",
    "blank inside": "1 0",
    "control character": "1\x07",
}
OTHER_FILES = {
    "zip": b"PK\x03\x04" + b"\x00" * 60,
    "pdf": b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj",
    "picture": b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
    "html": b"<!DOCTYPE html><html><body>no table</body></html>",
    "json": b'{"station": [1, 2, 3]}',
    "gzip": b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\x03",
    "zero bytes": b"\x00" * 200,
    "nul inside": b"station,lon,lat,depth_cm,cone_index_mpa\nS\x001,0,52,5,1\n",
    "undecodable": b"station,lon\n\x81\x8d\x8f\x90\x9d,1\n",
    "utf-16 without mark": "station,lon,lat".encode("utf-16-le"),
    "cut utf-16": b"\xff\xfes",
    "only a mark": b"\xef\xbb\xbf",
    "only blanks": b"   \n\n  \n",
    "only a heading": b"station,lon,lat,depth_cm,cone_index_mpa\n",
    "prose": b"Walked the field on Tuesday.\nHard at 30.\n",
    "empty": b"",
}


def cases() -> Iterator[Case]:
    """Every broken table."""
    for file, text, row, columns in (
        ("cone.csv", CONE, 6, ("lon", "lat", "depth_cm", "cone_index_mpa")),
        ("pits.csv", PITS, 2, ("lon", "lat", "pan_base_cm", "structure_score")),
        ("trials.csv", TRIALS, 3, ("speed_km_h", "depth_setting_cm")),
    ):
        for column in columns:
            for name, token in NO_NUMBERS.items():
                changed = with_cell(text, row, column, token)
                yield Case(f"{file} {column} {name}", {file: changed}, file, row)
        for name, data in OTHER_FILES.items():
            yield Case(f"{file} is {name}", {file: data}, file)
        yield from _shapes(file, text)
    yield from _cone()
    yield from _pits()
    yield from _trials()


def _shapes(file: str, text: str) -> Iterator[Case]:
    head, second = line_of(text, 1), line_of(text, 2)
    column = head.split(",")[1]
    yield Case(f"{file} a cell too many", {file: text.replace(second, second + ",x", 1)}, file, 2)
    yield Case(f"{file} a cell short", {file: text.replace(",", "", 1)}, file)
    yield Case(f"{file} commas at the end", {file: _every_row(text, ",7")}, file, 2)
    yield Case(f"{file} quote not closed", {file: text.replace(second, '"' + second, 1)}, file)
    yield Case(f"{file} a heading twice", {file: with_column(text, column, "1")}, file)
    yield Case(f"{file} an unknown column", {file: with_column(text, "colour", "red")}, file)
    yield Case(f"{file} a nameless column", {file: with_column(text, "", "9")}, file)
    named = text.replace(head, head.replace(column, "what is it", 1), 1)
    yield Case(f"{file} a heading in other words", {file: named}, file)
    yield Case(f"{file} a title above", {file: f"Notes of the day\n\n{text}"}, file, 1)
    units = ",".join("cm" for _ in head.split(","))
    yield Case(f"{file} a row of units", {file: text.replace(head, f"{head}\n{units}", 1)}, file, 2)
    yield Case(f"{file} no headings", {file: text.split("\n", 1)[1]}, file)
    yield Case(f"{file} headings twice", {file: f"{head}\n{text}"}, file)
    yield Case(
        f"{file} text behind a quote", {file: text.replace(second, '"a"b' + second, 1)}, file
    )


def _every_row(text: str, end: str) -> str:
    head, *rows = text.rstrip("\n").split("\n")
    return "\n".join([head, *(row + end for row in rows)]) + "\n"


def _cone() -> Iterator[Case]:
    for column in ("station", "lon", "lat", "depth_cm", "cone_index_mpa"):
        yield Case(f"cone without {column}", {"cone.csv": without_column(CONE, column)}, "cone.csv")
    for old, new in (
        ("depth_cm", "depth"),
        ("depth_cm", "depth_m"),
        ("depth_cm", "Depth (m)"),
        ("cone_index_mpa", "cone_index"),
        ("cone_index_mpa", "cone_index_bar"),
        ("cone_index_mpa", "ci_mpa"),
        ("cone_index_mpa", "cone_index_n"),
        ("lon", "length"),
        ("lat", "altitude"),
        ("station", "point"),
        ("lon", "easting"),
    ):
        text = renamed(CONE, old, new)
        yield Case(f"cone {old} headed {new}", {"cone.csv": text}, "cone.csv")
    for name, column, value in (
        ("latitude above 90", "lat", "91"),
        ("longitude above 180", "lon", "181"),
        ("depth below 0", "depth_cm", "-5"),
        ("depth of 5 m", "depth_cm", "500"),
        ("index below 0", "cone_index_mpa", "-1"),
        ("index of 250", "cone_index_mpa", "250"),
        ("blank station", "station", ""),
        ("blank depth", "depth_cm", ""),
        ("blank place", "lon", ""),
        ("control character", "station", "S\x1b[2J"),
        ("right to left mark", "station", "S\u202e1"),
        ("depth that goes back", "depth_cm", "12"),
        ("far from its station", "lon", "1.5"),
    ):
        yield Case(f"cone {name}", {"cone.csv": with_cell(CONE, 6, column, value)}, "cone.csv")
    for column, good, bad in (
        ("refused", "no", "maybe"),
        ("moisture", "dry", "soggy"),
        ("part", "body", "corner"),
        ("date", "2026-09-03", "3/9/2026"),
        ("date", "2026-09-03", "2026-02-30"),
        ("insertion", "1", "1.5"),
        ("insertion", "1", "first"),
        ("note", "", "a\x00"),
    ):
        text = with_cell(with_column(CONE, column, good), 6, column, bad)
        yield Case(f"cone {column} {bad!r}", {"cone.csv": text}, "cone.csv")
    blank = with_column(CONE, "insertion", "")
    yield Case("cone insertion blank", {"cone.csv": blank}, "cone.csv", 2)
    twice = CONE + "\n".join(long_log([("S2", 185.0, 100.0)]).splitlines()[1:]) + "\n"
    yield Case("cone a station at two places", {"cone.csv": twice}, "cone.csv", 11)
    for name, change in (
        ("in psi", lambda v: v * 145.0377),
        ("in kPa", lambda v: v * 1000),
        ("in N", lambda v: v * 320),
    ):
        yield Case(f"cone index {name}", {"cone.csv": _column(CONE, 4, change)}, "cone.csv")
    for name, change in (("in mm", lambda v: v * 10), ("in m", lambda v: v / 100)):
        yield Case(f"cone depth {name}", {"cone.csv": _column(CONE, 3, change)}, "cone.csv")
    yield Case("cone two units", {"cone.csv": with_column(CONE, "depth_mm", "5")}, "cone.csv")
    yield Case("cone long and wide", {"cone.csv": with_column(CONE, "5 cm", "1")}, "cone.csv")
    swapped = CONE.replace("lon,lat", "lat,lon", 1)
    yield Case("cone longitude and latitude exchanged", {"cone.csv": swapped}, "cone.csv")
    south = _column(CONE, 2, lambda v: -v)
    yield Case("cone in the other hemisphere", {"cone.csv": south}, "cone.csv")
    beside = _column(CONE, 1, lambda v: v + 0.01)
    yield Case("cone beside the field", {"cone.csv": beside}, "cone.csv")
    metres = _column(_column(CONE, 1, lambda v: v * 0 + 312_100), 2, lambda v: v * 0 + 5_784_100)
    yield Case("cone metres under lon, lat", {"cone.csv": metres}, "cone.csv")
    wide = "station,lon,lat,5 cm,10 cm\nS1,{},{},1,2\n".format(*line_of(CONE, 2).split(",")[1:3])
    yield Case("cone wide without a unit", {"cone.csv": wide}, "cone.csv")
    twice = wide.replace("10 cm", "50 mm")
    settings = FIELD.replace("[areas]\n", 'cone_unit = "MPa"\n[areas]\n', 1)
    yield Case(
        "cone wide, one depth twice", {"cone.csv": twice, "field.toml": settings}, "cone.csv"
    )
    points = wide.replace("1,2\n", "950,1.200\n")
    in_kpa = settings.replace('"MPa"', '"kPa"')
    yield Case(
        "cone wide, points between thousands",
        {"cone.csv": points, "field.toml": in_kpa},
        "cone.csv",
        2,
    )
    bare = wide.replace("10 cm", "10")
    yield Case("cone wide, a depth bare", {"cone.csv": bare, "field.toml": settings}, "cone.csv")


def _column(text: str, at: int, change: object) -> str:
    head, *rows = text.rstrip("\n").split("\n")
    cells = [row.split(",") for row in rows]
    for row in cells:
        row[at] = f"{change(float(row[at])):.9g}"  # type: ignore[operator]
    return "\n".join([head, *map(",".join, cells)]) + "\n"


def _pits() -> Iterator[Case]:
    for column in ("pit", "phase", "lon", "lat"):
        yield Case(f"pits without {column}", {"pits.csv": without_column(PITS, column)}, "pits.csv")
    for column, value in (
        ("phase", "during"),
        ("phase", ""),
        ("pan", "perhaps"),
        ("moisture", "wet"),
        ("structure_score", "6"),
        ("structure_score", "0"),
        ("pan_top_cm", "40"),
        ("pan_base_cm", "400"),
        ("pan_base_cm", "-3"),
        ("pan", "no"),
        ("date", "yesterday"),
        ("part", "middle"),
        ("speed_km_h", "80"),
        ("loosened_between_cm", "999"),
        ("pit", ""),
        ("note", "\x9b2J"),
    ):
        text = with_cell(PITS, 2, column, value)
        yield Case(f"pits {column} {value!r}", {"pits.csv": text}, "pits.csv", 2 if value else None)
    yield Case("pits one name twice", {"pits.csv": PITS.replace("P2", "P1")}, "pits.csv", 3)
    upside = with_cell(
        with_cell(PITS, 2, "loosened_at_leg_cm", "20"), 2, "loosened_between_cm", "30"
    )
    yield Case("pits deeper between the legs", {"pits.csv": upside}, "pits.csv", 2)


def _trials() -> Iterator[Case]:
    for column in ("run", "speed_km_h"):
        changed = without_column(TRIALS, column)
        yield Case(f"trials without {column}", {"trials.csv": changed}, "trials.csv")
    for column, value in (
        ("speed_km_h", "40"),
        ("speed_km_h", ""),
        ("surface", "fine"),
        ("run", ""),
        ("depth_setting_cm", "-1"),
        ("loosened_between_cm", "50"),
    ):
        text = with_cell(TRIALS, 2, column, value)
        yield Case(f"trials {column} {value!r}", {"trials.csv": text}, "trials.csv", 2)
