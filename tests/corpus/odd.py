# ruff: noqa: E501 - tables of cases, one a line
"""Odd but sound fields: each must be read, some with a notice that tells what was done."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date

from corpus.base import (
    BOUNDARY,
    CONE,
    FIELD,
    HAZARDS,
    OUTLINE,
    PITS,
    Data,
    Odd,
    with_cell,
    with_column,
)
from corpus.broken_archives import packed, saved, shapefile, store
from corpus.broken_shapes import KML, PLACEMARK
from readings.books import cells, ods, xlsx
from readings.small_field import box, collection, feature, long_log, lonlat, ring

FILE = "boundary.geojson"


def cases() -> Iterator[Odd]:
    """Every odd field."""
    yield from _tables()
    yield from _books()
    yield from _cells()
    yield from _outlines()
    yield from _formats()
    yield from _settings()


def _rows(text: str, change: object) -> str:
    return "\n".join(change(row) for row in text.rstrip("\n").split("\n")) + "\n"  # type: ignore[operator]


def _books() -> Iterator[Odd]:
    one = 'cone = "both.xlsx"\npits = "both.xlsx"'
    both = FIELD.replace('cone = "cone.csv"\npits = "pits.csv"', one)
    settings = FIELD.replace('"cone.csv"', '"cone.xlsx"')
    dated = [[*row, "date" if i == 0 else date(2026, 9, 3)] for i, row in enumerate(cells(CONE))]
    for name, data in (
        ("an .xlsx file", xlsx(cone=cells(CONE))),
        ("an .ods file under the name of another", ods(cone=cells(CONE))),
        (
            "headings further down and to the right",
            xlsx(cone=[[], [], *([None, *r] for r in cells(CONE))]),
        ),
        ("blank rows between", xlsx(cone=[r for row in cells(CONE) for r in (row, [])])),
        ("dates as the spreadsheet has them", xlsx(cone=dated)),
        ("numbers as text", xlsx(cone=[r.split(",") for r in CONE.split()])),
    ):
        yield Odd(f"book: {name}", {"cone.xlsx": data, "field.toml": settings})
    head, *rest = cells(CONE)
    days = xlsx(**{"3.9.": [head, *rest[:9]], "4.9.": [head, *rest[9:]], "legend": [["by nobody"]]})
    yield Odd("book: a sheet a day", {"cone.xlsx": days, "field.toml": settings}, "sheet-read")
    data = xlsx(notes=[["by nobody"]], cone=cells(CONE), pits=cells(PITS))
    yield Odd(
        "book: cone and pits on sheets of their own",
        {"both.xlsx": data, "field.toml": both},
        "sheet-read",
    )


def _tables() -> Iterator[Odd]:
    comma = CONE.replace(",", ";").replace(".", ",")
    head, *rows = CONE.rstrip("\n").split("\n")
    numbered = with_column(CONE, "insertion", "1").rstrip("\n").split("\n")
    for name, data, code in (
        ("byte order mark", "\ufeff" + CONE, ""),
        ("headings in capitals", CONE.replace(head, head.upper(), 1), ""),
        ("headings with brackets", CONE.replace("depth_cm", "Depth (cm)", 1), "csv-headings"),
        ("latitude and longitude", CONE.replace("lon,lat", "Longitude,Latitude", 1), "csv-headings"),
        ("latitude in brackets", CONE.replace("lon,lat", "Lon (deg),Lat [°]", 1), "csv-headings"),
        ("insertions of one station apart", _apart(), "station-apart"),
        ("dates with points", with_column(CONE, "date", "3.9.2026"), "csv-dates"),
        ("dates of one order", with_column(CONE, "date", "23/9/2026"), "csv-dates"),
        ("degrees and minutes", _rows(CONE, _in_minutes), "csv-degrees"),
        ("stations in small letters", with_cell(CONE, 6, "station", "s1"), "stations-one-spelling"),
        ("CRLF", CONE.replace("\n", "\r\n"), ""),
        ("CR alone", CONE.replace("\n", "\r"), ""),
        ("no line end at the end", CONE.rstrip("\n"), ""),
        ("semicolons and decimal commas", comma, "csv-decimal-comma"),
        ("semicolons and points", CONE.replace(",", ";"), "csv-delimiter"),
        ("tabs", CONE.replace(",", "\t"), "csv-delimiter"),
        ("bars", CONE.replace(",", "|"), "csv-delimiter"),
        ("a line sep=;", "sep=;\n" + CONE.replace(",", ";"), "csv-delimiter"),
        ("UTF-16 with mark", CONE.encode("utf-16"), "csv-encoding"),
        ("Windows letters", with_cell(CONE, 2, "station", "S\xfc").encode("cp1252"), "csv-encoding"),
        ("blank rows", CONE.replace("\n", "\n\n"), ""),
        ("rows of commas below", CONE + ",,,,\n,,,,\n", ""),
        ("quotes everywhere", _rows(CONE, lambda r: '"' + r.replace(",", '","') + '"'), ""),
        ("blanks round the cells", _rows(CONE, lambda r: r.replace(",", " , ")), ""),
        ("columns in another order", _rows(CONE, lambda r: ",".join(r.split(",")[::-1])), ""),
        ("rows backwards", "\n".join([numbered[0], *numbered[:0:-1]]) + "\n", "readings-sorted"),
        ("stations mixed", "\n".join([head, *sorted(rows, key=lambda r: float(r.split(",")[3]))]), ""),
        ("every reading twice", CONE + "\n".join(rows) + "\n", "insertions-numbered"),
        ("empty columns", with_column(with_column(CONE, "note", ""), "date", ""), ""),
        ("one station alone", "\n".join([head, *rows[:9]]) + "\n", ""),
        ("signs and exponents", CONE.replace(",1.500", ",+15.00E-1"), ""),
        ("a blank reading", with_cell(CONE, 6, "cone_index_mpa", ""), ""),
        ("depths in inches", _inches(), ""),
        ("one place outside", with_cell(CONE, 6, "lon", str(lonlat(40.5, 40)[0])), ""),
    ):  # fmt: skip
        yield Odd(f"cone: {name}", {"cone.csv": data}, code)
    wide = "station,lon,lat,5 cm,10 cm,15 cm,20 cm,25 cm,30 cm\n"
    wide += "".join(f"S{i},{x},{y},1,1.5,2.5,2.6,1.2,\n" for i, (x, y) in enumerate(OUTLINE[:4]))
    settings = FIELD.replace("[areas]\n", 'cone_unit = "MPa"\n[areas]\n', 1)
    yield Odd("cone: wide", {"cone.csv": wide, "field.toml": settings})
    no_pits = FIELD.replace('pits = "pits.csv"\ntrials = "trials.csv"\n', "")
    yield Odd("cone alone", {"field.toml": no_pits})
    yield Odd("pits alone", {"field.toml": FIELD.replace('cone = "cone.csv"\n', "")})
    away = PITS.replace(str(lonlat(60, 60)[1]), "12.5")
    yield Odd("pits: one elsewhere", {"pits.csv": away}, "readings-outside")


def _apart() -> str:
    """Return the log with a second insertion of a station 15 m from its first."""
    more = long_log([("S2", 165.0, 100.0)], index=2.0)
    return CONE + "\n".join(more.splitlines()[1:]) + "\n"


def _in_minutes(row: str) -> str:
    """Return a row of the log with its places in degrees and minutes."""
    cells = row.split(",")
    if cells[1] != "lon":
        for at, letter in ((1, "E"), (2, "N")):
            whole, minutes = divmod(float(cells[at]) * 60, 60)
            cells[at] = f"{whole:.0f}°{minutes:.7f}'{letter}"
    return ",".join(cells)


def _inches() -> str:
    head, *rows = CONE.rstrip("\n").split("\n")
    cells = [row.split(",") for row in rows]
    for row in cells:
        row[3] = f"{float(row[3]) / 2.54:.6f}"
    return "\n".join([head.replace("depth_cm", "depth_in"), *map(",".join, cells)]) + "\n"


def _cells() -> Iterator[Odd]:
    for name in (
        "=HYPERLINK(1)", "@SUM(A1)", "-1", "+1", "<script>alert(1)</script>", "</script><!--",
        "NA", "None", "null", "nan", "001", "1", "é", "e\u0301", "点", "🌾", "a'b", 'a ""b""', "x" * 200,
        "../../etc", "CON", "a/b", "&amp;", "{{7*7}}", "%s%n", "'; DROP TABLE zones; --", "\u00a0S",
    ):  # fmt: skip
        text = "\n".join(
            row.replace("S1,", f'"{name}",' if "," in name or '"' in name else f"{name},", 1)
            if row.startswith("S1,")
            else row
            for row in CONE.split("\n")
        )
        yield Odd(f"station {name[:20]!r}", {"cone.csv": text})
        note = with_cell(PITS, 2, "note", name.replace('""', ""))
        yield Odd(f"note {name[:20]!r}", {"pits.csv": note})


def _outlines() -> Iterator[Odd]:
    spike = ring((0, 0), (300, 0), (300, 200), (150, 200), (150, 900), (150, 200), (0, 200))
    twice = [p for p in OUTLINE for _ in range(2)]
    hole = box(100, 80, 140, 120)
    members = json.loads(BOUNDARY)
    utm = [[312_000, 5_784_000], [312_300, 5_784_000], [312_300, 5_784_200], [312_000, 5_784_200]]
    named = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32631"}}
    crs84 = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    for name, text, code in (
        ("a feature", json.dumps(members["features"][0]), ""),
        ("a geometry", json.dumps(members["features"][0]["geometry"]), ""),
        ("byte order mark", "\ufeff" + BOUNDARY, ""),
        ("white space before", "\n\n  " + BOUNDARY, ""),
        ("clockwise", collection(feature("Polygon", [OUTLINE[::-1]])), ""),
        ("a hole", collection(feature("Polygon", [OUTLINE, hole])), ""),
        ("an island in a hole", collection(feature("MultiPolygon", [
            [OUTLINE, hole], [box(110, 90, 130, 110)]])), ""),
        ("two that touch", collection(feature("Polygon", [box(0, 0, 150, 200)]),
                                      feature("Polygon", [box(150, 0, 300, 200)])), ""),
        ("a farm with the field by name", collection(
            feature("Polygon", [box(600, 0, 900, 200)], NAME="Far Piece"),
            feature("Polygon", [OUTLINE], NAME=" test piece")), "boundary-by-name"),
        ("a multipolygon of one", collection(feature("MultiPolygon", [[OUTLINE]])), ""),
        ("heights", collection(feature("Polygon", [[[x, y, 12.5] for x, y in OUTLINE]])), ""),
        ("every corner twice", collection(feature("Polygon", [twice])), ""),
        ("a spike of no width", collection(feature("Polygon", [spike])), "boundary-mended"),
        ("a box and members of its own", json.dumps({**members, "bbox": [0, 0, 1, 1], "x": None}), ""),
        ("properties null", BOUNDARY.replace('"properties": {}', '"properties": null'), ""),
        ("an id of text", BOUNDARY.replace('"type": "Feature",', '"type": "Feature", "id": "a",'), ""),
        ("a system named as RFC 7946 has it", collection(feature("Polygon", [OUTLINE]), crs=crs84), ""),
        ("in UTM, named", collection(feature("Polygon", [[*utm, utm[0]]]), crs=named), "geojson-crs"),
        ("many decimals", BOUNDARY.replace("]", "000000000000]", 1), ""),
        ("script in a property", BOUNDARY.replace("{}", '{"n": "<script>"}', 1), ""),
        ("a corner cut to a hair", collection(feature("Polygon", [
            ring((0, 0), (300, 0), (300, 200), (0.0001, 200), (0, 199.9999))])), ""),
    ):  # fmt: skip
        yield Odd(f"boundary: {name}", {FILE: text}, code)
    yield Odd("hazards: none in the file", {"hazards.geojson": collection()}, "layer-empty")
    areas = collection(feature("Polygon", [box(50, 50, 60, 60)], kind="obstacle"))
    yield Odd("hazards: an area", {"hazards.geojson": areas})
    bare = HAZARDS.replace(', "clear_m": 3', "").replace(', "depth_cm": 80', "")
    yield Odd("hazards: nothing known of the drain", {"hazards.geojson": bare})
    texts = HAZARDS.replace('"depth_cm": 80', '"depth_cm": "80"')
    yield Odd("hazards: cover as text", {"hazards.geojson": texts})


def _formats() -> Iterator[Odd]:
    zipped = {f"Sub/Field{end.upper()}": data for end, data in saved("ESRI Shapefile").items()}
    several = KML.replace(PLACEMARK, f"<Folder><name>x</name>{PLACEMARK}</Folder>")
    for name, data in (
        ("shapefile", packed(shapefile())),
        ("shapefile in a folder, capitals", packed(zipped)),
        ("shapefile beside leavings", packed({**shapefile(), "__MACOSX/._b.shp": b"x", "r.txt": b""})),
        ("shapefile without dbf", packed(shapefile(dbf=None))),
        ("geopackage", saved("GPKG")[".gpkg"]),
        ("geopackage beside a view", store("CREATE VIEW v AS SELECT * FROM b")),
        ("geopackage with a trigger", store(
            "CREATE TRIGGER t AFTER INSERT ON b BEGIN DELETE FROM b; END")),
        ("flatgeobuf", saved("FlatGeobuf")[".fgb"]),
        ("kml", KML.encode()),
        ("kml with heights", KML.replace(" ", ",0 ").replace("<kml,0 ", "<kml ").encode()),
        ("kml in a folder", several.encode()),
    ):  # fmt: skip
        settings = FIELD.replace('"boundary.geojson"', '"b.bin"', 1)
        files: dict[str, Data] = {"b.bin": data, "field.toml": settings}
        yield Odd(f"format: {name}", files)


def _settings() -> Iterator[Odd]:
    machine = "[machine]\nlegs = 7\nleg_spacing_cm = 43\n"
    for name, text in (
        ("byte order mark", "\ufeff" + FIELD),
        ("CRLF", FIELD.replace("\n", "\r\n")),
        ("comments", "# mine\n" + FIELD.replace("\n", " # x\n")),
        ("whole numbers for all", FIELD.replace("0.8", "0.80")),
        ("a name with script", FIELD.replace("Test Piece", "<script>alert(1)</script>")),
        ("a name with a formula", FIELD.replace("Test Piece", "=1+1")),
        ("a long name", FIELD.replace("Test Piece", "Long " * 80)),
        ("a name of another script", FIELD.replace("Test Piece", "田んぼ поле")),
        ("a name that is a path", FIELD.replace("Test Piece", "../../etc/passwd")),
        ("a list of one log", FIELD.replace('"cone.csv"', '["cone.csv"]')),
        ("dotted keys", FIELD.replace(machine, "").replace("[field]", "machine.legs = 7\n[field]", 1)),
        ("an inline table", FIELD.replace(machine, "").replace(
            "[field]", "machine = { legs = 7, leg_spacing_cm = 43 }\n[field]", 1)),
        ("an unused layer", FIELD.replace('"boundary.geojson"', '"boundary.geojson"\nboundary_layer = "f"')),
    ):  # fmt: skip
        yield Odd(
            f"settings: {name}", {"field.toml": text}, "layer-not-used" if "unused" in name else ""
        )
    apart = FIELD.replace(machine, "").replace("[field]", 'machine = "m.toml"\n[field]', 1)
    yield Odd("settings: machine.toml", {"field.toml": apart, "m.toml": "legs = 5\n"})
    for name in ("data cone.csv", "Größe.csv", "cone", "a.b.c.csv"):
        text = FIELD.replace('"cone.csv"', f'"{name}"')
        yield Odd(f"settings: log named {name}", {"field.toml": text, name: CONE})
    text = FIELD.replace('"cone.csv"', '"link.csv"')
    link = {
        "field.toml": text,
        "link.csv": lambda path: path.symlink_to(path.with_name("cone.csv")),
    }
    yield Odd("settings: a link inside the folder", link)
