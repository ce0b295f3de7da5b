"""``batch.html``: every field of a batch on one page, each leading to its own map page.

A still drawing and a table, without a script, a font or a picture from anywhere: the content
security policy of the page allows its own style and nothing else.
"""

from __future__ import annotations

import base64
import hashlib
import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from html import escape
from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from zoning.batch.beside import LETTER, Beside
from zoning.batch.job import DONE
from zoning.batch.rules import rule
from zoning.batch.settle import caution_codes, settle_cell
from zoning.batch.style import STYLE, scrolled
from zoning.batch.sums import UNKNOWN, cost_cell, counts, known, machines, unlike_prices
from zoning.contracts import rows as table_rows
from zoning.outputs.drawing.frame import hatching
from zoning.outputs.drawing.labels import inner_point, largest_first, letters_on
from zoning.outputs.drawing.svg import document, element, path, text
from zoning.outputs.fingerprint import short_id

Row = Mapping[str, Any]
Bins = NDArray[np.float64]

WIDTH_MM, MARGIN_MM, MOST_HEIGHT_MM = 280.0, 8.0, 138.0
NAME_MM, PHONE_MM = (4.0, 2.6), (9.0, 7.0)
"""Largest and least letters on the map, and of its numbers on a phone."""
LOSS = (
    "Mean depth is that of the ground worked: where legs are lifted out does not count. Loss is "
    "the expected loss: how far the working depth misses what the pan needs, mean over the field, "
    "each centimetre too shallow weighing as the assurance asks; beside it that with at most one "
    "depth along the same passes, legs lifted out where that costs less. Work and fuel are by "
    "published equations, draft good to a half either way, without the way between fields. They "
    "and the cost count driving with legs lifted on the way to ground that is worked; a pass that "
    "is lifted all the way is not driven and not counted. Cost is that of what the field has a "
    "price for: fuel, machine, labour."
)
_PAPER, _LINE = "#ffffff", "#8a8f94"
NUMBER = ' class="n"'
CAUTION = "Before any leg goes in: open each plan, read its cautions, locate services, dig."
FOOT = "This page does not state that work anywhere is without danger."


def overview_html(table: Sequence[Row], outlines: Sequence[bytes | None]) -> str:
    """Return the page of a batch.

    Parameters
    ----------
    table
        The rows of ``batch.csv``.
    outlines
        Outline of each field as WKB in longitude and latitude; ``None`` where it is not known.
    """
    most = int(rule("overview_most_fields"))
    placed = [(r, o) for r, o in zip(table, outlines, strict=True) if r["status"] in DONE]
    done = [row for row, _ in placed]
    shown = [row for row in table if row["status"] not in DONE] + done[:most]
    toned = [row for row in done if known(row["mean_depth_cm"]) and not _mostly_lifted(row)]
    bins = _bins([row["mean_depth_cm"] for row in toned])
    tones = _tones(max(0, len(bins) - 1))
    drawn = [(n, r, o) for n, (r, o) in enumerate(placed, 1) if o is not None][:most]
    seasons = {row["season"] for row in done}
    year = f", season {min(seasons)}" if len(seasons) == 1 and None not in seasons else ""
    columns = _columns(with_season=len(seasons) > 1, with_priced=unlike_prices(done))
    left = len(table) - len(shown)
    lifted = any(_mostly_lifted(row) for _, row, _ in drawn)
    map_and_key = _key(bins, tones, lifted=lifted) + _map(drawn, bins, tones) if drawn else ""
    parts = [
        f'<header class="head"><h1>Fields of the batch{year}</h1></header>',
        f'<aside class="warn" aria-label="Caution">{escape(CAUTION)}</aside><main>',
        f'<p class="sum">{escape(counts(table))}</p>',
        f"<section>{map_and_key}</section>" if drawn else "",
        machines(table),
        f"<section>{_table(shown, columns)}<p>{escape(LOSS)}</p></section>",
        f"<p>{left} further fields stand in batch.csv only.</p>" if left > 0 else "",
        f"<p>{escape(FOOT)}</p>",
    ]
    return _page("".join([*parts, "</main>"]))


def _page(body: str) -> str:
    digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>Fields of the batch</title><style>{STYLE}</style></head>\n"
        f"<body>{body}</body></html>\n"
    )


def _bins(depths_cm: Sequence[float]) -> Bins:
    """Return the edges of a few classes of mean depth, of equal width [cm]."""
    if not depths_cm:
        return np.array([])
    unit, classes = rule("overview_class_cm"), rule("overview_classes")
    least = math.floor(min(depths_cm) / unit) * unit
    span = max(depths_cm) - least + 1e-9
    step = unit * max(1, math.ceil(span / (classes * unit)))
    return np.asarray(least + step * np.arange(math.ceil(span / step) + 1), np.float64)


def _tones(count: int) -> list[str]:
    scale = [row["colour"] for row in table_rows("depth_colours")]  # deepest first
    places = np.linspace(len(scale) - 1, 0, count + 2)[1:-1].round().astype(int)
    return [scale[place] for place in places]


def _mostly_lifted(row: Row) -> bool:
    """Return whether so little of a field is worked that its depth does not stand for it."""
    worked_ha, area_ha = row["worked_ha"], row["area_ha"]
    known_share = known(worked_ha) and known(area_ha) and area_ha > 0
    return known_share and worked_ha / area_ha < rule("overview_mostly_lifted_share")


def _tone(row: Row, bins: Bins, tones: Sequence[str]) -> str:
    """Return the tone of the mean depth of a field; paper where it is mostly lifted."""
    if _mostly_lifted(row):
        return _PAPER
    place = int(np.searchsorted(bins, row["mean_depth_cm"], side="right")) - 1
    return tones[min(max(place, 0), len(tones) - 1)]


def _key(bins: Bins, tones: Sequence[str], *, lifted: bool) -> str:
    squares = [
        _square(element("rect", width=7, height=5, fill=tone), f"{low:g} to {high:g}")
        for tone, low, high in zip(tones, bins[:-1], bins[1:], strict=True)
    ]
    depths = [f"Mean depth of the ground worked, cm:{''.join(squares)}"] if squares else []
    paper = element("rect", width=7, height=5, fill=_PAPER)
    hatched = _square(
        paper + _hatched(shapely.box(0, 0, 7, 5)),
        "mostly or wholly lifted",
    )
    return f'<p class="key">{" ".join([*depths, *([hatched] if lifted else [])])}</p>'


def _square(inner: str, words: str) -> str:
    box = '<svg viewBox="0 0 7 5" preserveAspectRatio="none" aria-hidden="true">'
    return f"<span>{box}{inner}</svg>{words}</span>"


def _hatched(area: BaseGeometry) -> str:
    """Return the lines by which ground is drawn where the legs are lifted out."""
    lines = hatching(area, rule("overview_hatch_mm"), rising=True)
    return path(lines, fill="none", stroke=_LINE, stroke_width=0.3)


def _map(drawn: Sequence[tuple[int, Row, bytes]], bins: Bins, tones: Sequence[str]) -> str:
    shapes = _on_paper([shapely.from_wkb(outline) for _, _, outline in drawn])
    width, height = (max(shape.bounds[side] for shape in shapes) + MARGIN_MM for side in (2, 3))
    beside = {kind: Beside(shapely.box(0, 0, width, height), shapes) for kind in ("desk", "phone")}
    links = "".join(
        _linked(f"{n}. {row['name']}", row, _drawn(n, row, shape, _tone(row, bins, tones), beside))
        for (n, row, _), shape in zip(drawn, shapes, strict=True)
    )
    return document(links, width, height, "Map of the fields, north up").replace(
        'role="img"', 'role="group"', 1
    )


def _drawn(
    number: int, row: Row, shape: BaseGeometry, tone: str, beside: Mapping[str, Beside]
) -> str:
    """Return a field in its tone: with its name, else its number; on a phone its number, larger.

    The number of a field that is too small for it stands beside the field.
    """
    part = largest_first(shape)[0]
    name, short = str(row["name"]), str(number)
    lifted = _mostly_lifted(row)
    area = path(shape, fill=tone, stroke="#14171a", stroke_width=0.3)
    area += _hatched(shape) if lifted else ""
    lettered = partial(_lettered, part=part, tone=tone, lifted=lifted)
    desk = lettered(name, sizes_mm=NAME_MM) or lettered(short, sizes_mm=NAME_MM)
    desk = desk or beside["desk"].number(short, part, NAME_MM, "desk")
    phone = lettered(short, sizes_mm=PHONE_MM, where="phone")
    return area + desk + (phone or beside["phone"].number(short, part, PHONE_MM, "phone"))


def _lettered(
    words: str,
    part: Polygon,
    tone: str,
    sizes_mm: tuple[float, float],
    *,
    lifted: bool,
    where: str = "desk",
) -> str:
    """Return words in the roomiest place of `part`; none where they would be too small there."""
    spot = inner_point(part)
    high, (x, wide) = float(shapely.distance(spot, part.exterior)), _level_room(part, spot)
    most, least = sizes_mm
    size = min(most, 1.3 * high, 0.94 * wide / max(1.0, LETTER * len(words)))
    if size < least:
        return ""
    at = {"class": where, "text_anchor": "middle", "fill": letters_on(tone)}
    if lifted:  # letters stand clear of the lines
        at |= {"stroke": _PAPER, "stroke_width": f"{size / 4:g}", "paint_order": "stroke"}
    return text(words, x, spot.y + 0.35 * size, size, font_weight="bold", **at)


def _level_room(part: Polygon, spot: shapely.Point) -> tuple[float, float]:
    """Return the middle and the length of the level line through `spot` inside the field [mm]."""
    west, _, east, _ = part.bounds
    level = shapely.LineString([(west - 1.0, spot.y), (east + 1.0, spot.y)])
    edges = shapely.get_coordinates(shapely.intersection(level, shapely.boundary(part)))[:, 0]
    left, right = float(edges[edges < spot.x].max()), float(edges[edges > spot.x].min())
    return (left + right) / 2, right - left


def _on_paper(shapes: Sequence[BaseGeometry]) -> list[BaseGeometry]:
    """Return outlines in millimetres of the drawing, north up, true to shape in its middle."""
    west, _, east, _ = shapely.total_bounds(shapes)
    turn = 360.0 if east - west > 180.0 else 0.0  # fields on both sides of longitude 180

    def turned(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack([xy[:, 0] + np.where(xy[:, 0] < 0, turn, 0.0), xy[:, 1]])

    placed = [shapely.transform(shape, turned) for shape in shapes]
    west, south, east, north = shapely.total_bounds(placed)
    narrow = math.cos(math.radians((south + north) / 2))
    scale = min(
        (WIDTH_MM - 2 * MARGIN_MM) / max((east - west) * narrow, 1e-9),
        (MOST_HEIGHT_MM - 2 * MARGIN_MM) / max(north - south, 1e-9),
    )

    def drawn(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        x = MARGIN_MM + (xy[:, 0] - west) * narrow * scale
        return np.column_stack([x, MARGIN_MM + (north - xy[:, 1]) * scale])

    return [shapely.transform(shape, drawn) for shape in placed]


def _linked(name: str, row: Row, inner: str) -> str:
    worked = f"worked {_lifted_words(row, ' ha, ')}" if _mostly_lifted(row) else ""
    worked = worked or f"mean depth {row['mean_depth_cm']:.1f} cm where worked"
    words = f"{name}: {row['area_ha']:.1f} ha, {worked}"
    title = element("title", escape(words))
    return f'<a href="{escape(_href(row))}" aria-label="{escape(words)}">{title}{inner}</a>'


def _href(row: Row) -> str:
    """Return where the link leads; an address that no browser opens leads nowhere."""
    link = str(row["map"])
    plain = "://" not in link and not link.partition("/")[0].count(":")
    return link if plain or link.startswith(("file://", "https://")) else "#"


class _Column(NamedTuple):
    """One column of the table: its head, and the cell of a field."""

    head: str
    cell: Callable[[Row], str]
    number: bool = True


def _columns(*, with_season: bool, with_priced: bool) -> tuple[_Column, ...]:
    season = _Column("season", lambda row: _number(row["season"], 0))
    return (
        _Column("to settle first", settle_cell, number=False),
        *((season,) if with_season else ()),
        _Column("area, ha", lambda row: _number(row["area_ha"], 1)),
        _Column("worked, ha", _worked),
        _Column("work, h", lambda row: _number(row["work_h"], 1)),
        _Column("fuel, l", lambda row: _number(row["fuel_l"], 0)),
        _Column("cost", partial(cost_cell, with_priced=with_priced)),
        _Column(
            "machine", lambda row: f'<td class="wrap">{escape(row["machine"])}</td>', number=False
        ),
        _Column(
            "depths, cm", lambda row: f'<td class="wrap">{escape(_depths(row))}</td>', number=False
        ),
        _Column("mean depth, cm", _mean),
        _Column("stations", lambda row: _number(row["stations"], 0)),
        _Column("loss, cm", lambda row: _number(row["loss_cm"], 1)),
        _Column("loss with one depth, cm", lambda row: _number(row["single_depth_loss_cm"], 1)),
        _Column("outcome", lambda row: f"<td>{row['status']}</td>", number=False),
    )


def _table(table: Sequence[Row], columns: Sequence[_Column]) -> str:
    heads = "".join(
        f'<th scope="col"{NUMBER if column.number else ""}>{column.head}</th>' for column in columns
    )
    failed = [_failed_row(row, len(columns)) for row in table if row["status"] not in DONE]
    done = [row for row in table if row["status"] in DONE]
    body = "".join([*failed, *[_done_row(n, row, columns) for n, row in enumerate(done, 1)]])
    head = f'<thead><tr><th scope="col">field</th>{heads}</tr></thead>'
    return scrolled(f"<table>{head}<tbody>{body}</tbody></table>", "Table of the fields")


def _failed_row(row: Row, columns: int) -> str:
    told = f"{row['status'].replace('_', ' ')}: {row['error']}"
    rest = f'<td class="why" colspan="{columns}">{escape(told)}</td>'
    return f'<tr><th scope="row">{escape(row["field"])}</th>{rest}</tr>'


def _done_row(number: int, row: Row, columns: Sequence[_Column]) -> str:
    """Return the row of a field with a plan: its number on the map, and that of the plan."""
    name = escape(f"{number}. {row['name'] or row['field']}")
    plan = f'<div class="plan">plan {short_id(row["plan_id"])}</div>' if row["plan_id"] else ""
    link = f'<th scope="row"><a href="{escape(_href(row))}">{name}</a>{plan}</th>'
    return f"<tr>{link}{''.join(column.cell(row) for column in columns)}</tr>"


def _worked(row: Row) -> str:
    if not _mostly_lifted(row):
        return _number(row["worked_ha"], 1)
    return f'<td class="n">{_lifted_words(row, "<br>")}</td>'


def _lifted_words(row: Row, between: str) -> str:
    """Return how little of a field that is mostly lifted is worked."""
    some = row["worked_ha"] > 0
    return f"{row['worked_ha']:.2f}{between}mostly lifted" if some else "none"


def _mean(row: Row) -> str:
    return _number(row["mean_depth_cm"], 1) if row["worked_ha"] != 0 else '<td class="n">none</td>'


def _depths(row: Row) -> str:
    """Return the working depths, and whether they are those of an assumed machine."""
    told = str(row["depths"]).split("; ")
    depths = ", ".join("lifted" if depth == "0" else depth for depth in told)
    return f"{depths} (machine ASSUMED)" if "assumed-machine" in caution_codes(row) else depths


def _number(value: float | None, places: int) -> str:
    told = f"{value:.{places}f}" if value is not None and known(value) else UNKNOWN
    return f'<td class="n">{told}</td>'
