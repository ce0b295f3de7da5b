"""The tables of the page of a check, and what a table of before and after holds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import Any

import numpy as np
import pandas as pd

from zoning.model.check import Check, majority
from zoning.model.names import by_name, in_numbers
from zoning.outputs.check import words
from zoning.outputs.check.rows import dig_records
from zoning.units import as_number, off_half, tenths

Row = Sequence[str]
SHORT = 12
PAIRS = ("zone", "before", "after", "apart", "dug")
ZONES = ("zone", "before", "after")
STATIONS = ("station", "shows", "before", "after", "pan base", "zone", "planned", "date")
_CONE = "resistance_mpa"


def table(head: Row, body: Sequence[Row], *, wide: bool = True) -> str:
    """Return a table that scrolls sideways where the page is narrow; one not `wide` fits it."""
    titles = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in head)
    rows = "".join("<tr>" + "".join(_cell(cell) for cell in row) + "</tr>" for row in body)
    more = '<p class="more" aria-hidden="true">More columns to the right &rarr;</p>' if wide else ""
    return (
        f'{more}<div class="scroll" tabindex="0" role="group" aria-label="Table, scrolls sideways">'
        f"<table><thead><tr>{titles}</tr></thead><tbody>{rows}</tbody></table></div>"
    )


def _cell(words: str) -> str:
    """Return a cell; one of few letters a line is not broken, however narrow the page."""
    kind = ' class="short"' if max(map(len, words.split("\n"))) <= SHORT else ""
    return f"<td{kind}>{escape(words)}</td>"


def cm(value: object) -> str:
    """Return a length in words, blank where it is not known."""
    number = as_number(value)
    return f"{tenths(number)} cm" if np.isfinite(number) else ""


def area_words(area_ha: float) -> str:
    """Return an area in words; none that there is shows as nothing."""
    return f"{area_ha:.2f}" if area_ha >= 0.005 or area_ha <= 0 else "< 0.01"


def planned(depth_cm: float) -> str:
    """Return a planned depth in words."""
    return f"{depth_cm:g} cm" if depth_cm > 0 else "lifted out"


def zone_words(check: Check, zone: Mapping[Any, Any]) -> str:
    """Return the verdict on a row of `Check.zones` in words, behind what asks to stop there."""
    so_far = str(zone["so_far"]) if majority(zone) else ""
    told = words.verdict_words(str(zone["verdict"]), so_far, pits=int(zone["pits"]))
    return f"STOP; {told}" if zone["zone"] in stopped_zones(check) else told


def stopped_zones(check: Check) -> set[int]:
    """Return the zones of the pits that ask to stop."""
    asked = check.advice.loc[check.advice["step"] == "stop", "zones"]
    return {zone for zones in asked for zone in zones}


def compared_tables(check: Check) -> str:
    """Return what was found before and after: place by place, zone by zone, and cone stations."""
    told = (
        ("At one place", PAIRS, list(_place_rows(check.pairs))),
        ("Where no two were at one place: by zone", ZONES, list(_zone_rows(check.pairs))),
        ("Cone stations after the work", STATIONS, list(_station_rows(check))),
    )
    parts = [
        f"<h3>{name}</h3>{table(head, body, wide=head != ZONES)}"
        for name, head, body in told
        if body
    ]
    return f'<div class="pairs">{"".join(parts)}</div>' if parts else ""


def _place_rows(pairs: pd.DataFrame) -> Iterator[Row]:
    """Yield the pits that were dug at one place."""
    for facts in _grouped(pairs[pairs["what"] != _CONE], "place"):
        first = facts.iloc[0]
        days = (str(first["date_before"]), str(first["date_after"]))
        yield (
            str(first["zone"]),
            _found(facts, "before"),
            _found(facts, "after"),
            f"{first['apart_m']:.0f} m",
            " and ".join(day or "day not noted" for day in days),
        )


def _zone_rows(pairs: pd.DataFrame) -> Iterator[Row]:
    """Yield the zones with both that have no two of the kind at one place."""
    placed = pairs[pairs["by"] == "place"]
    there = {
        (zone, what == _CONE) for zone, what in zip(placed["zone"], placed["what"], strict=True)
    }
    for facts in _grouped(pairs, "zone"):
        zone = facts["zone"].iloc[0]
        if (zone, facts["what"].iloc[0] == _CONE) not in there:
            yield str(zone), _found(facts, "before"), _found(facts, "after")


def _grouped(pairs: pd.DataFrame, by: str) -> Iterator[pd.DataFrame]:
    """Yield what was measured of each pair of pits or stations, by zone and name."""
    own = pairs[pairs["by"] == by]
    keys = [own["zone"], own["what"] == _CONE]
    # The pits of a zone that give a score may be others than those that note a pan.
    names = [own["name_before"], own["name_after"]] if by == "place" else []
    for _, facts in own.groupby([*keys, *names], sort=True):
        yield facts


def _found(facts: pd.DataFrame, when: str) -> str:
    """Return who was dug or probed and what was found there, in words."""
    told = {name for names in facts[f"name_{when}"] for name in str(names).split("; ")}
    names = sorted(told, key=in_numbers)
    values = dict(zip(facts["what"], facts[when], strict=True))
    return f"{', '.join(names)}: {', '.join(_values(values, len(names)))}"


def _values(values: Mapping[Any, float], count: int) -> Iterator[str]:
    mean = "mean " if count > 1 else ""
    if (pan := values.get("pan")) is not None:
        yield {0.0: "no pan", 1.0: "pan"}.get(pan, f"pan in {off_half(100 * pan, 0):.0f} %")
    if thick := values.get("pan_thickness_cm"):
        yield f"{mean}{tenths(thick)} cm thick"
    if (score := values.get("structure_score")) is not None:
        yield f"{mean}score {score:.3g}"
    if (cone := values.get(_CONE)) is not None:
        yield f"{mean}{cone:.2f} MPa"


def _station_rows(check: Check) -> Iterator[Row]:
    """Yield the cone stations with the resistance of the worked layer, before beside after."""
    pairs = check.pairs[(check.pairs["by"] == "place") & (check.pairs["what"] == _CONE)]
    facts = zip(pairs["name_before"], pairs["before"], strict=True)
    then = dict(zip(pairs["name_after"], (f"{n}: {v:.2f} MPa" for n, v in facts), strict=True))
    for row in by_name(pd.DataFrame(check.probes), "station").to_dict("records"):
        mpa = float(row["resistance_mpa"])
        yield (
            str(row["station"]),
            "no pan" if row["verdict"] == "no_pan" else str(row["verdict"]).replace("_", " "),
            then.get(row["station"], ""),
            f"{mpa:.2f} MPa" if np.isfinite(mpa) else "",
            cm(row["pan_base_cm"]),
            str(row["zone"]),
            planned(row["depth_cm"]),
            str(row["date"]),
        )


def dig_section(check: Check) -> str:
    """Return the places to dig next, what to mind there first.

    Where no place bears a chance there is no column of it.
    """
    meant = words.chance_words(check)
    head = ("no.", "zone", "depth", *(["likely passed"] if meant else []), "lon, lat", "why")
    body = [
        (
            str(row["order"]),
            str(row["zone"]),
            f"{row['depth_cm']:g} cm{' NC' if not_cleared else ''}",
            *([words.likely_words(float(chance))] if meant else []),
            f"{row['lon']:.6f}\n{row['lat']:.6f}",
            row["reason"],
        )
        for row, chance, not_cleared in zip(
            dig_records(check),
            check.dig_next["chance_between"],
            words.dig_not_cleared(check),
            strict=True,
        )
    ]
    notes = "".join(f"<p>{escape(n.text)}</p>" for n in check.notices if n.code in words.DIG)
    if not body:
        return notes or "<p>No further pit is asked for.</p>"
    told = (words.hand_words(check), meant)
    lead = "".join(f"<p>{escape(one)}</p>" for one in told if one)
    return f"{lead}{table(head, body)}{notes}<p>{escape(words.NO_FAIR_SAMPLE)}</p>"
